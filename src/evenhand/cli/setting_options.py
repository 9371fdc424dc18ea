"""The options of the settings, made from their table, and what was given of them.

A command asks for them by a decorator and gets them as one value:

    @guarded
    @takes_settings()
    def tighten(take: options.Take, *, settings: Given, quiet: options.Quiet = False) -> None:
"""

import functools
import inspect
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

import typer

from evenhand.cli.guard import UsageError
from evenhand.errors import SettingError
from evenhand.recipe import GROUPS, NONE, SETTINGS, USUAL, Recipe, Setting, read_recipe

Command = Callable[..., None]

#: The keyword by which a command gets what was given.
_KEYWORD = "settings"


@dataclass(frozen=True)
class Given:
    """The settings that were given as options.

    Attributes
    ----------
    values : dict
        By name.
    waiting : frozenset of str
        Settings that were given a way (`--steady`) but not turned on (`--fit`).
    """

    values: dict[str, Any] = field(default_factory=dict)
    waiting: frozenset[str] = frozenset()

    def recipe(self, path: Path | None = None) -> Recipe:
        """The recipe of a run: the file's settings, then what was given, which wins."""
        recipe = read_recipe(path) if path else Recipe()
        for name in dict.fromkeys([*self.waiting, *self._needed()]):
            if getattr(recipe, name) == SETTINGS[name].default:
                users = _users(name)
                verb = "need" if len(users) > 1 else "needs"
                raise UsageError(f"{_listed(users)} {verb} {SETTINGS[name].option}")
        try:
            return recipe.with_settings(self.values)
        except SettingError as error:
            name, _, rest = str(error).partition(":")
            raise UsageError(f"--{name.replace('_', '-')}:{rest}") from None

    def _needed(self) -> list[str]:
        """What given settings need that was not given with them."""
        needed = [SETTINGS[name].needs for name in self.values]
        return [name for name in needed if name and name not in self.values]


def takes_settings(
    *names: str, but: Iterable[str] = (), looks: bool = False
) -> Callable[[Command], Command]:
    """Give a command the options of some settings; of all, in their groups, if none is named.

    Parameters
    ----------
    *names : str
        Settings.
    but : iterable of str
        Options to leave out, by name. What they would turn on is on.
    looks : bool
        Whether only those are meant that change how a take is looked at.
    """
    chosen = [
        one
        for one in SETTINGS.values()
        if (not names or one.name in names) and (one.looks or not looks)
    ]
    parameters = [
        parameter
        for one in sorted(chosen, key=_rank)
        for parameter in _parameters(one, grouped=not names)
        if parameter.name not in but
    ]
    offered = [parameter.name for parameter in parameters]

    def decorate(command: Command) -> Command:
        @functools.wraps(command)
        def run(**words: Any) -> None:
            texts = {name: words.pop(name) for name in offered}
            command(**words, **{_KEYWORD: _given(chosen, texts)})

        own = inspect.signature(command).parameters.values()
        signature = [
            one.replace(kind=inspect.Parameter.KEYWORD_ONLY)
            for mine in own
            for one in (parameters if mine.name == _KEYWORD else [mine])
        ]
        # What typer reads of a command.
        run.__dict__["__signature__"] = inspect.Signature(signature)
        return run

    return decorate


def _rank(one: Setting) -> tuple[bool, int]:
    return not one.usual, GROUPS.index(one.group)


def _parameters(one: Setting, grouped: bool) -> list[inspect.Parameter]:
    """The options of a setting; none if it stands in recipes only."""
    group = (USUAL if one.usual else one.group) if grouped else None
    if one.switches:
        return [
            _parameter(
                name,
                bool,
                False,
                # How it is done stands with the group; that it is done is the usual part.
                typer.Option(
                    f"--{name.replace('_', '-')}",
                    help=_plain(words),
                    rich_help_panel=one.group if number and grouped else group,
                ),
            )
            for number, (name, _, words) in enumerate(one.switches)
        ]
    if one.check.option is None:
        return []
    option = typer.Option(
        one.option,
        metavar=one.metavar or one.unit.upper(),
        help=_plain(_help(one)),
        show_default=one.shown if one.shown != NONE else False,
        rich_help_panel=group,
        autocompletion=_completion(one),
    )
    return [_parameter(one.name, one.check.option | None, None, option)]


def _parameter(name: str, kind: Any, default: Any, option: Any) -> inspect.Parameter:
    return inspect.Parameter(
        name,
        inspect.Parameter.KEYWORD_ONLY,
        default=default,
        annotation=Annotated[kind, option],
    )


def _help(one: Setting) -> str:
    return one.words if one.check.option != list[str] else f"{one.words[:-1]}; repeat for more."


def _plain(words: str) -> str:
    return words.replace("`", "")


def _completion(one: Setting) -> Callable[[str], list[str]]:
    def complete(incomplete: str) -> list[str]:
        return [word for word in one.check.words() if word.startswith(incomplete)]

    return complete


def _given(chosen: list[Setting], texts: dict[str, Any]) -> Given:
    """Make settings of what the options took; what was not given is None, empty or false."""
    values: dict[str, Any] = {}
    waiting = set()
    for one in chosen:
        if not one.switches:
            text = texts.get(one.name)
            if text is not None and text != []:
                values[one.name] = one.check.read(text)
            continue
        (gate, plainly, _), *ways = one.switches
        asked = [name for name, *_ in ways if texts.get(name)]
        if len(asked) > 1:
            options = _listed([f"--{name.replace('_', '-')}" for name in asked])
            raise UsageError(f"{options} exclude each other; without them it is found out")
        if not texts.get(gate, True) and not asked:
            continue
        if not texts.get(gate, True):
            waiting.add(one.name)
        values[one.name] = next((value for name, value, _ in ways if name in asked), plainly)
    return Given(values, frozenset(waiting))


def _users(name: str) -> list[str]:
    """The options that do nothing without a setting."""
    hints = [one.option for one in SETTINGS.values() if one.needs == name]
    return hints + [f"--{way.replace('_', '-')}" for way, *_ in SETTINGS[name].switches[1:]]


def _listed(options: list[str]) -> str:
    return " and ".join([", ".join(options[:-1]), options[-1]] if options[1:] else options)
