"""What comes back from another machine: right answers are used, forged ones are refused."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.jobs.batch.few import run, small_take, some_takes, tree

from evenhand import Recipe
from evenhand.errors import EvenhandError
from evenhand.jobs.batch.answer import AnswerError, answer, read_answer
from evenhand.jobs.batch.inputs import Source
from evenhand.jobs.batch.one import Task
from evenhand.jobs.batch.order import DONE, FAILED
from evenhand.jobs.batch.record import digest, key_of


def _task(recipe: Recipe = Recipe(), data: bytes = b"") -> Task:  # noqa: B008 -- never changed
    data = data or small_take(3)
    return Task(Source("a.mid", "/a.mid"), key_of("a.mid", data, recipe, None, {}), data, recipe)


@pytest.mark.parametrize(
    "recipe", [Recipe(), Recipe(fit="auto"), Recipe(resolution=960, window=0, hold=("1:1-2:1",))]
)
def test_right_answers_are_used(recipe: Recipe) -> None:
    task = _task(recipe)
    made = read_answer(answer(task), task)
    assert digest(made.midi) == made.about["files"]["midi"]


def test_a_reason_comes_back_as_it_is() -> None:
    task = _task(data=b"no take")
    with pytest.raises(EvenhandError, match="does not begin with MThd"):
        read_answer(answer(task), task)


def _parts(task: Task) -> tuple[dict[str, Any], bytes, bytes]:
    line, _, body = answer(task).partition(b"\n")
    head = json.loads(line)
    return head, body[: head["midi"]], body[head["midi"] :]


def _joined(head: dict[str, Any], midi: bytes, changes: bytes) -> bytes:
    """An answer whose sizes and hashes are in order, whatever else is not."""
    head = {**head, "midi": len(midi), "changes": len(changes)}
    if isinstance(head["about"], dict):
        files = {"midi": digest(midi), "changes": digest(changes)}
        head["about"] = {**head["about"], "files": files}
    return json.dumps(head).encode() + b"\n" + midi + changes


def _about(**changes: Any) -> Callable[[dict[str, Any], bytes, bytes], bytes]:
    def forge(head: dict[str, Any], midi: bytes, log: bytes) -> bytes:
        return _joined({**head, "about": {**head["about"], **changes}}, midi, log)

    return forge


def _louder(head: dict[str, Any], midi: bytes, log: bytes) -> bytes:
    """One hit has another velocity."""
    at = midi.index(bytes((36, 100)))
    return _joined(head, midi[: at + 1] + b"\x63" + midi[at + 2 :], log)


FORGED: dict[str, Callable[[dict[str, Any], bytes, bytes], Any]] = {
    "nothing": lambda *_: b"",
    "an object": lambda *_: {"midi": 1},
    "no JSON": lambda *_: b"[" * 100_000 + b"\n",
    "a number that is none": lambda *_: b'{"failed": NaN}\n',
    "a reason that is no text": lambda *_: b'{"failed": [1]}\n',
    "no record": lambda head, midi, log: _joined({**head, "about": None}, midi, log),
    "sizes": lambda head, midi, log: json.dumps({**head, "midi": -1}).encode() + b"\n" + midi + log,
    "a false hash": lambda head, midi, log: json.dumps(head).encode() + b"\n" + log + midi,
    "another key": _about(key={"take": "a.mid", "input": "", "recipe": "", "version": "9"}),
    "another recipe": _about(recipe={"strength": 1}),
    "no figures": _about(figures={}),
    "flags that are no flags": _about(flags=[{"place": 1}]),
    "sections that are none": _about(sections=[1]),
    "a meter that is no text": _about(meter=["<b>"]),
    "endless numbers": _about(bars=1e400),
    "depth": _about(more=json.loads("[" * 50 + "]" * 50)),
    "no take": lambda head, _, log: _joined(head, b"MThd", log),
    "another take": lambda head, _, log: _joined(head, small_take(9, 5), log),
    "another velocity": _louder,
    "a formula": lambda head, midi, log: _joined(head, midi, log.replace(b"kept,", b"=1+1,", 1)),
    "a short log": lambda head, midi, log: _joined(head, midi, log[: log.rindex(b"\n", 0, -1) + 1]),
    "no log": lambda head, midi, _: _joined(head, midi, b""),
}


@pytest.mark.parametrize("what", FORGED)
def test_forged_answers_are_refused(what: str) -> None:
    task = _task()
    with pytest.raises(AnswerError, match="the worker's answer was not used"):
        read_answer(FORGED[what](*_parts(task)), task)


class Liars:
    """Workers that answer something else, every other time."""

    shares_disk = False

    def run(self, function: Any, items: Any) -> Any:
        for number, item in enumerate(items):
            data = function(item)
            yield item, data.replace(b"kept,", b"=cmd,") if number % 2 else data


def test_nothing_of_a_forged_answer_is_written(tmp_path: Path) -> None:
    takes = some_takes(tmp_path / "in", 4)
    outcomes = run(takes, tmp_path / "out", Liars())
    assert [one.state for one in outcomes] == [DONE, FAILED] * 2
    there = tree(tmp_path / "out")
    assert len([name for name in there if name.endswith(".mid")]) == 2
    assert not [name for name, data in there.items() if b"=cmd" in data]
