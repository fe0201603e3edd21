"""How the handbook is built: Sphinx, Markdown, the furo theme with our own typeface, nothing from afar."""

import sys
from importlib.metadata import version as version_of
from pathlib import Path

DOCS = Path(__file__).parent
sys.path.insert(0, str(DOCS))

import docstrings  # noqa: E402 - both lie beside this file
import generated  # noqa: E402

project = "lightoff"
author = "the lightoff contributors"
copyright = "the lightoff contributors; Apache-2.0"  # noqa: A001 - the name that Sphinx reads
release = version = version_of("lightoff")
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc"]
myst_enable_extensions = ["deflist", "colon_fence"]
myst_heading_anchors = 3
exclude_patterns = ["_build", "_generated"]
default_role = "code"

autodoc_typehints = "signature"
autodoc_type_aliases = {name: name for name in ("Array", "Real", "Number", "Truth", "Value")}
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True, "show-inheritance": False}

html_theme = "furo"
html_title = "lightoff handbook"
html_static_path = [
    "_static",
    "../src/lightoff/web/static/vendor/atkinson-hyperlegible-next-5.3.0",
    "../src/lightoff/web/static/vendor/lightoff-signs-1.0",
]
html_css_files = ["handbook.css"]
html_copy_source = False
html_show_sphinx = False
PAPER = {
    "color-background-primary": "#FBF8F1",
    "color-background-secondary": "#FBF8F1",
    "color-foreground-primary": "#14110D",
    "color-foreground-secondary": "#4A4339",
    "color-background-border": "#D6CDBE",
    "color-brand-primary": "#B23608",
    "color-brand-content": "#B23608",
    "color-brand-visited": "#B23608",
}
BAY = {
    "color-background-primary": "#12100D",
    "color-background-secondary": "#12100D",
    "color-foreground-primary": "#EFE7DA",
    "color-foreground-secondary": "#BCB1A2",
    "color-background-border": "#3B342C",
    "color-brand-primary": "#F08646",
    "color-brand-content": "#F08646",
    "color-brand-visited": "#F08646",
}
FACE = "'Atkinson Hyperlegible Next', 'Lightoff Signs', sans-serif"
html_theme_options = {
    "light_css_variables": {**PAPER, "font-stack": FACE},
    "dark_css_variables": BAY,
}


def setup(app):
    """Write what is made from the shelf and from the checks before the pages are read."""
    app.connect("autodoc-process-docstring", lay_out)
    app.connect("builder-inited", lambda _: generated.write_all(DOCS.parent, DOCS / "_generated"))


def lay_out(app, what, name, obj, options, lines):
    """Hand autodoc a docstring in the form that it reads."""
    lines[:] = docstrings.laid_out(lines)
