"""Cleaning as a whole: reasons, lengths, what is put back."""

import mido
import numpy as np
import pytest
from tests.build import HAT, KICK, RIM, SNARE, drum_take, midi_bytes, track

from evenhand import SettingError, Take
from evenhand.jobs.triggers.clean import (
    CROSSTALK,
    DOUBLE,
    LENGTH_MS,
    TOO_SOFT,
    Cleaned,
    Cleaning,
    find_faults,
)
from evenhand.jobs.triggers.per_piece import Dials
from evenhand.jobs.triggers.sheet import STUCK, Sheet, read_sheet
from evenhand.kit.maps import KIT_MAPS

KIT = KIT_MAPS["ekit"]


def _sheet() -> Sheet:
    """Eight bars: kick, snare, hat; the kick shakes the snare, one snare echoes on its rim."""
    notes = []
    for beat in range(32):
        notes += [(beat * 480, HAT, 70), (beat * 480, SNARE if beat % 2 else KICK, 100)]
        if not beat % 2:
            notes.append((beat * 480 + 3, SNARE, 14 + beat % 7))
    notes.append((480 + 14, RIM, 35))
    return read_sheet(drum_take(notes), KIT)


def _found(cleaning: Cleaning) -> tuple[Sheet, Cleaned, dict[str, int]]:
    sheet = _sheet()
    cleaned = find_faults(sheet, cleaning)
    names, counts = np.unique(cleaned.reason, return_counts=True)
    return sheet, cleaned, dict(zip(names.tolist(), counts.tolist(), strict=True))


def test_each_kind_is_found_with_its_cause() -> None:
    sheet, cleaned, counts = _found(Cleaning())
    assert counts == {CROSSTALK: 16, DOUBLE: 1}
    assert cleaned.keep().sum() == len(sheet) - 17
    hits = sheet.hits
    for hit, of, reason in zip(cleaned.hit, cleaned.of, cleaned.reason, strict=True):
        assert hits.note[hit] == (RIM if reason == DOUBLE else SNARE)
        assert hits.note[of] == (SNARE if reason == DOUBLE else KICK)


def test_each_step_can_be_left_out() -> None:
    assert _found(Cleaning(doubles=False))[2] == {CROSSTALK: 16}
    assert _found(Cleaning(crosstalk=False))[2] == {DOUBLE: 1}
    assert _found(Cleaning(crosstalk=False, doubles=False))[2] == {}
    assert _found(Cleaning(crosstalk=False, mask=Dials(36, {"snare": 10})))[2] == {}


def test_too_soft() -> None:
    low = Dials(1, {"hat": 71, "snare": 20})
    _, _, counts = _found(Cleaning(drop_below=low))
    assert counts == {CROSSTALK: 16, DOUBLE: 1, TOO_SOFT: 32}
    _, cleaned, _ = _found(Cleaning(drop_below=Dials(128)))
    assert not cleaned.keep().any()


def test_put_back_by_number() -> None:
    sheet, before, _ = _found(Cleaning())
    number = int(before.hit[3]) + 1
    cleaned = find_faults(sheet, Cleaning(put_back=(number, number)))
    assert set(before.hit.tolist()) - set(cleaned.hit.tolist()) == {number - 1}
    assert cleaned.put_back.tolist() == [number - 1]


@pytest.mark.parametrize(
    ("number", "says"), [(0, "no hit 0"), (999, "no hit 999; the last is 81"), (1, "hit 1 was not")]
)
def test_what_was_not_removed_cannot_be_put_back(number: int, says: str) -> None:
    with pytest.raises(SettingError, match=f"put-back: .*{says}"):
        _found(Cleaning(put_back=(number,)))


def _on(tick: int, note: int, velocity: int = 90) -> tuple[int, mido.Message]:
    return tick, mido.Message("note_on", channel=9, note=note, velocity=velocity)


def _off(tick: int, note: int) -> tuple[int, mido.Message]:
    return tick, mido.Message("note_off", channel=9, note=note)


def test_stuck_and_zero_length_notes() -> None:
    events = [
        _on(0, KICK), _off(100, KICK),  # sound
        _on(480, KICK), _off(480, KICK),  # zero
        _on(960, KICK),  # stuck: its end is missing
        _on(1440, KICK), _on(1540, KICK, 0),  # sound, ended by velocity 0
        _on(1920, SNARE), _off(1920 + 20_000, SNARE),  # stuck for 20.8 s
    ]  # fmt: skip
    sheet = read_sheet(Take.from_bytes(midi_bytes(track(events))), KIT)
    assert sheet.length.tolist() == [100, 0, STUCK, 100, 20_000]
    odd = [False, True, True, False, True]
    assert find_faults(sheet, Cleaning()).relength.tolist() == odd
    assert not find_faults(sheet, Cleaning(lengths=False)).relength.any()
    assert LENGTH_MS == 100


def test_overlapping_notes_each_have_an_end() -> None:
    events = [_on(0, SNARE), _on(30, SNARE), _off(96, SNARE), _off(126, SNARE)]
    sheet = read_sheet(Take.from_bytes(midi_bytes(track(events))), KIT)
    assert sheet.length.tolist() == [126, 66]


def test_hat_and_pedal_columns() -> None:
    def pedal(tick: int, value: int) -> tuple[int, mido.Message]:
        return tick, mido.Message("control_change", channel=9, control=4, value=value)

    events = [_on(0, 46), pedal(10, 20), _on(20, 26), pedal(30, 88), _on(40, 42), _on(50, 44)]
    sheet = read_sheet(Take.from_bytes(midi_bytes(track(events))), KIT)
    assert sheet.pedal.tolist() == [-1, 20, 88, 88]
    assert sheet.opening.tolist() == ["open", "open", "closed", ""]
    assert sheet.zone.tolist() == ["bow", "edge", "bow", "pedal"]
    assert sheet.pad.tolist() == ["hat", "hat", "hat", "hat pedal"]
