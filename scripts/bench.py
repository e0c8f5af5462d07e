"""Print the project's numbers: speed side by side with yardsticks in one run, and accuracy against known truth.

    .venv/bin/python scripts/bench.py [WORD …]     only the groups whose name holds one of the words

Run by hand, never as a test: a shared machine would make it lie. To add rows, write a function that returns them and
name it in GROUPS.
"""

from __future__ import annotations

import argparse
import platform
import sys
import traceback
from collections.abc import Callable

import bench_accuracy
import bench_archive
import bench_blender
import bench_cleaning
import bench_compare
import bench_findings
import bench_lesson
import bench_page
import bench_record
import bench_speed
import bench_walk
from bench_common import Row, table

#: Name -> the function that measures it.
GROUPS: dict[str, Callable[[], list[Row]]] = {
    "verdict": bench_speed.verdict,
    "review": bench_speed.review,
    "whole processes": bench_speed.whole_processes,
    "ten minutes": bench_speed.ten_minutes,
    "scene": bench_blender.scene,
    "turntable": bench_blender.turntable,
    "film upright": bench_blender.upright,
    "page": bench_page.sizes,
    "page in a browser": bench_page.in_chromium,
    "fills": bench_cleaning.fills,
    "fills of a real take": bench_cleaning.fills_of_a_real_take,
    "mishaps": bench_cleaning.mishaps,
    "joints": bench_accuracy.joints,
    "angles": bench_accuracy.angles,
    "strange bodies and rooms: joints": bench_accuracy.strange_joints,
    "strange bodies and rooms: angles": bench_accuracy.strange_angles,
    "centre of mass": bench_accuracy.centre_of_mass,
    "contacts": bench_accuracy.contacts,
    "faults": bench_findings.faults,
    "first cause": bench_findings.first_cause,
    "coverage": bench_findings.coverage,
    "coverage within takes": bench_findings.within_takes,
    "record": bench_record.record,
    "record killed": bench_record.kills,
    "claims": bench_record.claims,
    "archive": bench_archive.archive,
    "bookkeeping": bench_archive.bookkeeping,
    "compare": bench_compare.compared,
    "lesson plan": bench_lesson.plan,
    "lesson classes": bench_lesson.classes,
    "whole walk": bench_walk.whole_walk,
    "walk in Blender": bench_walk.walk_in_blender,
}


def main() -> int:
    """Return 0 when everything could be measured, met or not; 1 otherwise."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("words", nargs="*", metavar="WORD", help=f"only these groups, of: {', '.join(GROUPS)}")
    words = parser.parse_args().words
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}")
    failed = False
    for name, measure in GROUPS.items():
        if words and not any(word in name for word in words):
            continue
        print(f"\n{name}", flush=True)
        try:
            print(table(measure()), flush=True)
        except Exception as error:
            traceback.print_exc(limit=-1)
            print(f"  could not be measured: {error}", flush=True)
            failed = True
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
