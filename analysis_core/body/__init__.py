"""From labels to a body: landmarks, joint centres, segment frames, angles, centre of mass, floor."""
