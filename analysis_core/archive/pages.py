"""What the archive's pages share: their look, their policy (nothing is fetched) and their tables."""

from __future__ import annotations

import html
from collections.abc import Sequence

#: The readable page in the folder of a review.
REVIEW_PAGE = "review.html"

_STYLE = """
body{font:16px/1.5 system-ui,sans-serif;max-width:68rem;margin:2rem auto;padding:0 1rem;color:#1c2126;background:#fbfaf8}
h1{font-size:1.6rem;margin-bottom:.2rem}h2{font-size:1.15rem;margin-top:2.2rem}
table{border-collapse:collapse;width:100%}td,th{text-align:left;padding:.25rem .8rem .25rem 0;border-bottom:1px solid #ddd8d0;
vertical-align:top}th{white-space:nowrap}img{max-width:100%;min-width:34rem;height:auto}.wide{overflow-x:auto}
summary{cursor:pointer;padding:.3rem 0}.quiet{color:#5b6168}a{color:#33475b}
"""


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table; the heads are texts, the cells are HTML already."""
    head = "".join(f"<th>{html.escape(name)}</th>" for name in heads)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<div class="wide"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def page(title: str, body: str) -> str:
    """A whole page with a heading; body is HTML."""
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">"
        f"<title>{html.escape(title)}</title><style>{_STYLE}</style><h1>{html.escape(title)}</h1>{body}</html>\n"
    )
