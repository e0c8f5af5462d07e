"""What pictures and words of a review are looked at for, in one Blender: each start of it would cost most of a second.

Started by conftest.looked_at, never collected by pytest. Arguments: folder of the review, folder to work in and to write into:
render_twice.json and words_in_pictures.json.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import render_twice
import words_in_pictures
from in_the_round.analysis_core.review import read_review


def main(reviewed: str, folder: Path) -> None:
    """Both, one after the other."""
    review = read_review(Path(reviewed))
    for script, told in ((render_twice, render_twice.told(review, folder)), (words_in_pictures, words_in_pictures.told(review))):
        (folder / f"{script.__name__}.json").write_text(json.dumps(told), encoding="utf-8")
    sys.stdout.flush()
    os._exit(0)  # Blender's module can hang at the end


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
