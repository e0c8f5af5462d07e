"""The formats of a hand-over, by the words that people ask for them with."""

FORMATS = ("c3d", "bvh", "fbx", "glb", "usd", "usdz", "blend")
#: Endings of formats that are not called by their ending.
ENDINGS = {"usd": "usdc"}
