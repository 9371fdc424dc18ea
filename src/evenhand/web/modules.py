"""The scripts of the pages: ES modules, in a page's own folder and in the one that all share.

A page of one file can't import anything, and a page that asks a server for thirty files is there
late. So the modules are put into one script: each becomes a function that gives what it exports, in
an order in which each comes after those it imports. For that, a module keeps to three forms:
`import { a, b as c } from "./x.js"`, `import * as X from "../web/x.js"`, and one `export { a, b as
c }` at its end, of names that are not assigned again.
"""

import re
from importlib.resources import files

#: The charts' library; a plain script that has to run first.
LIBRARY = "vendor/uPlot.iife.min.js"

#: The room that all pages share.
_SHARED = "web"

_IMPORT = re.compile(r'^import\s+(?:\*\s+as\s+(\w+)|\{([^}]*)\})\s+from\s+"([^"]+)";\n', re.M)
_EXPORT = re.compile(r"^export\s+\{([^}]*)\};\n\Z", re.M)
_LEFT_OVER = re.compile(r"^(import|export)\b.*", re.M)


def page_file(room: str, name: str) -> bytes:
    """A file of a page: `name` in the folder `page` of a room, `jobs/batch` for instance.

    Raises
    ------
    FileNotFoundError
        If there is none.
    """
    package = "evenhand." + room.replace("/", ".")
    return files(package).joinpath("page", name).read_bytes()


def bundle(room: str, main: str = "main.js") -> str:
    """Put a page's module, with all that it imports, into one script.

    Raises
    ------
    ValueError
        If a module is written in another form, or if modules import each other in a ring.
    """
    parts: dict[str, str] = {}
    _add(f"{room}/{main}", room, parts, ())
    return "".join(parts.values())


def _add(address: str, room: str, parts: dict[str, str], asking: tuple[str, ...]) -> None:
    if address in parts:
        return
    if address in asking:
        raise ValueError(f"modules import each other: {' → '.join([*asking, address])}")
    text = _text(address)
    names = {}
    for match in _IMPORT.finditer(text):
        names[match[3]] = target = _resolve(address, match[3], room)
        _add(target, room, parts, (*asking, address))
    body = _IMPORT.sub(lambda match: _taken(match, names[match[3]]), text)
    exports = _EXPORT.search(body)
    body = _EXPORT.sub("", body)
    if left := _LEFT_OVER.search(body):
        raise ValueError(f"{address}: can't be put into one script: {left[0]}")
    given = _pairs(exports[1], "{1}: {0}") if exports else ""
    parts[address] = f"const {_name(address)} = (() => {{\n{body}return {{ {given} }};\n}})();\n"


def _taken(match: re.Match[str], address: str) -> str:
    """An import as the constants that it stands for."""
    if match[1]:
        return f"const {match[1]} = {_name(address)};\n"
    return f"const {{ {_pairs(match[2], '{0}: {1}')} }} = {_name(address)};\n"


def _pairs(names: str, form: str) -> str:
    pairs = []
    for name in filter(None, (part.strip() for part in names.split(","))):
        inside, _, outside = name.partition(" as ")
        pairs.append(form.format(inside, outside) if outside else inside)
    return ", ".join(pairs)


def _resolve(address: str, target: str, room: str) -> str:
    """The address of an imported module; only its own folder and the shared one can be named."""
    own = address.rpartition("/")[0]
    if target.startswith("./"):
        return f"{own}/{target[2:]}"
    if own == room and target.startswith(f"../{_SHARED}/"):
        return target[3:]
    raise ValueError(f"{address}: imports {target}, which is neither beside it nor in {_SHARED}")


def _text(address: str) -> str:
    room, _, name = address.rpartition("/")
    return page_file(room, name).decode("utf-8")


def _name(address: str) -> str:
    return "$" + re.sub(r"\W", "_", address.removesuffix(".js"))
