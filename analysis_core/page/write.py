"""The page as one HTML file that fetches nothing: words, pictures, film and dancer inside, a policy that refuses all else."""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..figure.looks import DEFAULT_LOOK
from ..wording import findings as say
from ..wording import numbers
from ..write.files import whole_file
from .dancer import glb_for, scene_for
from .story import Card, Story

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

_HERE = Path(__file__).parent
#: The viewer as scripts/build_viewer.py leaves it; without it the page has everything but the 3-D dancer.
VIEWER = _HERE / "built" / "viewer.js"
#: Views of a sheet, one every 30°, and how large one is in pixels: as large as a page of 1.6 MB with three sheets allows.
VIEWS, VIEW_SIZE = 12, (414, 460)
#: A page larger than this does not pass the smallest common limits of mail (10 MB, and base64 adds a third).
LARGEST_BYTES = 7_000_000
MISSING_VIEWER = (
    "The page has no 3-D dancer: the viewer was not built. Run scripts/demo.py once, or: python3 scripts/build_viewer.py"
)
#: Folders of pictures, as fields of Pictures.
KINDS = ("now", "before", "sheets")
_COUNTED = ("Nothing", "One thing", "Two things", "Three things")
SAFETY = (
    "Pain, dizziness or a fall: stop, and tell your teacher. This page is a teaching aid, not a medical device, and it predicts "
    "no injury; for questions of health turn to a licensed health professional. Local rules come first."
)


@dataclass(frozen=True)
class Pictures:
    """WebP pictures by id of the correction: now and before, the measure drawn on, and sheets of VIEWS views side by side."""

    now: Mapping[str, bytes] = field(default_factory=dict)
    before: Mapping[str, bytes] = field(default_factory=dict)
    sheets: Mapping[str, bytes] = field(default_factory=dict)

    @classmethod
    def from_folder(cls, folder: Path) -> Pictures:
        """What Blender rendered into a folder: now/ID.webp, before/ID.webp, sheets/ID.webp."""
        return cls(*({path.stem: path.read_bytes() for path in (folder / kind).glob("*.webp")} for kind in KINDS))

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.now) + len(self.before) + len(self.sheets)


def _data_url(data: bytes, kind: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"


@cache
def _environment() -> Environment:
    # Imported here: only the page and the lesson need a template engine.
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


def policy(style: str, script: str) -> str:
    """What the browser may do with the page: show what is in it, run its one script, fetch nothing, send nothing."""
    parts = [
        "default-src 'none'",
        f"script-src {_hash(script)}" if script else "script-src 'none'",
        f"style-src {_hash(style)}",
        "img-src data: blob:",
        "media-src data:",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    return "; ".join(parts)


def _json(data: dict[str, Any]) -> Markup:
    """Data for a script element: nothing in it can end the element."""
    from markupsafe import Markup

    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


def _heading(story: Story) -> str:
    cards = len(story.cards)
    if not cards and story.untold:
        return "Your dance, from all sides"
    return f"{_COUNTED[cards]} to {'work on' if cards else 'correct today'}"


def _lead(story: Story) -> str:
    """What stands below the heading; empty where one thing to work on says it all."""
    if not story.cards and story.untold:
        return "This recording shows too little to say what to work on. Turn it, and look for yourself."
    if not story.cards:
        return "Enjoy it, and look at what went well." if story.well else "Enjoy it, and look at it from all sides."
    others = {1: "", 2: "the other often follows by itself"}.get(len(story.cards), "the others often follow by themselves")
    return others and f"One at a time. Begin with 1: {others}."


def _teacher(card: Card) -> dict[str, str]:
    """A row of the teacher's table."""
    finding = card.thing.finding
    return {
        "title": say.title(finding),
        "says": finding.says,
        "value": numbers.together(say.value(finding)),
        "band": numbers.together(numbers.band(*finding.band, finding.unit)),
        "source": finding.band_source,
        "confidence": finding.confidence,
        "often": card.how_often,
    }


def _script() -> str:
    return VIEWER.read_text(encoding="utf-8") if VIEWER.is_file() else ""


def render(story: Story, pictures: Pictures, film: bytes | None, *, look: str = DEFAULT_LOOK) -> tuple[str, bool]:
    """The text of the page, and whether the 3-D dancer is in it."""
    from markupsafe import Markup

    script = _script()
    style = (_HERE / "templates" / "page.css").read_text(encoding="utf-8")
    dancer = base64.b64encode(zlib.compress(glb_for(story, look), 9)).decode("ascii") if script else ""
    urls = {
        kind: {name: Markup(_data_url(data, "image/webp")) for name, data in getattr(pictures, kind).items()} for kind in KINDS
    }
    text = (
        _environment()
        .get_template("page.html")
        .render(
            story=story,
            cards=story.cards,
            heading=_heading(story),
            lead=_lead(story),
            pictures=urls,
            film=Markup(_data_url(film, "video/mp4")) if film else "",
            policy=Markup(policy(style, script)),
            style=Markup(style),
            script=Markup(script),
            scene=_json(scene_for(story, look)) if script else "",
            dancer=dancer,
            teacher=[_teacher(card) for card in story.cards if not card.thing.own],
            quality=story.review.quality,
            safety=SAFETY,
            sheet=(VIEWS * VIEW_SIZE[0], VIEW_SIZE[1]),
        )
    )
    return text, bool(script)


def in_words(told: dict[str, Any]) -> str:
    """What write_page told of a page, for people."""
    cards = int(told["corrections"])
    # Without one, whether nothing was found or nothing could be judged is for the page to say.
    said = f"{_COUNTED[cards].lower()} to work on" if cards else "no correction"
    has = [
        f"{told['pictures']} picture{'' if told['pictures'] == 1 else 's'}",
        *(["the film"] if told["film"] else []),
        *(["the 3-D dancer"] if told["dancer"] else []),
    ]
    return f"{told['file']}: {numbers.megabytes(told['bytes'])}, {said}; {', '.join(has)}"


def write_page(
    story: Story,
    path: Path,
    pictures: Pictures,
    film: bytes | None = None,
    *,
    look: str = DEFAULT_LOOK,
    overwrite: bool = False,
) -> dict[str, Any]:
    """Write the page; return what the contract tells of it. Raises OutputError when it cannot be written, or is there already."""
    text, dancer = render(story, pictures, film, look=look)
    data = text.encode("utf-8", "replace")
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_bytes(data)
    return {
        "file": str(path),
        "bytes": len(data),
        "corrections": len(story.cards),
        "pictures": pictures.count,
        "film": film is not None,
        "dancer": dancer,
    }
