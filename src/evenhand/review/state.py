"""The state of a review, and what each change makes of it: values in, values out.

A state is never altered: a change makes a new one, and the history keeps them all. So undoing is
going back to a value, and gives it back bit for bit.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from evenhand.errors import SettingError
from evenhand.recipe import Recipe
from evenhand.review.heard import SpokenMark, read_mark

#: Steps that can be undone.
_MOST_STEPS = 1000

#: Settings that would make another take of it, or that name files: not for a page.
_NOT_FOR_PAGES = (
    "kit",
    "song",
    "against",
    "habit_from",
    "channel",
    "resolution",
    "section",
    "hold",
    "nudge",
)


@dataclass(frozen=True)
class State:
    """What was decided so far.

    Attributes
    ----------
    recipe : Recipe
    marks : tuple of SpokenMark
        What was said of the flags that were listened to.
    """

    recipe: Recipe
    marks: tuple[SpokenMark, ...] = ()


@dataclass(frozen=True)
class Undoable:
    """The state with the way to it and, after an undo, the way on from it.

    Attributes
    ----------
    present : State
    past, future : tuple of State
        The nearest last.
    gesture : str
        What the last change belongs to: a dial that is turned on makes one step.
    slot : Recipe or None
        Settings put aside to compare with; not undone.
    """

    present: State
    past: tuple[State, ...] = ()
    future: tuple[State, ...] = ()
    gesture: str = ""
    slot: Recipe | None = field(default=None, compare=False)

    def to(self, state: State, gesture: str = "") -> "Undoable":
        """Go on to another state; the same one makes no step."""
        if state == self.present:
            return self
        going_on = gesture and gesture == self.gesture
        past = self.past if going_on else (*self.past, self.present)[-_MOST_STEPS:]
        return replace(self, present=state, past=past, future=(), gesture=gesture)

    def undone(self) -> "Undoable":
        """One step back, if there is one."""
        if not self.past:
            return self
        *past, present = self.past
        future = (*self.future, self.present)
        return replace(self, present=present, past=tuple(past), future=future, gesture="")

    def redone(self) -> "Undoable":
        """One step on again, if there is one."""
        if not self.future:
            return self
        *future, present = self.future
        past = (*self.past, self.present)
        return replace(self, present=present, past=past, future=tuple(future), gesture="")


def changed(history: Undoable, change: Mapping[str, Any]) -> Undoable:
    """Make a change.

    Parameters
    ----------
    history : Undoable
    change : mapping
        As the page sends it, see docs/review-protocol.md: hostile until proved otherwise.

    Raises
    ------
    SettingError
        If it is no change, or its values make no sense; the message says what.
    """
    name = change.get("op")
    if name == "undo":
        return history.undone()
    if name == "redo":
        return history.redone()
    if name == "slot":
        return replace(history, slot=history.present.recipe)
    if name == "use slot":
        if history.slot is None:
            raise SettingError("nothing was put aside yet")
        return history.to(replace(history.present, recipe=history.slot))
    return history.to(_after(history.present, change), _text(change, "gesture", ""))


def _after(state: State, change: Mapping[str, Any], deep: bool = False) -> State:
    name = change.get("op")
    if name == "several" and not deep:
        steps = change.get("ops")
        if not isinstance(steps, list) or len(steps) > 100:
            raise SettingError("several: ops is not a list of up to 100 changes")
        for step in steps:
            if not isinstance(step, Mapping):
                raise SettingError("several: a change is not an object")
            state = _after(state, step, deep=True)
        return state
    if not isinstance(name, str) or name not in _CHANGES:
        raise SettingError(f"op: {name!r} is none of {', '.join(_CHANGES)}")
    return _CHANGES[name](state, change)


def _set(state: State, change: Mapping[str, Any]) -> State:
    """A setting of the take or of a section; null makes it the usual one again."""
    name, value, recipe = _text(change, "name"), change.get("value"), state.recipe
    if name in _NOT_FOR_PAGES:
        raise SettingError(f"{name}: can't be set here")
    section = change.get("section")
    if section is None:
        value = Recipe().settings().get(name) if value is None else value
        return replace(state, recipe=recipe.with_settings({name: value}))
    if not isinstance(section, Mapping):
        raise SettingError("section: not an object with name and bars")
    place = {key: _text(section, key, "") for key in ("name", "bars")}
    place = {key: text for key, text in place.items() if text}
    tables = []
    found = False
    for table in recipe.settings()["section"]:
        mine = all(table.get(key, "") == place.get(key, "") for key in ("name", "bars"))
        found |= mine
        tables.append(_with(table, name, value) if mine else table)
    if not found:
        tables.append(_with(place, name, value))
    tables = [table for table in tables if set(table) - {"name", "bars"}]
    return replace(state, recipe=recipe.with_settings({"section": tuple(tables)}))


def _with(table: Mapping[str, Any], name: str, value: Any) -> dict[str, Any]:
    rest = {key: one for key, one in table.items() if key != name}
    return rest if value is None else {**rest, name: value}


def _hold(state: State, change: Mapping[str, Any]) -> State:
    """A place that stays as played, or no longer does."""
    at, holds = _text(change, "at"), state.recipe.hold
    rest = tuple(one for one in holds if one != at)
    if change.get("on") is True:
        rest = holds if at in holds else (*holds, at)
    elif change.get("on") is not False:
        raise SettingError("hold: on is neither true nor false")
    return replace(state, recipe=state.recipe.with_settings({"hold": rest}))


def _nudge(state: State, change: Mapping[str, Any]) -> State:
    """A stroke that the hand puts elsewhere; by 0 ms: no longer."""
    at, piece, ms = _text(change, "at"), _text(change, "piece", ""), change.get("ms")
    rest = [one for one in state.recipe.nudge if (one.at, one.piece) != (at, piece)]
    given = {"at": at, "ms": ms} | ({"piece": piece} if piece else {})
    nudges = tuple(rest) if ms == 0 else (*rest, given)
    return replace(state, recipe=state.recipe.with_settings({"nudge": nudges}))


def _mark(state: State, change: Mapping[str, Any]) -> State:
    """What was said of a flag; null takes it back."""
    key = _text(change, "key")
    rest = tuple(one for one in state.marks if one.key != key)
    if change.get("as") is None:
        return replace(state, marks=rest)
    return replace(state, marks=(*rest, read_mark(change)))


_CHANGES: dict[str, Callable[[State, Mapping[str, Any]], State]] = {
    "set": _set,
    "hold": _hold,
    "nudge": _nudge,
    "mark": _mark,
}


def _text(change: Mapping[str, Any], name: str, usual: str | None = None) -> str:
    value = change.get(name, usual)
    if not isinstance(value, str) or len(value) > 200:
        raise SettingError(f"{name}: {value!r} is not a short text")
    return value
