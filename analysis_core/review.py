"""The Review: one frozen value, and its form on disk (review.json and movement.npz)."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .body.angles import angle_trust
from .body.movement import ANGLES, JOINTS, SEGMENTS, Movement, Standing
from .clean.quality import MarkerQuality, Quality
from .decisions import Decisions, apply, as_analysed, chains, decisions_from_json, decisions_to_json, match
from .errors import ReviewError
from .findings.corrections import corrections, link_counts
from .findings.finding import Finding, Unsure, View
from .findings.load import jump_load
from .phrase.phase import Contact, Phase, Phrase
from .take import CleaningEvent, Inference, Kind
from .units import degrees, millimetres
from .write.files import whole_file

FORMAT = "in-the-round/review"
VERSION = 1
REVIEW_FILE = "review.json"
MOVEMENT_FILE = "movement.npz"

_EXTRA_COLUMNS = ("heel_height_mm.L", "heel_height_mm.R")


@dataclass(frozen=True)
class TakeSummary:
    """What a review keeps of the take itself."""

    file: str
    sha256: str
    kind: Kind
    rate_hz: float
    frames: int
    duration_s: float
    inferred: tuple[Inference, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Markers:
    """The cleaned markers of a take, for looking at. positions_m (F, N, 3) with the floor at 0, NaN where nothing holds; source
    (F, N): values of Source."""

    labels: tuple[str, ...]
    positions_m: NDArray[np.float32]
    source: NDArray[np.uint8]


@dataclass(frozen=True)
class Review:
    """Everything that is known of one take. ``profile`` names the level whose bands were used; markers: none for a skeleton.

    findings and chains are as the teacher left them: ``decisions`` are put in already.
    """

    take: TakeSummary
    profile: str
    quality: Quality
    movement: Movement
    phrase: Phrase
    findings: tuple[Finding, ...]
    unsure: tuple[Unsure, ...]
    chains: tuple[tuple[str, ...], ...]
    decisions: Decisions = field(default_factory=Decisions)
    markers: Markers | None = None


def decide(review: Review, decisions: Decisions) -> Review:
    """The same review with other decisions in place of those it had."""
    findings = apply(as_analysed(review.findings, review.decisions), decisions)
    changed = chains(findings) if decisions.links or review.decisions.links else review.chains
    return replace(review, findings=findings, chains=changed, decisions=decisions)


def carry_over(before: Review, after: Review) -> Review:
    """Put the teacher's decisions of an earlier review of the take into a new one; nothing is lost.

    What no longer matches stays listed in ``decisions.unmatched`` and ``decisions.unmatched_links``.
    """
    return decide(after, match(before.decisions, after.findings, after.phrase.phases))


def plain(value: Any) -> Any:
    """Numbers as plain floats, not-a-number as None, tuples as lists."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value


def _marker_to_json(marker: MarkerQuality) -> dict[str, Any]:
    return {
        "label": marker.label,
        "landmark": marker.landmark,
        "missing_fraction": marker.missing_fraction,
        "longest_gap_s": marker.longest_gap_s,
        "filled": {"spline": marker.filled_spline, "rigid": marker.filled_rigid, "pattern": marker.filled_pattern},
    }


def _marker_from_json(data: dict[str, Any]) -> MarkerQuality:
    filled = data["filled"]
    return MarkerQuality(
        data["label"],
        data["landmark"],
        data["missing_fraction"],
        data["longest_gap_s"],
        filled["spline"],
        filled["rigid"],
        filled["pattern"],
    )


def quality_to_json(quality: Quality) -> dict[str, Any]:
    """The ``quality`` object of the contract."""
    return {
        "verdict": quality.verdict,
        "reasons": list(quality.reasons),
        "missing_fraction": quality.missing_fraction,
        "markers": [_marker_to_json(marker) for marker in quality.markers],
        "events": [asdict(event) for event in quality.events],
    }


def _finding_to_json(finding: Finding) -> dict[str, Any]:
    data = asdict(finding)
    data["view"] = {"from": finding.view.position_m, "at": finding.view.aim_m, "name": finding.view.name}
    return data


def _finding_from_json(data: dict[str, Any]) -> Finding:
    view = data["view"]
    known = {item.name for item in fields(Finding)}
    values: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in data.items() if key in known
    }
    values["view"] = View(tuple(view["from"]), tuple(view["at"]), view["name"])
    return Finding(**values)


def to_json(review: Review) -> dict[str, Any]:
    """The object of review.json: plain floats, null for what is unknown."""
    standing = asdict(review.movement.standing)
    data = {
        "format": FORMAT,
        "version": VERSION,
        "take": asdict(review.take),
        "profile": review.profile,
        "quality": quality_to_json(review.quality),
        "standing": {key: value.tolist() if isinstance(value, np.ndarray) else value for key, value in standing.items()},
        "phases": [asdict(phase) for phase in review.phrase.phases],
        "contacts": [asdict(contact) for contact in review.phrase.contacts],
        "findings": [_finding_to_json(finding) for finding in review.findings],
        "unsure": [asdict(item) for item in review.unsure],
        "jump_load": asdict(jump_load(review.phrase)),
        "chains": [list(chain) for chain in review.chains],
        "corrections": [asdict(item) for item in corrections(review.findings, review.phrase)],
        "came_first": [asdict(item) for item in link_counts(review.findings, review.phrase)],
        "decisions": decisions_to_json(review.decisions),
    }
    result: dict[str, Any] = plain(data)
    return result


def movement_arrays(movement: Movement) -> dict[str, Any]:
    """The arrays of movement.npz: those of the contract, and what is needed to build the figure again."""
    heels = millimetres(movement.foot_heights_m[:, :, 0])
    return {
        "time_s": movement.time_s,
        "rate_hz": np.float64(movement.rate_hz),
        "joint_names": np.array(JOINTS),
        "joint_centres_m": movement.joint_centres_m,
        "angle_names": np.array((*ANGLES, *_EXTRA_COLUMNS)),
        "angles_deg": np.concatenate([degrees(movement.angles_rad), heels], axis=1),
        "angle_trust": angle_trust(movement.angles_rad),
        "centre_of_mass_m": movement.centre_of_mass_m,
        "centre_of_mass_share": movement.centre_of_mass_share,
        "trust": movement.trust,
        "joint_error_m": movement.joint_error_m,
        "joint_source": movement.joint_source,
        "segment_residual_m": movement.segment_residual_m,
        "segment_names": np.array(SEGMENTS),
        "segment_rotations": movement.segment_rotations,
        "segment_origins_m": movement.segment_origins_m,
        "foot_points_m": movement.foot_points_m,
        "foot_heights_m": movement.foot_heights_m,
        "ground_m": movement.ground_m,
    }


def write_review(review: Review, folder: Path, *, overwrite: bool = False) -> None:
    """Write review.json and movement.npz into a folder, each whole or not at all.

    Raises OutputError when one of them is there already and ``overwrite`` is false.
    """
    text = json.dumps(to_json(review), ensure_ascii=False, indent=1)
    with (
        whole_file(folder / REVIEW_FILE, overwrite=overwrite) as review_path,
        whole_file(folder / MOVEMENT_FILE, overwrite=overwrite) as movement_path,
    ):
        # Uncompressed: deflating a ten-minute take would cost more than the whole analysis.
        np.savez(movement_path, **movement_arrays(review.movement), **_marker_arrays(review.markers))
        review_path.write_text(text, encoding="utf-8")


def _marker_arrays(markers: Markers | None) -> dict[str, Any]:
    if markers is None:
        return {}
    return {
        "marker_labels": np.array(markers.labels),
        "marker_positions_m": markers.positions_m,
        "marker_source": markers.source,
    }


def _read_markers(path: Path) -> Markers | None:
    with np.load(path, allow_pickle=False) as stored:
        if "marker_labels" not in stored.files:
            return None
        labels = tuple(str(label) for label in stored["marker_labels"])
        return Markers(labels, stored["marker_positions_m"], stored["marker_source"])


def _standing_from_json(data: dict[str, Any]) -> Standing:
    values: dict[str, Any] = {}
    for name in (item.name for item in fields(Standing)):
        if name not in data:
            # A range that an earlier version did not know keeps its default.
            continue
        value = data[name]
        if name in ("demi_plie_rad", "releve_m", "pointed_rad", "shoulder_height_m", "passive_turnout_rad"):
            value = np.array([np.nan if item is None else item for item in value])
        elif name == "angles_rad":
            value = {key: np.nan if item is None else item for key, item in value.items()}
        values[name] = np.nan if value is None else value
    return Standing(**values)


def _read_movement(path: Path, kind: Kind, standing: Standing) -> Movement:
    with np.load(path, allow_pickle=False) as stored:
        data = {name: stored[name] for name in stored.files}
    if tuple(data["joint_names"]) != JOINTS or tuple(data["segment_names"]) != SEGMENTS:
        raise ReviewError(f"{path} was written by another version. Review the take again.")
    return Movement(
        kind=kind,
        rate_hz=float(data["rate_hz"]),
        time_s=data["time_s"],
        joint_centres_m=data["joint_centres_m"],
        segment_rotations=data["segment_rotations"],
        segment_origins_m=data["segment_origins_m"],
        angles_rad=np.radians(data["angles_deg"][:, : len(ANGLES)]),
        foot_points_m=data["foot_points_m"],
        foot_heights_m=data["foot_heights_m"],
        ground_m=data["ground_m"],
        centre_of_mass_m=data["centre_of_mass_m"],
        centre_of_mass_share=data["centre_of_mass_share"],
        trust=data["trust"],
        joint_error_m=data["joint_error_m"],
        joint_source=data["joint_source"],
        segment_residual_m=data.get("segment_residual_m", np.full(data["segment_rotations"].shape[:2], np.nan)),
        standing=standing,
    )


def read_review(folder: Path) -> Review:
    """Read a review folder back.

    Raises ReviewError when the folder holds no review, a damaged one, or one of a newer version.
    """
    path = folder / REVIEW_FILE
    if not path.is_file():
        raise ReviewError(f"{folder} holds no {REVIEW_FILE}. Make it with: in-the-round review TAKE --out {folder}")
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["format"] != FORMAT or data["version"] > VERSION:
            raise ReviewError(f"{path} is not a review that this version can read. Review the take again.")
        take, quality = data["take"], data["quality"]
        movement = _read_movement(folder / MOVEMENT_FILE, take["kind"], _standing_from_json(data["standing"]))
        return Review(
            take=TakeSummary(
                **{**take, "inferred": tuple(Inference(**item) for item in take["inferred"]), "warnings": tuple(take["warnings"])}
            ),
            profile=data["profile"],
            quality=Quality(
                quality["verdict"],
                tuple(quality["reasons"]),
                quality["missing_fraction"],
                tuple(_marker_from_json(item) for item in quality["markers"]),
                tuple(CleaningEvent(**item) for item in quality["events"]),
            ),
            movement=movement,
            phrase=Phrase(tuple(Contact(**item) for item in data["contacts"]), tuple(Phase(**item) for item in data["phases"])),
            findings=tuple(_finding_from_json(item) for item in data["findings"]),
            unsure=tuple(Unsure(**item) for item in data["unsure"]),
            chains=tuple(tuple(chain) for chain in data["chains"]),
            decisions=decisions_from_json(data.get("decisions", {})),
            markers=_read_markers(folder / MOVEMENT_FILE),
        )
    except (OSError, KeyError, TypeError, ValueError) as error:
        raise ReviewError(f"{path} is damaged ({error}). Review the take again.") from error


def read_decisions(folder: Path) -> Decisions:
    """The decisions in a review folder, whatever version wrote its arrays; none when there is no review.

    Raises ReviewError when review.json is damaged.
    """
    path = folder / REVIEW_FILE
    if not path.is_file():
        return Decisions()
    try:
        return decisions_from_json(json.loads(path.read_text(encoding="utf-8")).get("decisions", {}))
    except (OSError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise ReviewError(f"{path} is damaged ({error}). Move it away, then review the take again.") from error


def write_again(review: Review, folder: Path) -> Review:
    """Write a review over an earlier one of the same take, with the teacher's decisions carried over; return what was written.

    Raises ReviewError when the earlier one is damaged, so that no decision is lost in silence.
    """
    earlier = read_decisions(folder)
    review = decide(review, match(earlier, review.findings, review.phrase.phases))
    write_review(review, folder, overwrite=True)
    return review


def save_decisions(folder: Path, decisions: Decisions) -> None:
    """Put the teacher's decisions into the review.json of a folder in place of those it had.

    Raises ReviewError when there is no readable review, OutputError when it cannot be written.
    """
    review = decide(read_review(folder), decisions)
    with whole_file(folder / REVIEW_FILE, overwrite=True) as path:
        path.write_text(json.dumps(to_json(review), ensure_ascii=False, indent=1), encoding="utf-8")
