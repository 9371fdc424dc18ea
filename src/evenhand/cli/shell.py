"""The command and its group as classes: help pages of our own, commands loaded when called."""

from collections.abc import Iterator, Mapping, MutableMapping
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from evenhand.cli.help_page import help_page, show


class Command(TyperCommand):
    """A command with its options in groups."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Show the help page."""
        show(help_page(self, ctx), formatter)


class Later(MutableMapping[str, Any]):
    """Commands by name, each loaded when it is asked for.

    Parameters
    ----------
    modules : mapping of str to str
        The module of each, with a function `add_to(app)`.
    """

    def __init__(self, modules: Mapping[str, str]) -> None:
        self._modules = dict(modules)
        self._loaded: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._loaded:
            app = typer.Typer(add_completion=False, rich_markup_mode="rich")
            import_module(self._modules[name]).add_to(app)
            self._loaded[name] = typer.main.get_command(app)
        return self._loaded[name]

    def __setitem__(self, name: str, command: Any) -> None:
        self._modules[name] = ""
        self._loaded[name] = command

    def __delitem__(self, name: str) -> None:
        del self._modules[name]
        self._loaded.pop(name, None)

    def __iter__(self) -> Iterator[str]:
        return iter(self._modules)

    def __len__(self) -> int:
        return len(self._modules)


class Group(TyperGroup):
    """Commands that are named here and loaded when they are called."""

    #: Name and one line of each; its module lies beside this one.
    lines: Mapping[str, str] = {}

    def __init__(self, **facts: Any) -> None:
        super().__init__(**facts)
        self.commands = Later({name: f"evenhand.cli.{name}" for name in self.lines})

    def list_commands(self, ctx: Any) -> list[str]:
        """The names, in order."""
        del ctx
        return list(self.commands)

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the options before the command."""
        for param in self.get_params(ctx):
            # A flag that is None would be checked by a library that takes long to load.
            if getattr(param, "is_flag", False) and param.default is None:
                param.default = False
        return super().parse_args(ctx, args)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Show the help page."""
        rows = [(name, "", line, "") for name, line in self.lines.items()]
        show(help_page(self, ctx, rows), formatter)
