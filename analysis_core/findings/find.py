"""All measures of the catalogue over one take, judged."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ..body.movement import Movement
from ..phrase.counts import Counts
from ..phrase.phase import Phrase
from ..wording.findings import up_too_shortly
from . import measure_feet as feet
from . import measure_gestures as gestures
from . import measure_head_and_arms as head_and_arms
from . import measure_jumps as jumps
from . import measure_knee_over_foot as knee_over_foot
from . import measure_knees as knees
from . import measure_plies as plies
from . import measure_posture as posture
from . import measure_preparation as preparation
from . import measure_releve as releve
from . import measure_retire as retire
from . import measure_time_and_balance as holds
from . import measure_turnout as turnout
from . import measure_turns as turns
from .catalogue import Profile
from .evidence import Evidence
from .finding import Finding, Unnumbered, Unsure
from .judging import both_sides, judge_all, told_once
from .limits import STEPS
from .measured import Measured
from .observation import NotTold, Observation
from .reading import Told
from .series import same_again

Look = Callable[[Evidence], Told]

#: One function per fault; its name is the fault's.
MEASURES: dict[str, Look] = {
    function.__name__.replace("_", "-"): function
    for function in (
        preparation.heel_lifts_early, preparation.foot_slips_parallel, turnout.turnout_lost_supporting,
        turnout.turnout_lost_working, turnout.turnout_lost_finish, turns.axis_tilts, turns.turn_travels, turns.turn_hops,
        head_and_arms.late_spot, head_and_arms.arms_drop, turns.turn_angle_off, retire.low_retire, releve.low_releve,
        preparation.shoulders_lead, posture.trunk_leans, posture.side_bends, posture.ribs_flare, posture.back_arches,
        posture.pelvis_tucks, posture.shoulders_lift, posture.head_lifts, posture.hip_hikes, knees.knee_hyperextends,
        knee_over_foot.knee_inside_toes, knee_over_foot.foot_forces_turnout, feet.foot_sickles, feet.foot_wings,
        gestures.knee_bends_working, knees.knee_bends_supporting, gestures.uneven_height, plies.uneven_plie,
        plies.heels_lift_in_plie, plies.shallow_plie, jumps.heavy_landing, jumps.stiff_landing, jumps.uneven_landing,
        jumps.heels_miss_floor, jumps.rushed_take_off, jumps.low_jump, jumps.feet_not_pointed, jumps.turnout_lost_in_air,
        jumps.landing_off_axis, holds.off_the_count, holds.balance_sways, holds.balance_hops, holds.balance_heel_sinks,
    )
}  # fmt: skip


def observe(evidence: Evidence, profile: Profile) -> Iterator[Observation | NotTold]:
    """Every measure that the profile asks for, in every phase where it applies."""
    brief = {
        turn.phase.id: turn
        for turn in evidence.turns
        if turn.sink - turn.rise + 1 < evidence.samples(STEPS.least_up_s) or turn.sink - turn.rise + 1 < STEPS.least_up_frames
    }
    for fault, measure in MEASURES.items():
        if fault in profile.off:
            continue
        for told in measure(evidence):
            # Nothing in this step asks for this measure.
            if told is None or not profile.asks(fault, told.phase.kind):
                continue
            turn = brief.get(told.phase.id)
            if turn is not None and isinstance(told, Observation) and turn.rise <= told.start and told.end <= turn.sink:
                up_s = (turn.sink - turn.rise + 1) / evidence.rate_hz
                yield NotTold(fault, told.phase, up_too_shortly(up_s))
            else:
                yield told


@dataclass(frozen=True)
class Found:
    """What was found in a take: findings in the order of their onset, numbered; what cannot be told; every number."""

    findings: tuple[Finding, ...]
    unsure: tuple[Unsure, ...]
    measured: tuple[Measured, ...]


def find(movement: Movement, phrase: Phrase, profile: Profile, *, counts: Counts | None = None) -> Found:
    """Everything that the measures say of a take.

    Samples that are not known make a measure "cannot be told", never a finding. counts: for the timing of the steps.
    """
    evidence = Evidence(movement, phrase, counts)
    verdicts = judge_all(observe(evidence, profile), profile, evidence)
    found = told_once(both_sides(verdicts.findings), phrase)
    found.sort(key=lambda finding: (finding.onset_s, finding.fault, finding.phase))
    said = {(finding.fault, finding.phase) for finding in found}
    steps = {phase.id: phase for phase in phrase.phases}

    def asked(finding: Unnumbered) -> tuple[str, ...]:
        same = (phase.id for phase in same_again(steps[finding.phase], phrase, evidence.jumps))
        return tuple(name for name in same if (finding.fault, name) in verdicts.told)

    told = [{**vars(finding), "asked_in": asked(finding)} for finding in found]
    return Found(
        tuple(Finding(id=f"f{number}", **fields) for number, fields in enumerate(told, start=1)),
        tuple(item for item in verdicts.unsure if (item.fault, item.phase) not in said),
        verdicts.measured,
    )
