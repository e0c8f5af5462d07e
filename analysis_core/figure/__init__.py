"""The dancer as geometry: proportions, skin, motion, levels of severity, palette. Plain arrays, never Blender."""
