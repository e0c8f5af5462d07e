"""The film for the student: what every picture shows, what is heard, and which pictures are there already. No Blender here."""
