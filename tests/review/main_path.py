"""The main path over the live page, in whatever browser: hear, decide, hear again, undo, keep."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.listen.pages import wait_for

from evenhand import read_recipe

_NAMES = "const {Decisions, List, Main, now: Data} = globalThis.evenhand ?? {};"


def walk(run: Callable[[str], Any], press: Callable[..., None], take: Path) -> None:
    """Walk it.

    Parameters
    ----------
    run : callable
        Runs the body of a function in the page, which is open, and returns what it returns.
    press : callable
        Presses keys.
    take : Path
    """

    def ask(script: str) -> Any:
        return run(_NAMES + script)

    recipe = take.with_name(f"{take.stem}.recipe.toml")
    wait_for(lambda: ask("return document.body?.dataset.ready"), seconds=20)
    sentence = ask("return Data.all.sentence")
    press("n")
    wait_for(lambda: ask("return Main.player().playing"))
    start = ask("return Main.player().position()")
    wait_for(lambda: ask("return Main.player().position()") > start + 200)
    item = ask("return List.current()")
    hit = item["hit"]
    before, after = ask(f"return [Data.hits.before[{hit}], Data.hits.after[{hit}]]")
    assert before != after
    press("l")
    wait_for(lambda: ask(f"return Data.hits.after[{hit}]") == before)
    assert ask("return Main.player().playing")
    assert read_recipe(recipe).settings()["hold"] == (item["place"],)
    press("b")
    assert ask("return Main.player().sideNow()") == "before"
    press(" ")
    assert not ask("return Main.player().playing")
    press("u")
    wait_for(lambda: ask("return Data.all.sentence") == sentence)
    ask("document.getElementById('keep').click()")
    wait_for(lambda: take.with_name(f"{take.stem}-tight.mid").exists())
