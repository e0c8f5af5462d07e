"""The catalogue of findings: every fault has a measure and texts; bands, severity, profiles; worked values of its formulas."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.marker_errors import marker_errors
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.findings.catalogue import catalogue, load_profile, profile_names
from in_the_round.analysis_core.findings.causes import edges
from in_the_round.analysis_core.findings.find import MEASURES
from in_the_round.analysis_core.findings.judging import severity_of
from in_the_round.analysis_core.findings.measure_jumps import margin_of_stability
from in_the_round.analysis_core.findings.measure_time_and_balance import sway_area_cm2

#: Names of the catalogue's section 5, typed from its overview.
FAULTS = [
    "heel-lifts-early",
    "foot-slips-parallel",
    "turnout-lost-supporting",
    "turnout-lost-working",
    "turnout-lost-finish",
    "axis-tilts",
    "turn-travels",
    "turn-hops",
    "late-spot",
    "arms-drop",
    "turn-angle-off",
    "low-retire",
    "low-releve",
    "shoulders-lead",
    "trunk-leans",
    "side-bends",
    "ribs-flare",
    "back-arches",
    "pelvis-tucks",
    "shoulders-lift",
    "head-lifts",
    "hip-hikes",
    "knee-hyperextends",
    "knee-inside-toes",
    "foot-forces-turnout",
    "foot-sickles",
    "foot-wings",
    "knee-bends-working",
    "knee-bends-supporting",
    "uneven-height",
    "uneven-plie",
    "heels-lift-in-plie",
    "shallow-plie",
    "heavy-landing",
    "stiff-landing",
    "uneven-landing",
    "heels-miss-floor",
    "rushed-take-off",
    "low-jump",
    "feet-not-pointed",
    "turnout-lost-in-air",
    "landing-off-axis",
    "off-the-count",
    "balance-sways",
    "balance-hops",
    "balance-heel-sinks",
]


def test_the_catalogue_has_every_fault_with_a_measure_and_texts() -> None:
    assert sorted(catalogue()) == sorted(FAULTS) == sorted(MEASURES)
    assert len(FAULTS) == 46
    sides = {part.partition(".")[0] for part in SEGMENTS}
    for fault, entry in catalogue().items():
        assert set(entry.parts) <= sides, fault
        assert entry.measures, fault
        for limits in entry.measures.values():
            assert limits.sd > 0
            assert limits.fault[0] <= limits.ok[0] < limits.ok[1] <= limits.fault[1], fault
            assert limits.fault != limits.ok, fault
        assert entry.cue.endswith((".", "!"))
        assert entry.cue_young != entry.cue
        # Bands without a published norm must say so (catalogue 0.1).
        assert "proposed default" in entry.band_source, fault


def test_causes_name_faults_of_the_catalogue() -> None:
    for edge in edges():
        assert {edge.cause, edge.effect} <= set(FAULTS)
        assert edge.within in ("same", "next", "phrase", "event")
        assert edge.basis


FORBIDDEN = re.compile(r"injur|diagnos|predict|\brisk|damage|guarantee|treat(ment|s)?\b|\bheal(s|ed|ing)?\b", re.IGNORECASE)


def test_no_text_diagnoses_or_predicts() -> None:
    """Cautions defer to licensed professionals; no text speaks of injury, diagnosis or risk (catalogue 0.2, 10.6)."""
    folder = Path(__file__).resolve().parents[2] / "analysis_core" / "findings"
    for path in (*folder.glob("*.toml"), *folder.glob("profiles/*.toml")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            assert not FORBIDDEN.search(line), f"{path.name}:{number}: {line}"
    for entry in catalogue().values():
        if entry.caution and re.search("pain|pinch|swell", entry.caution, re.IGNORECASE):
            assert re.search("licensed health professional|stop|fewer|medical|lower the leg", entry.caution), entry.fault


def test_extrapolated_centre_of_mass() -> None:
    """Catalogue section 11, row 24 (Hof 2005): COM .02 m, v .10 m/s, l .90 m → extrapolated .050289 m; outline 10 mm."""
    square = np.array([[-0.1, -0.1], [0.1, -0.1], [0.1, 0.1], [-0.1, 0.1]])
    inside = margin_of_stability(np.array([0.02, 0.0]), np.array([0.10, 0.0]), 0.90, square)
    assert inside == pytest.approx(0.1 - 0.050289 + 0.010, abs=1e-5)
    outside_edge = margin_of_stability(np.array([0.15, 0.0]), np.zeros(2), 0.90, square)
    assert outside_edge == pytest.approx(0.010 - 0.05, abs=1e-9)


def test_sway_area_of_a_known_normal_distribution() -> None:
    """π·χ²(0.95, 2)·σ² for a round normal distribution (catalogue, sway): 18.82 σ²."""
    path = np.random.default_rng(1).normal(scale=0.01, size=(200_000, 2))
    assert sway_area_cm2(path) == pytest.approx(18.8, rel=0.01)


def test_severity_means_the_same_for_all() -> None:
    for entry in catalogue().values():
        for limits in entry.measures.values():
            middle = np.clip(0.5, *limits.ok) if np.isfinite(limits.ok).all() else next(b for b in limits.ok if np.isfinite(b))
            assert severity_of(float(middle), limits) == 0.0
            for side in (0, 1):
                if limits.fault[side] != limits.ok[side]:
                    assert severity_of(limits.fault[side], limits) == pytest.approx(0.5)
                    assert severity_of(3 * limits.fault[side] - 2 * limits.ok[side], limits) == 1.0


def test_whatever_stands_differently_is_in_the_table_of_errors() -> None:
    stances = {limits.stance for entry in catalogue().values() for limits in entry.measures.values()} - {None}
    assert stances == set(marker_errors().stance_deg)


def test_profiles() -> None:
    assert set(profile_names()) == {"young beginner", "older beginner", "intermediate", "advanced", "free style"}
    young, advanced = load_profile("young beginner"), load_profile("advanced")
    tilt = [p.entries["axis-tilts"].measures["tilt"].ok[1] for p in (young, advanced)]
    assert tilt[0] > 3.0 > tilt[1]
    assert young.cue("axis-tilts") != advanced.cue("axis-tilts")
    # A share that is asked for falls for beginners, and does not fall below nothing.
    share = [p.entries["low-releve"].measures["share"].ok[0] for p in (young, advanced)]
    assert 0 < share[0] < 0.9 < share[1] < 1
    assert "trunk-leans" in load_profile("free style").off
    with pytest.raises(OptionError, match=r"no level 'expert'.*intermediate"):
        load_profile("expert")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[own]\ndemi_plie = [1.0, 2.0]", "no range demi_plie"),
        ("[own]\ndemi_plie_deg = [60.0]", "two numbers above 0"),
        ("off = ['axis-tilt']", "no fault axis-tilt"),
        ("[bands.axis-tilts.lean]\nok = [0.0, 1.0]", "no measure lean"),
        ("[bands.axis-tilts.tilt]\nok = [3.0, 1.0]", "two numbers"),
        ("[bands.axis-tilts.tilt]\nok = [0.0, 9.0]", "must lie inside"),
        ("tolerance = 'wide'", "tolerance must be"),
        ("name = ", "cannot be read"),
    ],
)
def test_a_wrong_profile_is_refused_in_words(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(OptionError, match=message):
        load_profile(str(path))
