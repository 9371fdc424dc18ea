"""Assembling a page: template, style, scripts and data.

A page of one file can't reach a network: a content security policy allows its own scripts and
styles (by their hashes) and nothing else. Data stands in the page as JSON in which no `<` is left,
and the scripts write all of it as text; so no name from a file can become markup.
"""

import base64
import hashlib
import json
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from evenhand import __version__
from evenhand.web.modules import LIBRARY, bundle, page_file

if TYPE_CHECKING:
    from jinja2 import Template

_LICENCE, _LIBRARY_STYLE = "vendor/uPlot.LICENSE", "vendor/uPlot.min.css"


def one_file(
    room: str,
    data: dict[str, Any] | None = None,
    words: dict[str, Any] | None = None,
    charts: bool = True,
) -> bytes:
    """Put a page together that needs nothing but itself.

    Parameters
    ----------
    room : str
        Whose page: its folder `page` has `template.html`, `main.js` and perhaps `style.css`.
    data : dict, optional
        Plain values; the scripts find them in the element `data`.
    words : dict, optional
        What the template asks for; written as text.
    charts : bool
        Whether the charts' library comes along.
    """
    from markupsafe import Markup

    library = f"/* uPlot\n{_file(_LICENCE)}*/\n{_file(LIBRARY)}" if charts else ""
    module = bundle(room)
    style = (_file(_LIBRARY_STYLE) if charts else "") + _style("web") + _style(room)
    for script in (library, module):
        if "</script" in script.lower() or "<!--" in script:
            raise ValueError(f"a script of {room} would end its own element")
    scripts = f"<script>{library}</script>\n" if charts else ""
    scripts += f'<script type="module">{module}</script>'
    if data is not None:
        scripts = f'<script type="application/json" id="data">{_json(data)}</script>\n' + scripts
    page = _template(room).render(
        **(words or {}),
        version=__version__,
        served=False,
        policy=_policy([library, module], style),
        # Markup on purpose: made of our own files, and of JSON without any `<`.
        style=Markup(f"<style>{style}</style>"),
        scripts=Markup(scripts),
    )
    return page.encode("utf-8", errors="replace")


def served(room: str) -> bytes:
    """The same page for a server that hands out style and scripts, see `served_files`.

    Parameters
    ----------
    room : str
        The room whose page it is, such as `review`.
    """
    from markupsafe import Markup

    scripts = '<script src="/charts.js"></script>\n<script type="module" src="/page.js"></script>'
    page = _template(room).render(
        version=__version__,
        served=True,
        policy="",
        style=Markup('<link rel="stylesheet" href="/page.css">'),
        scripts=Markup(scripts),
    )
    return page.encode("utf-8")


def served_files(room: str) -> dict[str, tuple[bytes, str]]:
    """All that a served page asks for: bytes and type by address.

    Three files rather than one for each module: a page is there the sooner, the less it asks for.

    Parameters
    ----------
    room : str
        The room whose page it is, such as `review`.
    """
    style = _file(_LIBRARY_STYLE) + _style("web") + _style(room)
    return {
        "/charts.js": (_file(LIBRARY).encode(), "text/javascript"),
        "/page.js": (bundle(room).encode(), "text/javascript"),
        "/page.css": (style.encode(), "text/css"),
    }


@cache
def _template(room: str) -> "Template":
    from jinja2 import DictLoader, Environment, StrictUndefined

    sources = {
        "shell.html": page_file("web", "shell.html").decode("utf-8"),
        "page.html": page_file(room, "template.html").decode("utf-8"),
    }
    surroundings = Environment(
        loader=DictLoader(sources),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return surroundings.get_template("page.html")


def _policy(scripts: list[str], style: str) -> str:
    """The content security policy of a page: these scripts and this style, and no network."""
    return "; ".join(
        [
            "default-src 'none'",
            "script-src " + " ".join(map(_hash, filter(None, scripts))),
            f"style-src {_hash(style)}",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def _style(room: str) -> str:
    try:
        return page_file(room, "style.css").decode("utf-8")
    except FileNotFoundError:
        return ""


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
