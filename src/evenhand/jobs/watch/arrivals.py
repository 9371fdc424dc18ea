"""Which files in a folder have arrived: still for two seconds, and whole."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from evenhand.errors import DiskError, MidiFileError
from evenhand.jobs.batch import Source
from evenhand.take import Take, read_bytes

#: How long a file must have been still, s.
STILL_S = 2.0

#: What tells that a file is the one that was seen before: size, time of change, place on disk.
_State = tuple[int, int, int]


@dataclass
class _Seen:
    state: _State
    since: float
    told: bool = False


@dataclass
class Arrivals:
    """Keeps an eye on files; has no clock of its own.

    Attributes
    ----------
    still_s : float
        How long a file must have been still.
    """

    still_s: float = STILL_S
    _waiting: dict[Source, _Seen] = field(default_factory=dict)
    _arrived: dict[Source, _State] = field(default_factory=dict)

    @property
    def arrived(self) -> list[Source]:
        """All that have arrived and are as they were, in the order of their names."""
        return sorted(self._arrived)

    @property
    def waiting(self) -> bool:
        """Whether any file may arrive without a further change in the folder."""
        return any(not seen.told for seen in self._waiting.values())

    def look(self, found: Iterable[Source], now: float) -> tuple[list[Source], dict[Source, str]]:
        """Look at the files once more.

        Parameters
        ----------
        found : iterable of Source
            All takes that are in the folder.
        now : float
            Seconds, of any clock that only goes forward.

        Returns
        -------
        new : list of Source
            Those that have arrived since the last look, or have arrived again with other bytes.
        broken : dict of Source to str
            Those that have been still as long and don't read whole, and why; each told once. They
            are looked at again when they change.
        """
        states = {one: state for one in found if (state := _state(one)) is not None}
        for gone in [one for one in {**self._waiting, **self._arrived} if one not in states]:
            self._waiting.pop(gone, None)
            self._arrived.pop(gone, None)
        new: list[Source] = []
        broken: dict[Source, str] = {}
        for one, state in states.items():
            if self._arrived.get(one) == state:
                continue
            seen = self._waiting.get(one)
            if seen is None or seen.state != state:
                self._arrived.pop(one, None)
                self._waiting[one] = _Seen(state, now)
            elif not seen.told and now - seen.since >= self.still_s:
                self._settle(one, seen, new, broken)
        return sorted(new), broken

    def _settle(
        self, one: Source, seen: _Seen, new: list[Source], broken: dict[Source, str]
    ) -> None:
        """A file has been still for long enough: it has arrived if it reads whole."""
        try:
            Take.from_bytes(read_bytes(Path(one.path)), one.name)
        except (MidiFileError, DiskError) as error:
            seen.told = True
            broken[one] = str(error).removeprefix(f"{one.name}: ")
            return
        if _state(one) == seen.state:
            del self._waiting[one]
            self._arrived[one] = seen.state
            new.append(one)

    def changed(self, one: Source) -> bool:
        """Whether a file that had arrived has become another meanwhile."""
        return self._arrived.get(one) != _state(one)


def _state(one: Source) -> _State | None:
    try:
        about = Path(one.path).stat()
    except OSError:
        return None
    return about.st_size, about.st_mtime_ns, about.st_ino
