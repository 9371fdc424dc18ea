from pathlib import Path

import pytest
from tests.passes.history import add, contents, draft, fill

from evenhand import Recipe
from evenhand.errors import DiskError
from evenhand.passes.again import original_of, output_of, run_again, verify
from evenhand.passes.store import read_history


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    fill(tmp_path / "take.passes")
    return tmp_path / "take.passes"


def test_every_recipe_gives_the_recorded_bytes_again(folder: Path) -> None:
    history, drafts = read_history(folder), fill(folder.with_name("x.passes"))
    for one, wanted in zip(history.passes, drafts, strict=True):
        assert run_again(history, one) == wanted.output
    proof = verify(history)
    assert proof.holds
    assert proof.passes == {1: (), 2: (), 3: ()}
    assert proof.edited == ()


def test_verifying_changes_nothing(folder: Path) -> None:
    before = contents(folder)
    verify(read_history(folder))
    assert contents(folder) == before


def test_every_changed_file_is_found(folder: Path) -> None:
    """One byte more in any stored file: the record no longer holds, and the file is named."""
    for name, data in contents(folder).items():
        path = folder / name
        path.write_bytes(data + b" ")
        proof = verify(read_history(folder))
        path.write_bytes(data)
        if name in ("passes.jsonl", "0001/pass.json", "0002/pass.json", "0003/pass.json"):
            assert proof.holds  # a blank behind JSON changes nothing of what it tells
            continue
        assert not proof.holds, name
        told = " ".join(fault for faults in proof.passes.values() for fault in faults)
        assert f"take.passes/{name} was changed" in told


def test_every_missing_file_is_found(folder: Path) -> None:
    for name, data in contents(folder).items():
        path = folder / name
        path.unlink()
        proof = verify(read_history(folder))
        path.write_bytes(data)
        assert not proof.holds, name
        told = [*proof.index, *(fault for faults in proof.passes.values() for fault in faults)]
        assert name in " ".join(told)


def test_a_changed_line_is_found(folder: Path) -> None:
    index = folder / "passes.jsonl"
    index.write_text(index.read_text().replace("second verse looser", "as if"))
    proof = verify(read_history(folder))
    assert "tell different things of pass 2 (note)" in proof.passes[2][0]


def test_a_recipe_that_was_changed_is_found_and_not_run(folder: Path) -> None:
    path = folder / "0002" / "recipe.toml"
    path.write_text(path.read_text().replace("strength = 60.0", "strength = 61.0"))
    faults = verify(read_history(folder)).passes[2]
    assert faults[0].endswith("recipe.toml was changed since it was recorded")
    assert faults[1].startswith("the recipe can't be run again")


def _always_other_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if this evenhand tightened otherwise."""
    monkeypatch.setattr("evenhand.passes.again.run_again", lambda *_: b"other")


def test_a_recipe_that_gives_other_bytes_is_found(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _always_other_bytes(monkeypatch)
    faults = verify(read_history(folder)).passes[2]
    assert faults == ("the stored recipe gives other bytes than were recorded",)


def test_a_recipe_that_can_t_be_read_is_told(folder: Path) -> None:
    (folder / "0002" / "recipe.toml").write_text("grid = [")
    assert "can't be run again" in verify(read_history(folder)).passes[2][1]


def test_another_version_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenhand.passes.again.__version__", "9.9")
    _always_other_bytes(monkeypatch)
    assert "made by evenhand 0." in verify(read_history(folder)).passes[1][0]


def test_files_beside_that_were_edited_are_told_without_blame(folder: Path) -> None:
    one, beside = draft(), folder.parent
    (beside / "take.mid").write_bytes(one.source)
    (beside / "take-tight.mid").write_bytes(read_history(folder).get(3).output.encode())
    proof = verify(read_history(folder))
    assert proof.holds
    assert proof.edited == ("take-tight.mid is no longer what pass 3 wrote",)
    (beside / "take.mid").write_bytes(one.output)
    assert "take.mid is no longer any original on record" in verify(read_history(folder)).edited


def test_a_lost_output_is_made_again(folder: Path) -> None:
    history = read_history(folder)
    path = folder / "0002" / "output.mid"
    data = path.read_bytes()
    for damage in (path.unlink, lambda: path.write_bytes(b"")):
        damage()
        assert output_of(history, history.get(2)) == data
    (folder / "0002" / "recipe.toml").unlink()
    with pytest.raises(DiskError, match=r"output\.mid was changed .* can't be made again"):
        output_of(history, history.get(2))


def test_a_lost_output_is_never_replaced_by_other_bytes(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "0002" / "output.mid").unlink()
    _always_other_bytes(monkeypatch)
    history = read_history(folder)
    with pytest.raises(DiskError, match="gives other bytes"):
        output_of(history, history.get(2))


def test_a_kit_file_is_part_of_the_proof(tmp_path: Path) -> None:
    kit = tmp_path / "mine.toml"
    kit.write_text('[notes]\n42 = "snare"\n')
    folder = tmp_path / "take.passes"
    add(folder, draft(Recipe(kit=str(kit)), kit=kit.read_bytes()))
    kit.unlink()
    assert verify(read_history(folder)).holds
    (folder / "0001" / "kit.toml").write_text("")
    faults = verify(read_history(folder)).passes[1]
    assert len(faults) == 2


def test_which_original(folder: Path) -> None:
    first, second = draft().source, draft().output
    assert original_of(read_history(folder)) == first
    add(folder, draft(source=second))
    history = read_history(folder)
    with pytest.raises(DiskError, match=r"holds 2 originals .* --original-of 1 or 4"):
        original_of(history)
    assert original_of(history, 3) == first
    assert original_of(history, 4) == second
    empty = folder.with_name("none.passes")
    empty.mkdir()
    with pytest.raises(DiskError, match="no passes on record"):
        original_of(read_history(empty))
