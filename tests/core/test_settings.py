"""Settings are declared once: options, keys of archive.toml and plain data come from that declaration."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, fields, replace
from importlib.util import find_spec, module_from_spec
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core import settings
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.archive.scan import scan
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.settings import AUTO, SETTINGS, Setting, Settings, settings_from_json, settings_to_json
from in_the_round.command_line.options import add_settings, settings_from
from in_the_round.simulated_dancer import demo_phrase, simulate

#: One value of each setting other than its default: as it is typed, as it stands in archive.toml, and as the core has it.
SAID: dict[str, tuple[str, str, Any]] = {
    "static": ("s.c3d", '"s.c3d"', Path("s.c3d")),
    "level": ("advanced", '"advanced"', "advanced"),
    "tempo": ("112.5", "112.5", 112.5),
    "offset": ("-0.4", "-0.4", -0.4),
    "landmarks": ("l.toml", '"l.toml"', Path("l.toml")),
    "up": ("-y", '"-y"', "-y"),
    "rate": ("119.88", "119.88", 119.88),
    "unit": ("in", '"in"', "in"),
    "person": ("2", '"2"', "2"),
}


def test_every_setting_is_declared_once() -> None:
    """Would catch a field of Settings that nobody can set, and two options of one name. SAID has a value for each."""
    assert [setting.field for setting in SETTINGS] == sorted((s.field for s in SETTINGS), key=[s.field for s in SETTINGS].index)
    assert {setting.field for setting in SETTINGS} == {field.name for field in fields(Settings)}
    assert len({setting.name for setting in SETTINGS}) == len(SETTINGS)
    assert set(SAID) == {setting.name for setting in SETTINGS}


@pytest.mark.parametrize("name", SAID)
def test_what_is_typed_reaches_the_core(name: str) -> None:
    parser = argparse.ArgumentParser()
    add_settings(parser)
    typed, _, wanted = SAID[name]
    field = next(setting.field for setting in SETTINGS if setting.name == name)
    assert settings_from(parser.parse_args([f"--{name}={typed}"])) == replace(Settings(), **{field: wanted})
    assert settings_from(parser.parse_args([])) == Settings()


def test_what_is_written_in_a_folder_reaches_the_core(tmp_path: Path) -> None:
    (tmp_path / "archive.toml").write_text("".join(f"{name} = {said[1]}\n" for name, said in SAID.items()), encoding="utf-8")
    (tmp_path / "take.c3d").write_bytes(b"")
    (found,) = scan(tmp_path, tmp_path / "out", Settings()).takes
    for setting in SETTINGS:
        wanted = SAID[setting.name][2]
        assert getattr(found.settings, setting.field) == ((tmp_path / wanted).absolute() if isinstance(wanted, Path) else wanted)


def test_a_number_may_be_the_word_auto_only_where_it_can_be_proposed(tmp_path: Path) -> None:
    (tmp_path / "take.c3d").write_bytes(b"")
    (tmp_path / "archive.toml").write_text('tempo = "auto"\n', encoding="utf-8")
    (found,) = scan(tmp_path, tmp_path / "out", Settings()).takes
    assert found.settings.tempo_bpm == AUTO
    (tmp_path / "archive.toml").write_text('rate = "auto"\n', encoding="utf-8")
    with pytest.raises(OptionError, match="rate"):
        scan(tmp_path, tmp_path / "out", Settings())


def test_settings_go_to_another_process_and_back() -> None:
    said = Settings(**{setting.field: SAID[setting.name][2] for setting in SETTINGS})
    assert settings_from_json(settings_to_json(said)) == said
    assert settings_from_json(settings_to_json(Settings(tempo_bpm=AUTO))).tempo_bpm == AUTO


def test_one_more_setting_needs_nothing_but_its_declaration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A field and its line beside it are all: modules that are loaded after it ask for it. In Blender: checks_in_blender.py."""

    @dataclass(frozen=True)
    class More(Settings):
        slow: float | None = None

    monkeypatch.setattr(settings, "Settings", More)
    monkeypatch.setattr(settings, "SETTINGS", (*SETTINGS, Setting("slow", "slow", "number", "music", "Slow", "how slow")))

    def loaded_after(name: str) -> ModuleType:
        spec = find_spec(f"in_the_round.{name}")
        assert spec is not None
        assert spec.loader is not None
        module = module_from_spec(spec)
        spec.loader.exec_module(module)
        return module

    options, folder = loaded_after("command_line.options"), loaded_after("analysis_core.archive.scan")
    parser = argparse.ArgumentParser()
    options.add_settings(parser)
    assert options.settings_from(parser.parse_args(["--slow=3"])) == More(slow=3.0)
    (tmp_path / "archive.toml").write_text("slow = 3\n", encoding="utf-8")
    (tmp_path / "take.c3d").write_bytes(b"")
    (found,) = folder.scan(tmp_path, tmp_path / "out", More()).takes
    assert found.settings.slow == 3.0
    assert settings_from_json(settings_to_json(More(slow=3.0))) == More(slow=3.0)


def test_a_tempo_is_proposed_and_no_timing_is_judged_by_it() -> None:
    """A phrase danced to 120 beats: the proposal is that, its half or its double (nobody has heard the music), with its ±; bars
    and counts are told, yet nothing is early or late by a beat that the dancer made. Would catch a circle in the judgement."""
    danced = simulate(demo_phrase(), tempo_bpm=120.0, rate_hz=60.0, seed=1)
    review = analyse_take(danced.take, Settings(tempo_bpm=AUTO), danced.static_take)
    (told,) = [item for item in review.take.inferred if item.what == "tempo"]
    tempo = float(told.value.split()[0])
    octaves = np.log2(tempo / 120.0)
    assert abs(octaves - round(octaves)) < 0.03, told.value
    assert "±" in told.value
    assert "Nobody has heard the music" in told.why
    assert any(phase.music is not None for phase in review.phrase.phases)
    assert [finding.fault for finding in review.findings if finding.fault == "off-the-count"] == []
