"""Help pages: options in groups; with rich on a terminal, as plain text elsewhere.

It draws its pages itself because the pages of typer load a Markdown reader and a highlighter for
tracebacks first, which takes longer than all the rest.
"""

import inspect
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from evenhand.recipe import GROUPS, OUTPUT

ARGUMENTS, COMMANDS, OPTIONS = "Arguments", "Commands", "Options"

#: In which order the parts of a page stand; others go in between.
_ORDER = (ARGUMENTS, OPTIONS, *GROUPS, COMMANDS)

#: Names, value, meaning, default.
Row = tuple[str, str, str, str]


@dataclass(frozen=True)
class HelpPage:
    """What a help page says.

    Attributes
    ----------
    usage : str
    words : str
        What the command does.
    parts : dict of str to rows
        By title.
    epilog : str
        Examples.
    """

    usage: str
    words: str
    parts: dict[str, list[Row]]
    epilog: str


def help_page(command: Any, ctx: Any, commands: Iterable[Row] = ()) -> HelpPage:
    """Collect the help page of a command.

    Parameters
    ----------
    command : typer.core.TyperCommand or typer.core.TyperGroup
    ctx : typer.Context
    commands : iterable of rows
        The commands below it.
    """
    parts: dict[str, list[Row]] = {}
    pieces = [ctx.command_path, "[OPTIONS]"]
    for param in command.get_params(ctx):
        if getattr(param, "hidden", False):
            continue
        argument = param.param_type_name == "argument"
        if argument:
            name = param.metavar or param.name.upper()
            pieces.append(name if param.required else f"[{name}]")
        title = getattr(param, "rich_help_panel", None)
        if title is None and "--help" in param.opts and OPTIONS not in parts and OUTPUT in parts:
            title = OUTPUT  # it needs no part of its own
        title = title or (ARGUMENTS if argument else OPTIONS)
        parts.setdefault(title, []).append(_row(param, argument))
    commands = list(commands)
    if commands:
        parts[COMMANDS] = commands
        pieces.append("COMMAND ...")
    words = inspect.cleandoc(command.help or "")
    in_order = dict(sorted(parts.items(), key=lambda part: _place(part[0])))
    return HelpPage(" ".join(pieces), words, in_order, _closed_up(command.epilog or ""))


def _place(title: str) -> int:
    return _ORDER.index(title) if title in _ORDER else len(_ORDER) - 1


def _row(param: Any, argument: bool) -> Row:
    if argument:
        names, value = param.metavar or param.name.upper(), ""
    else:
        names = ", ".join(sorted(param.opts, key=len, reverse=True))
        if param.secondary_opts:
            names += f" / {param.secondary_opts[0]}"
        value = "" if param.is_flag else param.metavar or "VALUE"
    return names, value, param.help or "", _default(param)


def _default(param: Any) -> str:
    if isinstance(param.show_default, str):
        return f"[{param.show_default}]"
    if param.secondary_opts:
        return f"[{'on' if param.default else 'off'}]"
    plain = isinstance(param.default, int | float | str) and not isinstance(param.default, bool)
    return f"[{param.default}]" if plain and param.default != "" and param.show_default else ""


def _closed_up(epilog: str) -> str:
    """Examples follow each other without empty lines."""
    lines: list[str] = []
    for part in epilog.strip().split("\n\n"):
        indented = part.startswith("  ")
        if lines and not (indented and lines[-1].startswith("  ")):
            lines.append("")
        lines.append(part.rstrip())
    return "\n".join(lines)


def show(page: HelpPage, formatter: Any) -> None:
    """Print a help page, or leave it with the formatter to be printed as plain text."""
    if sys.stdout.isatty():
        _show_rich(page)
        return
    formatter.write(f"Usage: {page.usage}\n\n")
    formatter.write_text(page.words)
    for title, rows in page.parts.items():
        with formatter.section(title):
            formatter.write_dl(
                [
                    (f"{names} {value}".rstrip(), f"{words} {default}".rstrip())
                    for names, value, words, default in rows
                ]
            )
    if page.epilog:
        formatter.write(f"\n{page.epilog}\n")


def _show_rich(page: HelpPage) -> None:
    from rich.console import Console
    from rich.panel import Panel
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    console.print(Text.assemble("\n", ("Usage: ", "yellow"), (page.usage, "bold"), "\n"))
    console.print(Text(f"{page.words}\n"))
    names_width, value_width = (
        max(len(row[column]) for rows in page.parts.values() for row in rows) for column in (0, 1)
    )
    for title, rows in page.parts.items():
        grid = Table.grid(padding=(0, 2, 0, 0), expand=True)
        grid.add_column(style="bold cyan", no_wrap=True, width=names_width)
        valued = any(value for _, value, *_ in rows)
        if valued:
            grid.add_column(style="yellow", no_wrap=True, width=value_width)
        grid.add_column(ratio=1)
        for names, value, words, default in rows:
            told = Text.assemble(words, " ", (default, "dim"))
            grid.add_row(*[Text(names), *([Text(value)] if valued else []), told])
        console.print(Panel(grid, title=title, title_align="left", border_style="dim"))
    console.print(Text(f"\n{page.epilog}\n" if page.epilog else ""))
