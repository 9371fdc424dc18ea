"""evenhand tightens drum performances recorded as MIDI and leaves the drummer in them."""

# Not from `typing`: nothing is imported before the command can answer Ctrl-C (see `__main__`).
TYPE_CHECKING = False
if TYPE_CHECKING:
    from evenhand.assessor import Assessment, View, assess
    from evenhand.errors import (
        ArgumentError,
        DiskError,
        EvenhandError,
        LossWarning,
        MidiFileError,
        SettingError,
    )
    from evenhand.fitter import Fitted, fit
    from evenhand.outcome import Changes, Flag, Section
    from evenhand.recipe import Recipe, read_recipe
    from evenhand.take import Hits, Take, read_take
    from evenhand.tightener import Result, tighten

__version__ = "0.1.0"

__all__ = [
    "ArgumentError",
    "Assessment",
    "Changes",
    "DiskError",
    "EvenhandError",
    "Fitted",
    "Flag",
    "Hits",
    "LossWarning",
    "MidiFileError",
    "Recipe",
    "Result",
    "Section",
    "SettingError",
    "Take",
    "View",
    "__version__",
    "assess",
    "fit",
    "read_recipe",
    "read_take",
    "tighten",
]

# Looked up when first used: numpy is not needed to show a help page.
_ROOMS = {
    "Assessment": "assessor",
    "View": "assessor",
    "assess": "assessor",
    "Fitted": "fitter",
    "fit": "fitter",
    "ArgumentError": "errors",
    "DiskError": "errors",
    "EvenhandError": "errors",
    "LossWarning": "errors",
    "MidiFileError": "errors",
    "SettingError": "errors",
    "Recipe": "recipe",
    "read_recipe": "recipe",
    "Changes": "outcome",
    "Flag": "outcome",
    "Section": "outcome",
    "Hits": "take",
    "Take": "take.take",
    "read_take": "take",
    "Result": "tightener",
    "tighten": "tightener",
}


def __getattr__(name: str) -> object:
    if name not in _ROOMS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_ROOMS[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
