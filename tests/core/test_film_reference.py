"""The film of a phone in the film for the student: the frame of every picture, and what is remembered beside the take."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.errors import InTheRoundError
from in_the_round.analysis_core.film.reference import frames_at, with_remembered
from in_the_round.analysis_core.film.wish import Wish, wish_from_json
from in_the_round.analysis_core.views.beside import BESIDE_FILE, Beside, Clip, write_beside


def test_each_picture_shows_the_frame_of_its_moment() -> None:
    """By exact fractions, through a way in, a hold and slow motion; would catch a frame that runs on while the dancer stands."""
    at_s, rate_hz, count = Fraction(-3, 2), Fraction(30), 90
    moments = (
        [Fraction(n, 24) for n in range(60)] + [Fraction(59, 24)] * 12 + [Fraction(59, 24) + Fraction(n, 96) for n in range(300)]
    )
    wanted = [min(max((moment + at_s) * rate_hz // 1, 0), count - 1) for moment in moments]
    found = frames_at(np.array([float(moment) for moment in moments]), float(at_s), float(rate_hz), count)
    assert found.tolist() == wanted
    assert (found[0], found[35], found[36], found[-1]) == (0, 0, 0, 89)
    assert len(set(found[59:72].tolist())) == 1
    assert (found[70], found[72 + 40]) == (28, 41)


def test_what_is_remembered_is_used_where_nothing_else_is_named(tmp_path: Path) -> None:
    song, phone, other = (tmp_path / name for name in ("song.wav", "phone.mp4", "other.wav"))
    for file in (song, phone, other):
        file.write_bytes(b"")
    write_beside(tmp_path, Beside(Clip(song, 1.5), Clip(phone, -0.5)))
    wish, said = with_remembered(Wish(), tmp_path, 1)
    assert (wish.music, wish.music_offset, wish.reference, wish.reference_offset) == (str(song), 1.5, str(phone), -0.5)
    assert (wish.remembered, said) == (("music", "reference"), [])
    assert wish_from_json(wish.to_json()) == wish
    wish, said = with_remembered(Wish(music=str(other)), tmp_path, 2)
    assert (wish.music, wish.music_offset, wish.reference, wish.remembered) == (str(other), 0.0, "", ())
    assert ["one take only" in sentence for sentence in said] == [True]


def test_what_is_gone_or_damaged_is_said_and_the_film_goes_on(tmp_path: Path) -> None:
    write_beside(tmp_path, Beside(Clip(tmp_path / "song.wav"), Clip(tmp_path / "phone.mp4")))
    wish, said = with_remembered(Wish(), tmp_path, 1)
    assert wish == Wish()
    assert ["song.wav is not there" in said[0], "phone.mp4 is not there" in said[1]] == [True, True]
    (tmp_path / BESIDE_FILE).write_text("{", encoding="utf-8")
    wish, said = with_remembered(Wish(), tmp_path, 1)
    assert wish == Wish()
    assert "is damaged" in said[0]


def test_a_film_that_is_named_and_not_there_or_has_no_room_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InTheRoundError, match="is not there"):
        Wish(reference=str(tmp_path / "phone.mp4"))
    (tmp_path / "phone.mp4").write_bytes(b"")
    with pytest.raises(InTheRoundError, match="number of seconds"):
        Wish(reference=str(tmp_path / "phone.mp4"), reference_offset=float("nan"))
    with pytest.raises(InTheRoundError, match="one take only"):
        Wish(reference=str(tmp_path / "phone.mp4")).require_room(2)
