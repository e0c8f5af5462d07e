"""What Blender is given: figure, colours, timeline, cameras, captions, stage, turntable."""
