"""The film or the student's page of one or two reviews, made in a process of its own (worker.py)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from .analysis_core.film.wish import wish_from_json
from .analysis_core.review import Review, read_review
from .analysis_core.wording import doing
from .scene import film_output, page_pictures

Say = Callable[..., None]


def make_film(job: dict[str, Any], say: Say, reviews: list[Review]) -> None:
    """Render the film."""
    film_output.render(
        reviews,
        Path(job["file"]),
        wish_from_json(job["wish"]),
        progress=lambda share: say(stage=doing.RENDERING, share=share),
    )


def make_page(job: dict[str, Any], say: Say, reviews: list[Review]) -> None:
    """Render the pictures and write the page; say what is on it."""
    told = page_pictures.make_page(
        reviews,
        Path(job["file"]),
        name=job["student"],
        film=Path(job["with_film"]) if job["with_film"] else None,
        look=job["figure"],
        progress=lambda share: say(stage=doing.RENDERING_PICTURES, share=share),
    )
    say(result=told)


MAKE = {"film": make_film, "page": make_page}


def make(job: dict[str, Any], say: Say) -> None:
    """Make what is asked for."""
    MAKE[job["make"]](job, say, [read_review(Path(folder)) for folder in job["folders"]])
