"""A review of a take on the map of its song."""

import subprocess
from pathlib import Path

import mido
from tests.review.client import COMMAND, Client, review

from evenhand import Take, read_recipe
from evenhand.jobs.demo_take import demo_take


def test_a_take_on_its_song_is_decided_kept_and_gone_on_with(tmp_path: Path) -> None:
    # The take as a kit without a song would write it: at 120 bpm, whatever was played.
    demo, take = Take.from_bytes(demo_take()), tmp_path / "take.mid"
    (tmp_path / "song.mid").write_bytes(demo_take())
    midi, track, now = mido.MidiFile(type=1, ticks_per_beat=480), mido.MidiTrack(), 0
    for at, note, loud in zip(demo.hits().ms, demo.hits().note, demo.hits().velocity, strict=True):
        tick = round(float(at) * 0.96)
        track.append(
            mido.Message("note_on", channel=9, note=int(note), velocity=int(loud), time=tick - now)
        )
        now = tick
    midi.tracks.append(track)
    midi.save(take)

    recipe = tmp_path / "take.recipe.toml"
    with review(take, "--song", str(tmp_path / "song.mid")) as server, server.talk() as line:
        client = Client(line)
        assert client.data["facts"] == "4/4, 108 bpm, on the map of song.mid"
        assert "verse 1" in [one["name"] for one in client.data["sections"]]
        place = client.data["flags"][0]["place"]
        assert client.ask("hold", at=place, on=True)["kind"] == "changed"
        # The song is named as seen from beside the recipe.
        assert read_recipe(recipe).hold == (place,)
        assert 'song = "song.mid"' in recipe.read_text(encoding="utf-8")
        assert client.ask("keep")["kind"] == "kept"
        after = client.data["hits"]["after"]
    by_hand = tmp_path / "by-hand.mid"
    subprocess.run(
        [*COMMAND[:-1], "tighten", take, "--recipe", recipe, "-o", by_hand, "--no-record"],
        check=True,
        capture_output=True,
    )
    assert (tmp_path / "take-tight.mid").read_bytes() == by_hand.read_bytes()
    # Without naming it again, the next review is on the song as well.
    with review(take) as server, server.talk() as line:
        client = Client(line)
        assert client.data["hits"]["after"] == after
        assert client.data["facts"].endswith("on the map of song.mid")
