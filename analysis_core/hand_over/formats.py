"""The formats of a hand-over, by the words that people ask for them with, and what lies beside them."""

FORMATS = ("c3d", "bvh", "fbx", "glb", "usd", "usdz", "blend")
#: These are written with what Blender brings; all others by bare Python.
WITH_BLENDER = frozenset({"usd", "usdz", "blend"})
#: Endings of formats that are not called by their ending.
ENDINGS = {"usd": "usdc"}
#: The file of names beside a hand-over.
BONE_NAMES_FILE = "bone_names.json"
#: What lies beside the files of every hand-over.
BESIDE = (BONE_NAMES_FILE, "note.html", "note.json")
