"""The files of a hand-over that need no Blender, each whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from ..wording import hand_over as words
from ..write.bvh import write_bvh
from ..write.fbx import write_fbx
from ..write.files import whole_file
from ..write.usd import write_usd
from ..write.usdz import pack_usdz
from .bone_names import write_bone_names
from .formats import BONE_NAMES_FILE, ENDINGS
from .give import HandOver, extras_of
from .glb import write_hand_over_glb


def paths_of(folder: Path, name: str, formats: tuple[str, ...]) -> dict[str, Path]:
    """Where the files of a hand-over go."""
    return {kind: folder / f"{name}.{ENDINGS.get(kind, kind)}" for kind in formats}


@contextmanager
def _usd(paths: dict[str, Path]) -> Iterator[tuple[Path, bool]]:
    """The USD file that is written, and whether it is asked for; a USDZ alone is packed from one that goes again."""
    if "usd" in paths:
        yield paths["usd"], True
        return
    with TemporaryDirectory() as folder:
        yield Path(folder) / paths["usdz"].with_suffix(".usdc").name, False


def write_own_files(given: HandOver, paths: dict[str, Path], say: Callable[[str, float], None], *, overwrite: bool) -> None:
    """Write BVH, glTF, FBX, USD and USDZ as far as they are in paths (format -> file), and the map of bone names.

    Raises OutputError when one is there or cannot be written.

    say: told what is being written and how far it is, 0 to 1.
    """
    extras = extras_of(given)
    for folder in {path.parent for path in paths.values()}:
        write_bone_names(given.rig, folder / BONE_NAMES_FILE, overwrite=overwrite)
    if "bvh" in paths:
        say(words.writing("BVH"), 0.0)
        write_bvh(given.rig, paths["bvh"], overwrite=overwrite)
    if "glb" in paths:
        say(words.writing("glTF"), 0.2)
        write_hand_over_glb(
            given.rig,
            given.body,
            given.pieces,
            extras,
            paths["glb"],
            reduced=given.reduced,
            loops=given.loop_clips,
            overwrite=overwrite,
        )
    if "fbx" in paths:
        say(words.writing("FBX"), 0.4)
        write_fbx(given.rig, given.body, extras, paths["fbx"], overwrite=overwrite)
    if "usd" in paths or "usdz" in paths:
        say(words.writing("USD"), 0.7)
        with _usd(paths) as (usd, asked):
            write_usd(given.rig, given.body, extras, usd, overwrite=overwrite and asked)
            if "usdz" in paths:
                with whole_file(paths["usdz"], overwrite=overwrite) as temporary:
                    pack_usdz(usd, temporary, name=usd.name)
