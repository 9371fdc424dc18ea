"""Write the pages of the site that are made from the code: commands, Python reference, contents.

python -m tests.docs.write_site
"""

import inspect
from pathlib import Path
from typing import Any

import typer.main

import evenhand
from evenhand.cli.app import COMMANDS, app

DOCS = Path(__file__).parents[2] / "docs"

#: The chapters of the site, each with its pages; a page that does not exist yet is left out.
CHAPTERS = {
    "Start here": ["guide", "assess", "making-decisions", "review", "listening"],
    "More takes, more instruments": [
        *("many-takes", "passes", "practice", "songs", "parts", "triggers", "conform"),
    ],
    "How it decides": ["how-it-decides", "habit", "reasons", "glossary"],
    "Reference": [
        *("commands", "python", "python-reference", "files", "review-protocol"),
        *("dependencies", "benchmarks", "reliability", "gallery"),
    ],
}


def contents(docs: Path) -> str:
    """The first page: every page of the docs, none twice and none left out."""
    made = {"commands", "python-reference"}
    there = {path.stem for path in docs.glob("*.md")} - {"index"} | made
    listed = [page for pages in CHAPTERS.values() for page in pages]
    chapters = {**CHAPTERS, "Besides": sorted(there - {*listed})}
    parts = [f"# evenhand\n\n{_plain(evenhand.__doc__ or '')}\n"]
    for chapter, pages in chapters.items():
        known = [page for page in pages if page in there]
        if known:
            head = f"```{{toctree}}\n:caption: {chapter}\n:maxdepth: 1\n"
            parts.append("\n".join([head, *known, "```\n"]))
    return "\n".join(parts)


def commands() -> str:
    """Every command with its options, from the same table as its help page."""
    group: Any = typer.main.get_command(app)
    context = group.make_context("evenhand", [], resilient_parsing=True)
    parts = ["# Commands\n"]
    parts.append("Every command explains itself with `--help`; this page has the same words.\n")
    for name, line in COMMANDS.items():
        command = group.get_command(context, name)
        parts.append(f"## evenhand {name}\n\n{_plain(line)}\n")
        rows = ["| option | default | what |", "| --- | --- | --- |"]
        for one in command.params:
            if getattr(one, "hidden", False) or one.param_type_name != "option":
                continue
            shown = one.show_default if isinstance(one.show_default, str) else ""
            if not shown and one.default not in (None, False, (), []) and not callable(one.default):
                shown = str(one.default)
            spelled = ", ".join(f"`{word}`" for word in one.opts)
            rows.append(f"| {spelled} | {_plain(shown)} | {_plain(one.help or '')} |")
        parts.append("\n".join(rows) + "\n")
    return "\n".join(parts)


def reference() -> str:
    """Every name of the face, explained from where it is defined."""
    parts = [
        "# Python reference\n",
        "[Five small programs](python.md) show how these go together.\n",
    ]
    for name in evenhand.__all__:
        thing = getattr(evenhand, name)
        if inspect.isclass(thing):
            members = "" if issubclass(thing, BaseException) else ":members:\n"
            told = f".. autoclass:: evenhand.{name}\n{_indented(members)}"
        elif inspect.isfunction(thing):
            told = f".. autofunction:: evenhand.{name}\n"
        else:
            continue
        parts.append(f"## {name}\n\n```{{eval-rst}}\n{told}```\n")
    return "\n".join(parts)


def write_all(docs: Path) -> None:
    """Write the three pages, where they differ from what is there."""
    made = {"commands": commands(), "python-reference": reference(), "index": contents(docs)}
    for name, text in made.items():
        page = docs / f"{name}.md"
        if not page.exists() or page.read_text("utf-8") != text:
            page.write_text(text, "utf-8")


def _plain(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|").replace("<", "&lt;")


def _indented(lines: str) -> str:
    return "".join(f"   {line}\n" for line in lines.splitlines())


if __name__ == "__main__":
    write_all(DOCS)
