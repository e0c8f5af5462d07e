"""Write docs/findings.md: how every fault is measured and judged, from the catalogue's own data.

python scripts/make_findings_page.py            write the page
"""

from __future__ import annotations

from pathlib import Path

from in_the_round.analysis_core.findings.catalogue import Profile, load_profile
from in_the_round.analysis_core.findings.explain import explain
from in_the_round.analysis_core.findings.windows import instants, windows
from in_the_round.analysis_core.write.files import whole_file

PAGE = Path(__file__).resolve().parents[1] / "docs" / "findings.md"
_HEAD = """# How every finding is measured

This page is written by `scripts/make_findings_page.py` from the data that the program judges by
(`analysis_core/findings/catalogue.toml`); a test holds the two together. Bands are those of the level *Intermediate*; a studio's
own profile may change them (copy one of the files in `analysis_core/findings/profiles/` and give its path as `--level`).

A number is a finding only when it lies outside its band by more than it can be wrong: by one standard error to be worth a watch,
by two to be called a fault. Every ± is a 95 % interval and comes from the take's own data where they tell it: the dancer is
recorded again, in the computer, with the errors that markers have, and measured each time. What cannot be told is said so.

Findings are about technique. Nothing here is a diagnosis, and nothing says what will happen to a body; with pain, a licensed
health professional is asked.
"""


def page(profile: Profile) -> str:
    """The whole page."""
    parts = [_HEAD]
    for entry in profile.entries.values():
        told = explain(entry)
        lines = "\n".join(f"- **{head}.** {text}" for head, text in told.lines())
        parts.append(f"## {told.title}\n\n`{told.fault}`\n\n{lines}\n")
    return "\n".join([*parts, _windows()])


def _windows() -> str:
    """The table of the frames that every measure may look at, and what its instants mean."""
    rows = [
        f"| `{fault}` | {measure} | {', '.join(looked.steps)} | {looked.of or f'from *{looked.first}* to *{looked.last}*'} "
        f"| {looked.only} |"
        for (fault, measure), looked in windows().items()
    ]
    meant = [f"- *{name}*: {text}" for name, text in instants().items()]
    return "\n".join(
        [
            "## Which frames each measure may look at",
            "",
            "This table is `analysis_core/findings/windows.toml`. A test puts a gross error just before, inside and just after",
            "every window on an exact dance, whose instants it knows from the dance's own score: only inside does it change the",
            "number. In a step that is no turn, *fully up* and *the way down begins* are its beginning and its end.",
            "",
            "| fault | measure | steps | frames | only |",
            "|---|---|---|---|---|",
            *rows,
            "",
            *meant,
            "",
        ]
    )


def main() -> None:
    """Write it."""
    with whole_file(PAGE, overwrite=True) as unfinished:
        unfinished.write_text(page(load_profile("intermediate")), encoding="utf-8", newline="\n")
    print(f"{PAGE} written.")


if __name__ == "__main__":
    main()
