"""Files that a recipe names, and the places in a song."""

import os
from pathlib import Path

import pytest

from evenhand import Recipe, SettingError
from evenhand.recipe.file_names import named_files, seen_from, with_files


def _recipe(folder: Path) -> Recipe:
    for name in ("song.mid", "bass.mid", "mine.toml"):
        (folder / name).write_bytes(b"")
    return Recipe(
        song=str(folder / "song.mid"),
        against=f"{folder / 'bass.mid'}:Bass",
        kit=str(folder / "mine.toml"),
    )


def test_files_go_elsewhere_and_what_is_meant_in_them_stays(tmp_path: Path) -> None:
    recipe = _recipe(tmp_path)
    assert named_files(recipe)["against"] == str(tmp_path / "bass.mid")
    moved = with_files(recipe, {"song": "a.mid", "against": "b.mid"})
    assert (moved.song, moved.against) == ("a.mid", "b.mid:Bass")


def test_files_are_named_as_seen_from_beside_the_recipe(tmp_path: Path) -> None:
    seen = seen_from(tmp_path / "deep" / "r.toml", _recipe(tmp_path))
    assert (seen.song, seen.against, seen.kit) == (
        "../song.mid",
        "../bass.mid:Bass",
        "../mine.toml",
    )
    assert seen_from(tmp_path / "r.toml", Recipe()) == Recipe()


def test_a_place_in_the_song_is_bar_and_beat_or_seconds() -> None:
    assert Recipe(song="s.mid", song_at="5:1").song_at == "5:1"
    assert Recipe(song="s.mid", song_at=12.5).song_at == "12.5"
    for bad in (True, float("nan"), 2e6, ["5:1"]):
        with pytest.raises(SettingError, match=r"song_at: .* is neither bar:beat nor seconds"):
            Recipe(song="s.mid", song_at=bad)


def test_a_file_on_another_disk_is_named_in_full(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> str:
        raise ValueError("path is on mount 'C:', start on mount 'D:'")

    monkeypatch.setattr(os.path, "relpath", refuse)
    seen = seen_from(tmp_path / "r.toml", _recipe(tmp_path))
    assert seen.song == str(tmp_path.resolve() / "song.mid")
