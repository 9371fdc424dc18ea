"""Assembling a page: template, style, scripts and data become one HTML file.

The page can't reach a network: a content security policy allows its own scripts and styles (by
their hashes) and nothing else. Data stands in the page as JSON in which no `<` is left, and the
scripts write all of it as text; so no name from a file can become markup.
"""

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files
from typing import Any

_LIBRARY, _LIBRARY_STYLE = "vendor/uPlot.iife.min.js", "vendor/uPlot.min.css"
_LICENCE = "vendor/uPlot.LICENSE"


def assemble(template: str, style: str, scripts: Iterable[str], data: dict[str, Any]) -> bytes:
    """Put a page together: the charts' library and the common style come with it.

    Parameters
    ----------
    template : str
        With `@@POLICY@@`, `@@STYLE@@`, `@@DATA@@` and `@@SCRIPTS@@`.
    style : str
        What the page has besides the common style.
    scripts : iterable of str
        In the order in which they run.
    data : dict
        Plain values; the scripts find them in the element `data`.
    """
    licence = f"/* uPlot\n{_file(_LICENCE)}*/\n"
    scripts = [licence + _file(_LIBRARY), *scripts]
    style = _file(_LIBRARY_STYLE) + common_style() + style
    parts = {
        "POLICY": content_policy(scripts, style),
        "STYLE": f"<style>{style}</style>",
        "DATA": f'<script type="application/json" id="data">{_json(data)}</script>',
        "SCRIPTS": "\n".join(f"<script>{script}</script>" for script in scripts),
    }
    return fill(template, parts).encode("utf-8")


def fill(template: str, parts: Mapping[str, str]) -> str:
    """Put each part where the template has its name as `@@NAME@@`."""
    pieces = template.split("@@")
    # Text and names of parts take turns.
    pieces[1::2] = [parts[name] for name in pieces[1::2]]
    return "".join(pieces)


def content_policy(scripts: Sequence[str], style: str) -> str:
    """The content security policy of a page: these scripts and this style, and no network."""
    return "; ".join(
        [
            "default-src 'none'",
            "script-src " + " ".join(map(_hash, scripts)),
            f"style-src {_hash(style)}",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def common_style() -> str:
    """The style that our pages share."""
    return _file("style.css")


def _file(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _json(data: dict[str, Any]) -> str:
    """JSON that can stand in HTML: plain ASCII without `<`, `>` and `&`."""
    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    for char in "<>&":
        text = text.replace(char, f"\\u{ord(char):04x}")
    return text
