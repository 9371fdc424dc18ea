"""What is known of one setting; the table lists them all."""

from dataclasses import Field, dataclass, field, fields
from typing import Any, TypeVar

from evenhand.recipe.checks import Check

T = TypeVar("T")

#: Where a setting may stand: it speaks of the take as a whole, or may differ between sections.
TAKE, SECTION = "take", "section"

#: What is unset where a list is empty.
NONE = "none"

#: The groups that settings and other options stand in, in the order in which they are shown.
USUAL, MOVES, PULSE, KIT, SECTIONS, OUTPUT, RECORD = GROUPS = (
    "The usual ones",
    "What moves",
    "Grid and tempo",
    "Kit",
    "Sections",
    "Output",
    "Record",
)


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What is known of a setting.

    Attributes
    ----------
    name : str
        In a recipe; as an option with hyphens.
    default : object
        None where there is none.
    check : Check
        Its kind: puts a value in order or refuses it, knows its range and its words.
    group : str
        One of `GROUPS`.
    words : str
        What it means, for help pages and wherever it is shown; literal values in backticks.
    more : str
        What is worth reading besides, for the reference.
    unit : str
        Of its numbers; empty where it has none.
    metavar : str
        What stands for its value on a help page; the unit if not given.
    unset : str
        What holds as long as it is not given, where `default` is None or empty.
    where : "take" or "section"
        Whether it speaks of the take as a whole, or a section may set it for itself.
    usual : bool
        Whether it is one of the few that most people need.
    looks : bool
        Whether it changes how a take is looked at, and not only what is done to it.
    needs : str
        Another setting that must be given for it to do anything; empty for none.
    switches : tuple of (str, str, str)
        Instead of an option with a value: options without, the value that each stands for, and
        what it means. The first turns the setting on, the others say how.
    """

    name: str
    default: Any
    check: Check
    group: str
    words: str
    more: str = ""
    unit: str = ""
    metavar: str = ""
    unset: str = ""
    where: str = TAKE
    usual: bool = False
    looks: bool = False
    needs: str = ""
    switches: tuple[tuple[str, str, str], ...] = ()

    @property
    def option(self) -> str:
        """How it is called on the command line."""
        return f"--{self.name.replace('_', '-')}"

    @property
    def shown(self) -> str:
        """What holds if it is not given, in words."""
        if self.default in (None, ()):
            return self.unset
        if isinstance(self.default, tuple):
            return ", ".join(self.default)
        return f"{self.default:g}" if isinstance(self.default, float) else str(self.default)


def setting(default: T, check: Check, group: str, words: str, **facts: Any) -> T:
    """List a setting: a field of the recipe that carries what `Setting` tells of it.

    Parameters
    ----------
    default : object
    check : Check
    group, words : str
        See `Setting`, as for all others.
    """
    known = {"check": check, "group": group, "words": words, **facts}
    listed: T = field(default=default, metadata=known)
    return listed


def settings_of(table: Any) -> dict[str, Setting]:
    """The settings that a table lists, by name."""
    return {one.name: _setting(one) for one in fields(table)}


def _setting(one: "Field[Any]") -> Setting:
    return Setting(name=one.name, default=one.default, **one.metadata)
