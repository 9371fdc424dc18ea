"""The docs as a site: `sphinx-build -W -b html -c docs/site docs build/site`.

`-t linked` fetches the names that Python, NumPy and mido document, and links their types. Without
it nothing is fetched: a build needs no network, and gives the same pages everywhere.
"""

import sys
from pathlib import Path

_ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(_ROOT), str(_ROOT / "src")]

from tests.docs.write_site import write_all  # noqa: E402 - found by the line above

import evenhand  # noqa: E402

write_all(_ROOT / "docs")

project = "evenhand"
author = "The evenhand developers"
copyright = author  # noqa: A001 - Sphinx's name
version = release = evenhand.__version__

extensions = ["myst_parser", "numpydoc", "sphinx.ext.autodoc", "sphinx.ext.autosummary"]
source_suffix = {".md": "markdown"}
root_doc = "index"
exclude_patterns = ["site"]
html_theme = "furo"
html_title = f"evenhand {version}"

myst_heading_anchors = 4
numpydoc_show_class_members = False
autosummary_generate = False
autodoc_member_order = "bysource"
autodoc_typehints = "none"

if tags.has("linked"):  # noqa: F821 - Sphinx puts it here
    extensions.append("sphinx.ext.intersphinx")
    intersphinx_mapping = {
        "python": ("https://docs.python.org/3", None),
        "numpy": ("https://numpy.org/doc/stable", None),
        "mido": ("https://mido.readthedocs.io/en/stable", None),
    }
    numpydoc_xref_param_type = True
    numpydoc_xref_aliases = {"Path": "pathlib.Path", "MidiFile": "mido.MidiFile"}
