"""The animator's hand-over: a skeleton of constant lengths with feet that hold, ready for every file format. Plain arrays."""
