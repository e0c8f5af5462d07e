"""In the Round: reviews a captured dance phrase and shows the corrections in Blender."""
