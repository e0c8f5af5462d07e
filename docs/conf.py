"""How the guides are built; scripts/build_docs.py calls it."""

import tomllib
from pathlib import Path

_PROJECT = tomllib.loads((Path(__file__).resolve().parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]

project = "In the Round"
author = "The In the Round authors"
copyright = "2026 The In the Round authors"
version = release = _PROJECT["version"]
extensions = ["myst_parser", "sphinx.ext.autodoc"]
# The table of markers is part of a page, no page of its own.
exclude_patterns = ["README.md", "from_code/markers.md"]
myst_heading_anchors = 3
# Types stand in the signatures; what an array holds stands in the words below them.
autodoc_member_order = "bysource"
autodoc_typehints_format = "short"
html_theme = "furo"
html_title = "In the Round"
smartquotes = False
html_show_sphinx = False
html_show_sourcelink = False
html_copy_source = False
html_static_path = ["look"]
html_css_files = ["look.css"]
html_theme_options = {
    "light_css_variables": {"color-brand-primary": "#7a1f5c", "color-brand-content": "#7a1f5c"},
    "dark_css_variables": {"color-brand-primary": "#f0a8d0", "color-brand-content": "#f0a8d0"},
}
