"""What the workers of the tests do; they find it by importing this."""

import os
import signal
import time
from pathlib import Path

from evenhand.errors import DiskError


def square(number: int) -> int:
    return number**2


def stumble(number: int) -> int:
    if number == 1:
        raise DiskError("no room")
    return number // (number != 3)


def die_of_seven(number: int) -> int:
    if number == 7:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def die_once(item: tuple[int, str]) -> int:
    number, mark = item
    if number == 5 and not Path(mark).exists():
        Path(mark).write_text("")
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def write_pid(path: str) -> None:
    Path(path).write_text(str(os.getpid()))
    time.sleep(0.3)


def slowly(number: int) -> int:
    time.sleep(0.2)
    return number
