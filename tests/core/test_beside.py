"""Music and film of a take are remembered beside it, found again after a move, and a damaged memory is told in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import ReviewError
from in_the_round.analysis_core.views.beside import BESIDE_FILE, Beside, Clip, read_beside, write_beside


def test_what_plays_beside_is_read_back_and_moves_with_the_folder(tmp_path: Path) -> None:
    folder = tmp_path / "class" / "take review"
    folder.mkdir(parents=True)
    assert read_beside(folder) == Beside()
    song = Clip(tmp_path / "class" / "valse, 3/4.wav", 1.25)
    write_beside(folder, Beside(music=song))
    assert read_beside(folder) == Beside(music=song)
    (tmp_path / "class").rename(tmp_path / "moved")
    moved = read_beside(tmp_path / "moved" / "take review")
    assert moved == Beside(music=Clip(tmp_path / "moved" / "valse, 3/4.wav", 1.25))


def test_nothing_beside_leaves_no_file(tmp_path: Path) -> None:
    write_beside(tmp_path, Beside(film=Clip(tmp_path / "phone.mp4", -0.5)))
    write_beside(tmp_path, Beside())
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": "in-the-round/beside", "version": 1, "music": 3, "film": null}'])
def test_a_damaged_memory_is_told(tmp_path: Path, text: str) -> None:
    (tmp_path / BESIDE_FILE).write_text(text, encoding="utf-8")
    with pytest.raises(ReviewError, match="choose music and film again"):
        read_beside(tmp_path)


def test_a_newer_memory_is_told(tmp_path: Path) -> None:
    text = '{"format": "in-the-round/beside", "version": 2, "music": null, "film": null}'
    (tmp_path / BESIDE_FILE).write_text(text, encoding="utf-8")
    with pytest.raises(ReviewError, match="newer version"):
        read_beside(tmp_path)
