"""What our bones are called on other rigs, and the file beside the hand-over that says so."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Collection, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from ..body.anatomy import ARM_SEGMENTS, LEG_SEGMENTS, SIDE_SUFFIXES
from ..body.movement import SEGMENTS
from ..errors import OptionError
from ..wording.hand_over import HOW_TO_USE_NAMES
from ..write.files import whole_file
from .formats import BONE_NAMES_FILE
from .rig import Rig

#: Without these bones there is no body to move.
_NEEDED = ("pelvis", *(name + side for side in SIDE_SUFFIXES for name in (*LEG_SEGMENTS[:3], *ARM_SEGMENTS[:2])))


@cache
def known_names() -> dict[str, dict[str, str]]:
    """Kinds of rig -> our bone names -> theirs: ``humanoid`` (the open VRM 1.0 specification), ``meta_rig`` (Blender's own)."""
    tables = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return {kind: {name: table[name] for name in SEGMENTS} for kind, table in tables.items()}


def write_bone_names(rig: Rig, path: Path, *, overwrite: bool = False) -> None:
    """Write the map: one entry for every bone with its parent and its names elsewhere, and room for the names of the user's rig.

    Raises OutputError when the file is there or cannot be written.
    """
    bones = []
    for index, name in enumerate(rig.names):
        parent = int(rig.parents[index])
        elsewhere = {kind: names.get(name) for kind, names in known_names().items()}
        usd = name.replace(".", "_")
        bones.append({"name": name, "parent": rig.names[parent] if parent >= 0 else None, **elsewhere, "usd": usd, "yours": None})
    document = {"format": "in-the-round/bone-names", "version": 1, "rest_pose": rig.pose, "how": HOW_TO_USE_NAMES, "bones": bones}
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_text(json.dumps(document, ensure_ascii=False, indent=1), encoding="utf-8")


def read_bone_names(path: Path) -> dict[str, str]:
    """Our bone names -> the names that a user wrote under "yours". Raises OptionError when the file is none, or names no bone."""
    try:
        document: Any = json.loads(path.read_text(encoding="utf-8"))
        bones = document["bones"]
        names = {str(bone["name"]): str(bone["yours"]) for bone in bones if bone.get("yours")}
    except OSError as error:
        raise OptionError(f"{path} cannot be read: {error.strerror}. Choose the {BONE_NAMES_FILE} of a hand-over.") from error
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise OptionError(f"{path} is no map of bone names. Choose the {BONE_NAMES_FILE} of a hand-over.") from error
    if not names:
        raise OptionError(f"{path} names no bone of your rig: write its names under 'yours', one beside each of ours.")
    return names


def match(available: Collection[str], given: Mapping[str, str] | None = None) -> dict[str, str]:
    """Our bone names -> those of a rig: as given, or of the known kind that the rig agrees with most.

    available: the names of the rig's bones. Bones that the rig does not have are left out. Raises OptionError when a bone that
    no body can do without is missing.
    """
    own = {name: name for name in SEGMENTS}
    tables = [given] if given is not None else [*known_names().values(), own]
    found = max(({ours: theirs for ours, theirs in table.items() if theirs in available} for table in tables), key=len)
    missing = [name for name in _NEEDED if name not in found]
    if missing:
        raise OptionError(
            f"The rig has no bone that is known as {', '.join(missing[:3])}. Write the names of its bones under 'yours' in "
            f"the {BONE_NAMES_FILE} of the hand-over, and choose that file."
        )
    return found
