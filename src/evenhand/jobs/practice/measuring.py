"""Measuring many takes, in this process or in several: the figures are the same."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from evenhand.errors import EvenhandError
from evenhand.jobs.practice.gather import Found
from evenhand.jobs.practice.take_figures import TakeFigures, figures_of
from evenhand.jobs.workers import Workers
from evenhand.recipe import Recipe
from evenhand.take import Take, read_bytes

#: Below this many takes other processes cost more time than they save.
_WORTH_IT = 24


@dataclass(frozen=True)
class Played:
    """A practice take with its figures, or the reason why there are none.

    Attributes
    ----------
    found : Found
    figures : TakeFigures, optional
    reason : str
        Empty where there are figures.
    """

    found: Found
    figures: TakeFigures | None
    reason: str = ""


def measure_one(found: Found, recipe: Recipe, width: int) -> Played:
    """Measure one take; what is wrong with it is told, not raised."""
    try:
        take = Take.from_bytes(read_bytes(found.path), found.name)
        return Played(found, figures_of(take, recipe, width))
    except (EvenhandError, MemoryError) as error:
        return _failed(found, error)


def _failed(found: Found, error: BaseException) -> Played:
    reason = str(error) or "not enough memory for this file"
    for name in (found.name, str(found.path)):
        reason = reason.removeprefix(f"{name}: ").removeprefix(f"{name} ")
    return Played(found, None, reason)


def measure_all(
    takes: Sequence[Found],
    recipe: Recipe,
    width: int,
    workers: int = 1,
    tell: Callable[[], None] = lambda: None,
) -> list[Played]:
    """Measure all takes.

    Parameters
    ----------
    takes : sequence of Found
    recipe : Recipe
    width : int
        Width of a tempo group, bpm.
    workers : int
        Processes; the outcome does not depend on them.
    tell : callable
        Called after each take.

    Returns
    -------
    list of Played
        In the order of `takes`.
    """
    one = partial(measure_one, recipe=recipe, width=width)
    many = workers > 1 and len(takes) >= _WORTH_IT
    played = {}
    for done in _together(one, takes, workers) if many else map(one, takes):
        played[done.found] = done
        tell()
    return [played[found] for found in takes]


def _together(
    one: Callable[[Found], Played], takes: Sequence[Found], workers: int
) -> Iterator[Played]:
    """Measure in several processes; a take that ends one fails alone."""
    for found, done in Workers(workers).run(one, takes):
        if isinstance(done, Played):
            yield done
        elif isinstance(done, EvenhandError):
            yield _failed(found, done)
        else:
            raise done
