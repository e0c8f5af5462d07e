"""Learn from kept trials what share of its reckoned error each measure shows, and write it to errors_shown.toml.

.venv/bin/python scripts/bench_findings.py --seed N --keep FOLDER       some seeds of the programme, each in its folder
.venv/bin/python scripts/learn_error_shares.py FOLDER … [--write]

The shares are learnt from those that stand there: the trials must have run with them (``simulated_dancer/coverage.py``).
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path

from in_the_round.analysis_core.findings import uncertainty
from in_the_round.simulated_dancer.coverage import errors_of, learnt
from in_the_round.simulated_dancer.kept_trials import kept_in

TABLE = Path(uncertainty.__file__).with_name("errors_shown.toml")


def as_toml(shares: Mapping[tuple[str, str], float]) -> str:
    """The table of the shares."""
    by_fault: dict[str, list[str]] = defaultdict(list)
    for (fault, measure), share in shares.items():
        by_fault[fault].append(f"{measure} = {share:.2f}")
    return "[share]\n" + "".join(f"{fault} = {{ {', '.join(told)} }}\n" for fault, told in by_fault.items())


def main() -> int:
    """Print what would be written, or write it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folders", type=Path, nargs="+", metavar="FOLDER", help="trials that bench_findings.py kept")
    parser.add_argument("--write", action="store_true", help="write errors_shown.toml (its comments stay)")
    options = parser.parse_args()
    before = uncertainty.shown_shares()
    shares = learnt(errors_of(kept_in(options.folders)), before)
    for name in sorted({*before, *shares}):
        old, new = before.get(name, 1.0), shares.get(name, 1.0)
        if f"{old:.2f}" != f"{new:.2f}":
            print(f"{', '.join(name)}: {old:.2f} -> {new:.2f}")
    if options.write:
        comments = TABLE.read_text(encoding="utf-8").partition("[share]")[0]
        TABLE.write_text(comments + as_toml(shares), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
