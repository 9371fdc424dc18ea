"""Locks: one at a time, and whoever waits gets in when the other has gone."""

import os
import threading
from pathlib import Path

import pytest

from evenhand.take import locks
from evenhand.take.locks import alone_in, is_still, try_lock


def test_a_lock_is_had_once(tmp_path: Path) -> None:
    path = tmp_path / "a"
    one, other = (os.open(path, os.O_RDWR | os.O_CREAT) for _ in range(2))
    assert try_lock(one)
    assert not try_lock(other)
    os.close(one)
    assert try_lock(other)
    assert is_still(other, path)
    path.unlink()
    assert not is_still(other, path)
    os.close(other)


def test_who_waits_for_a_folder_gets_it(tmp_path: Path) -> None:
    order: list[str] = []
    inside, leave = threading.Event(), threading.Event()

    def first() -> None:
        with alone_in(tmp_path):
            inside.set()
            leave.wait(5)
            order.append("first")

    thread = threading.Thread(target=first)
    thread.start()
    assert inside.wait(5)
    threading.Timer(0.1, leave.set).start()
    with alone_in(tmp_path):
        order.append("second")
    thread.join()
    assert order == ["first", "second"]


def test_nobody_is_waited_for_forever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(locks, "_PATIENCE", 0.05)
    with alone_in(tmp_path), alone_in(tmp_path):
        pass
    # What is no folder that can be opened is nothing to wait for either.
    with alone_in(tmp_path / "none"):
        pass
