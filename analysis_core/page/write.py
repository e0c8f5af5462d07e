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
from ..wording import names, numbers, page_labels
from ..wording import page as words
from ..write.files import whole_file
from .dancer import glb_for, scene_for
from .film import size_of
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
#: Folders of pictures, as fields of Pictures.
KINDS = ("now", "before", "sheets")


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


def _shape_of(film: bytes | None) -> str:
    """The rule that keeps a film's place in its own shape before it is loaded, whatever picture stands there for it."""
    size = None if film is None else size_of(film)
    return "" if size is None else f".film video {{ aspect-ratio: {round(size[0])} / {round(size[1])}; }}\n"


def render(story: Story, pictures: Pictures, film: bytes | None, *, look: str = DEFAULT_LOOK) -> tuple[str, bool]:
    """The text of the page, and whether the 3-D dancer is in it."""
    from markupsafe import Markup

    script = _script()
    style = (_HERE / "templates" / "page.css").read_text(encoding="utf-8") + _shape_of(film)
    dancer = base64.b64encode(zlib.compress(glb_for(story, look), 9)).decode("ascii") if script else ""
    urls = {
        kind: {name: Markup(_data_url(data, "image/webp")) for name, data in getattr(pictures, kind).items()} for kind in KINDS
    }
    text = (
        _environment()
        .get_template("page.html")
        .render(
            words=page_labels,
            names=names,
            story=story,
            cards=story.cards,
            heading=words.heading(len(story.cards), untold=bool(story.untold)),
            lead=words.lead(len(story.cards), untold=bool(story.untold), well=bool(story.well)),
            pictures=urls,
            film=Markup(_data_url(film, "video/mp4")) if film else "",
            policy=Markup(policy(style, script)),
            style=Markup(style),
            script=Markup(script),
            scene=_json(scene_for(story, look)) if script else "",
            dancer=dancer,
            teacher=[_teacher(card) for card in story.cards if not card.thing.own],
            quality=story.review.quality,
            safety=words.SAFETY,
            sheet=(VIEWS * VIEW_SIZE[0], VIEW_SIZE[1]),
        )
    )
    return text, bool(script)


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
