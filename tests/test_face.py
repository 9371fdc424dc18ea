"""The face for Python as a new user meets it: what is given, shown, saved, and refused."""

import io
import pickle
import tempfile
from pathlib import Path

import mido
import numpy as np
import pytest

import evenhand
from evenhand.jobs.demo_take import demo_take
from evenhand.outcome import COLUMNS
from evenhand.paper import change_log

DEMO = demo_take()


@pytest.fixture(scope="module")
def take() -> evenhand.Take:
    return evenhand.read_take(DEMO, "demo")


@pytest.fixture(scope="module")
def result(take: evenhand.Take) -> evenhand.Result:
    return evenhand.tighten(take)


@pytest.fixture(scope="module")
def view(take: evenhand.Take) -> evenhand.Assessment:
    return evenhand.assess(take)


def _midi(*messages: mido.Message) -> evenhand.Take:
    midi = mido.MidiFile(ticks_per_beat=480)
    midi.tracks.append(mido.MidiTrack(messages))
    return evenhand.Take.from_mido(midi)


def test_a_take_is_read_from_whatever_holds_it(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.write_bytes(DEMO)
    with path.open("rb") as file, tempfile.TemporaryFile() as nameless:
        nameless.write(DEMO)
        nameless.seek(0)
        given = [path, str(path), DEMO, bytearray(DEMO), memoryview(DEMO), io.BytesIO(DEMO)]
        takes = [evenhand.read_take(one) for one in (*given, file, nameless)]
        assert not file.closed
    assert {one.to_bytes() for one in takes} == {DEMO}
    assert [one.name for one in takes[:3]] == [str(path), str(path), "take"]
    assert [one.name for one in takes[-3:]] == ["take", str(path), "take"]
    assert evenhand.read_take(DEMO, "mine").name == evenhand.read_take(path, "mine").name == "mine"


def test_what_holds_no_take_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.write_bytes(b"MThd")
    for given in (None, 7, [DEMO], np.zeros(3)):
        with pytest.raises(
            evenhand.ArgumentError, match="takes a path, bytes or an open file, not"
        ):
            evenhand.read_take(given)
    as_text = pytest.raises(evenhand.ArgumentError, match=r'is open as text; .* mode "rb"')
    with path.open(encoding="latin-1") as text, as_text:
        evenhand.read_take(text)
    with pytest.raises(evenhand.DiskError, match="closed file"):
        evenhand.read_take(text)
    with path.open("ab") as writing, pytest.raises(evenhand.DiskError, match="can't be read"):
        evenhand.read_take(writing)
    with pytest.raises(evenhand.MidiFileError, match=r"^mine: "):
        evenhand.read_take(b"", "mine")


def test_an_open_file_is_read_up_to_the_limit() -> None:
    from evenhand.take import reading_up_to

    with reading_up_to(0.001), pytest.raises(evenhand.DiskError, match=r"read up to 0\.001 MB"):
        evenhand.read_take(io.BytesIO(DEMO))


@pytest.mark.parametrize("work", [evenhand.tighten, evenhand.assess, evenhand.fit])
def test_a_path_is_no_take(work, take: evenhand.Take) -> None:
    name = work.__name__
    with pytest.raises(TypeError, match=f"{name} takes a take, not 'take.mid'; read it first"):
        work("take.mid")
    with pytest.raises(evenhand.ArgumentError, match=rf"{name}\(read_take\(…\)\)"):
        work(Path("take.mid"))
    with pytest.raises(evenhand.EvenhandError, match=f"not {len(DEMO)} bytes"):
        work(DEMO)
    with pytest.raises(evenhand.ArgumentError, match="not MidiFile"):
        work(take.to_mido())
    for recipe in ({"strength": 60}, "song.toml", 60):
        with pytest.raises(evenhand.ArgumentError, match=f"{name} takes a recipe, not "):
            work(take, recipe)


def test_hits_come_with_pieces_and_roles(take: evenhand.Take, result: evenhand.Result) -> None:
    hits = take.hits()
    # Notes 36, 38 and 42 as General MIDI Level 1 names them.
    for note, piece in ((36, "kick"), (38, "snare"), (42, "hat")):
        assert set(hits.piece[hits.note == note].tolist()) == {piece}
    assert set(hits.role[hits.piece == "kick"].tolist()) == {"anchor"}
    assert set(hits.role[hits.piece == "snare"].tolist()) == {"anchor", "ghost"}
    assert hits.piece.tolist() == result.hits.piece.tolist()
    assert hits.tick.tolist() == take.struck().tick.tolist()
    assert set(take.struck().piece.tolist()) == {""}


def test_the_kit_of_hits_can_be_given(tmp_path: Path, take: evenhand.Take) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text('[notes]\n36 = "tom 1"\n')
    assert "kick" not in take.hits(kit=str(kit)).piece
    with pytest.raises(evenhand.SettingError, match="kit"):
        take.hits(kit="drums")


@pytest.mark.parametrize("channel", [0, 17, -1, "10", 10.0, True])
def test_channels_are_checked(take: evenhand.Take, channel: object) -> None:
    for work in (take.hits, take.struck, take.drum_channel):
        with pytest.raises(evenhand.SettingError, match=r"channel: .* from 1 to 16"):
            work(channel)
    assert take.drum_channel(np.int64(10)) == 9


def test_changes_are_columns_with_the_names_of_the_log(result: evenhand.Result) -> None:
    columns = result.changes.to_dict()
    assert ",".join(columns) == COLUMNS
    assert {len(column) for column in columns.values()} == {len(result.changes)}
    rows = result.changes.to_csv().decode().splitlines()
    assert rows[0] == COLUMNS
    first = dict(zip(rows[0].split(","), rows[1].split(","), strict=True))
    for name in ("hit", "track", "channel", "note", "velocity", "bar", "tick_after"):
        assert int(first[name]) == columns[name][0]
    for name in ("shift_ms", "ms_before", "ms_after", "beat"):
        assert float(first[name]) == pytest.approx(columns[name][0], abs=0.0006)
    assert [first["piece"], first["action"]] == [columns["piece"][0], columns["action"][0]]


def test_tables_become_frames(result: evenhand.Result) -> None:
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame(result.changes.to_dict())
    log = pandas.read_csv(io.BytesIO(result.changes.to_csv()))
    assert list(frame.columns) == list(log.columns)
    assert frame["shift_ms"].to_numpy() == pytest.approx(log["shift_ms"].to_numpy(), abs=0.0006)
    assert frame["reason"].tolist() == log["reason"].tolist()
    assert len(pandas.DataFrame(result.hits.to_dict())) == len(result.hits)
    assert len(pandas.DataFrame(result.strokes.to_dict())) == len(result.strokes)


def test_a_result_is_saved_as_the_command_writes_it(
    tmp_path: Path, result: evenhand.Result
) -> None:
    take, log = result.save(tmp_path / "out.mid")
    assert (take, log) == (tmp_path / "out.mid", tmp_path / "out.changes.csv")
    assert take.read_bytes() == result.take.to_bytes()
    assert log.read_bytes() == change_log(result.changes) == result.changes.to_csv()
    with pytest.raises(evenhand.DiskError, match="exists"):
        result.save(take)
    assert result.save(take, overwrite=True) == (take, log)
    take.unlink()
    with pytest.raises(evenhand.DiskError, match="exists"):
        result.save(take)
    assert not take.exists()


def test_the_command_writes_the_same(tmp_path: Path, result: evenhand.Result) -> None:
    from typer.testing import CliRunner

    from evenhand.cli.app import app

    (tmp_path / "take.mid").write_bytes(DEMO)
    command = [
        "tighten",
        str(tmp_path / "take.mid"),
        "-o",
        str(tmp_path / "cmd.mid"),
        "--no-record",
    ]
    assert CliRunner().invoke(app, command).exit_code == 0
    for path in result.save(tmp_path / "saved.mid"):
        assert path.read_bytes() == path.with_name(path.name.replace("saved", "cmd")).read_bytes()


def test_a_result_never_takes_the_place_of_its_take(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.write_bytes(DEMO)
    result = evenhand.tighten(evenhand.read_take(path))
    with pytest.raises(evenhand.DiskError, match="the input itself"):
        result.save(path, overwrite=True)
    assert path.read_bytes() == DEMO


def test_a_log_goes_where_it_is_told_to(tmp_path: Path, result: evenhand.Result) -> None:
    path = tmp_path / "log.csv"
    assert result.changes.to_csv(path) == path.read_bytes() == change_log(result.changes)
    with pytest.raises(evenhand.DiskError, match="exists"):
        result.changes.to_csv(path)


def test_a_recipe_is_changed_and_saved_in_its_own_words(tmp_path: Path) -> None:
    recipe = evenhand.Recipe(strength=60, hold=("17-20",)).replace(strength=80, window=5)
    assert recipe == evenhand.Recipe(strength=80, window=5, hold=("17-20",))
    recipe.save(tmp_path / "song.toml")
    assert evenhand.read_recipe(tmp_path / "song.toml") == recipe
    with pytest.raises(evenhand.DiskError, match="exists"):
        recipe.save(tmp_path / "song.toml")
    with pytest.raises(evenhand.SettingError, match="strenght"):
        recipe.replace(strenght=3)


def test_a_saved_recipe_finds_its_kit(tmp_path: Path) -> None:
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "mine.toml").write_text('[notes]\n36 = "snare"\n')
    recipe = evenhand.Recipe(kit=str(tmp_path / "kits" / "mine.toml"))
    recipe.save(tmp_path / "song.toml")
    assert 'kit = "kits/mine.toml"' in (tmp_path / "song.toml").read_text()
    assert evenhand.read_recipe(tmp_path / "song.toml").load_kit() == recipe.load_kit()


def test_sections_say_how_they_stood_and_stand(result: evenhand.Result) -> None:
    assert [one.name for one in result.sections] == list(result.ground.layout.sections.labels)
    assert sum(one.strokes for one in result.sections) == len(result.strokes)
    for one, kept in zip(result.sections, result.kept, strict=True):
        assert (one.lean, one.spread) == (kept.lean, kept.spread)
        assert 1 <= one.first_bar <= one.last_bar
        assert one.strokes == 0 or one.spread.after <= one.spread.before
    assert result.sections[1].strokes > 0


def test_an_assessment_has_a_view_of_each_section(view: evenhand.Assessment) -> None:
    assert view.views == (view.sections or (view.whole,))
    whole = evenhand.assess(evenhand.read_take(DEMO), evenhand.Recipe(sections="none"))
    assert whole.views == (whole.whole,)


def test_whatever_is_met_shows_itself_in_a_line(
    take: evenhand.Take, result: evenhand.Result, view: evenhand.Assessment
) -> None:
    ground = result.ground
    met = [take, take.smf, take.smf.tracks[0], take.tempo, take.meter, take.time, take.hits()]
    met += [result, result.changes, result.plan, result.carry, result.strokes, result.figures]
    met += [ground, ground.layout, ground.sections, ground.ornaments, ground.fills, ground.dials]
    met += [view, *view.views, view.measured, result.kit, result.recipe, evenhand.fit(take)]
    met += [*result.sections, *result.kept, *result.flags]
    long = {type(one).__name__: len(repr(one)) for one in met if len(repr(one)) > 1000}
    assert long == {}
    assert not any("\n" in repr(one) for one in met)
    assert repr(take) == f"Take('demo', {len(take.smf.tracks)} tracks, division 480)"
    assert repr(result.changes).startswith(f"Changes({len(take.hits())} hits: ")
    assert "kick" in repr(take.hits())


def test_a_result_travels_between_processes(result: evenhand.Result) -> None:
    again = pickle.loads(pickle.dumps(result))
    assert again.take.to_bytes() == result.take.to_bytes()
    assert again.changes.to_csv() == result.changes.to_csv()
    assert again.flags == result.flags
    assert pickle.loads(pickle.dumps(result.recipe)) == result.recipe


def test_a_note_that_the_other_library_drops_is_told() -> None:
    on = {"channel": 9, "velocity": 100}
    short = _midi(
        mido.Message("note_on", note=36, **on),
        mido.Message("note_off", note=36, channel=9, time=120),
        mido.Message("note_on", note=38, time=360, **on),
    )
    with pytest.warns(evenhand.LossWarning, match=r"1 of 2 are lost.* note 38 at 1:2;") as told:
        midi = short.to_pretty_midi()
    assert [note.pitch for note in midi.instruments[0].notes] == [36]
    assert told[0].filename == __file__


def test_a_take_too_long_for_the_other_library_is_refused() -> None:
    far = _midi(
        mido.Message("note_on", channel=9, note=36, velocity=9, time=20_000_000),
        mido.Message("note_off", channel=9, note=36, time=1),
    )
    with pytest.raises(evenhand.MidiFileError, match="pretty_midi does not take it"):
        far.to_pretty_midi()
