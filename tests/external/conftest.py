"""Open recordings are analysed once in a run, whichever tests ask for them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


@pytest.fixture(scope="session")
def analysed(review_once: Callable[[str, Callable[[], Review]], Review]) -> Callable[..., Review]:
    """A function ``analysed(name, static=None, **settings)``: the review of an open recording. Nobody changes it."""

    def review(name: str, static: str | None = None, **settings: str) -> Review:
        if not (DATA / name).is_file():
            pytest.skip(f"the open recording {name} is not here (../shared/data)")
        asked = Settings(static=None if static is None else DATA / static, **settings)
        words = [Path(name).stem, *([] if static is None else [Path(static).stem]), *settings.values()]
        return review_once(" ".join(["open", Path(name).parts[0], *words]), lambda: analyse(DATA / name, asked))

    return review
