"""Measuring and judging a captured dance phrase: pure functions on arrays, no Blender, no printing."""
