"""The public face as a typed program: mypy checks this file with the package (see pyproject)."""

from pathlib import Path

import mido
import numpy as np
import numpy.typing as npt

import evenhand
from evenhand.jobs.demo_take import demo_take


def test_public_face_as_a_user_writes_it(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.write_bytes(demo_take())
    take: evenhand.Take = evenhand.read_take(path)
    recipe: evenhand.Recipe = evenhand.Recipe(strength=60, hold=("17:4-18:1",))
    result: evenhand.Result = evenhand.tighten(take, recipe)
    shifts: npt.NDArray[np.float64] = result.changes.shift_ms
    places: list[str] = [str(flag.place) for flag in result.flags]
    share: float = result.figures.tightness["all"].inside_after
    result.take.save(tmp_path / "tight.mid")

    assert len(shifts) == result.figures.hits
    assert places
    assert 0 <= share <= 100
    assert (tmp_path / "tight.mid").read_bytes() == result.take.to_bytes()


def test_conversions_there_and_back(tmp_path: Path) -> None:
    take = evenhand.Take.from_bytes(demo_take())
    midi: mido.MidiFile = take.to_mido()
    again = evenhand.Take.from_mido(midi)
    assert again.hits().tick.tolist() == take.hits().tick.tolist()
    assert again.hits().note.tolist() == take.hits().note.tolist()

    pretty = take.to_pretty_midi()
    (drums,) = pretty.instruments
    assert drums.is_drum
    assert sorted(note.velocity for note in drums.notes) == sorted(take.hits().velocity.tolist())
    back = evenhand.Take.from_pretty_midi(pretty)
    # The library writes with the take's own division: half a tick is 0.58 ms at 108 bpm.
    assert back.division == take.division
    assert np.allclose(np.sort(back.hits().ms), np.sort(take.hits().ms), rtol=0, atol=0.58)


def test_refusals_are_one_root() -> None:
    for error in (evenhand.MidiFileError, evenhand.SettingError, evenhand.DiskError):
        assert issubclass(error, evenhand.EvenhandError)
