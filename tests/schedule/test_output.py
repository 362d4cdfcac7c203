"""Outputs: whole or not at all, and nothing that someone has filled in is lost."""

from pathlib import Path

import pytest

from splicewright.extract.errors import OutputError
from splicewright.schedule.output import write_outputs


def writer(text):
    return lambda path: path.write_text(text, encoding="utf-8")


def broken(path):
    """Write half a file, then fail as a full disk does."""
    path.write_text("half", encoding="utf-8")
    raise OSError(28, "No space left on device")


def interrupted(path):
    """Write half a file, then be interrupted."""
    path.write_text("half", encoding="utf-8")
    raise KeyboardInterrupt


def content(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.iterdir())}


def test_all_are_written(tmp_path):
    """Every output stands in the folder under its name, and nothing else does."""
    written = write_outputs(tmp_path, {"a.xlsx": writer("A"), "a.json": writer("B")})

    assert [tmp_path / "a.xlsx", tmp_path / "a.json"] == [output.path for output in written]
    assert {"a.json": "B", "a.xlsx": "A"} == content(tmp_path)


def test_the_folder_is_made(tmp_path):
    """A folder that does not exist is made, with those above it."""
    write_outputs(tmp_path / "jobs" / "basin", {"a.json": writer("B")})

    assert {"a.json": "B"} == content(tmp_path / "jobs" / "basin")


@pytest.mark.parametrize(("second", "error"), [(broken, OutputError), (interrupted, KeyboardInterrupt)])
def test_a_failed_output_leaves_nothing(tmp_path, second, error):
    """When the second output fails or is interrupted, the first is not there either, nor the folder made for them."""
    with pytest.raises(error):
        write_outputs(tmp_path / "new", {"a.xlsx": writer("A"), "a.json": second})

    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize(("second", "error"), [(broken, OutputError), (interrupted, KeyboardInterrupt)])
def test_a_failed_output_leaves_the_earlier_ones(tmp_path, second, error):
    """When an output fails, the files of an earlier run stand as they were."""
    write_outputs(tmp_path, {"a.xlsx": writer("A"), "a.json": writer("B")})
    with pytest.raises(error):
        write_outputs(tmp_path, {"a.xlsx": writer("C"), "a.json": second}, keep=(".xlsx",))

    assert {"a.json": "B", "a.xlsx": "A"} == content(tmp_path)


@pytest.mark.parametrize("error", [OSError(13, "Permission denied"), KeyboardInterrupt()])
def test_a_move_that_fails_is_undone(tmp_path, monkeypatch, error):
    """When the second file cannot be put in place, the first, already in place, gives way to what was there before."""
    write_outputs(tmp_path, {"a.xlsx": writer("A"), "a.json": writer("B")})
    move, moves = Path.replace, []

    def failing(self, target):
        moves.append(target)
        if len(moves) == 2:
            raise error
        return move(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(KeyboardInterrupt if isinstance(error, KeyboardInterrupt) else OutputError):
        write_outputs(tmp_path, {"a.xlsx": writer("C"), "a.json": writer("D")}, keep=(".xlsx",))

    assert {"a.json": "B", "a.xlsx": "A"} == content(tmp_path)


def test_an_earlier_workbook_that_differs_is_kept(tmp_path):
    """Earlier workbooks stand beside the new one, numbered from the oldest; other outputs are replaced."""
    for text in ("one", "two", "three"):
        (*_, last) = write_outputs(tmp_path, {"a.json": writer(text), "a.s.xlsx": writer(text)}, keep=(".xlsx",))

    assert tmp_path / "a.s.previous-2.xlsx" == last.kept
    assert {
        "a.json": "three",
        "a.s.previous-1.xlsx": "one",
        "a.s.previous-2.xlsx": "two",
        "a.s.xlsx": "three",
    } == content(tmp_path)


def test_an_equal_workbook_is_left_alone(tmp_path):
    """A workbook that would come out the same is not touched, and nothing is kept."""
    write_outputs(tmp_path, {"a.xlsx": writer("A")}, keep=(".xlsx",))
    before = (tmp_path / "a.xlsx").stat()
    (output,) = write_outputs(tmp_path, {"a.xlsx": writer("A")}, keep=(".xlsx",))

    assert output.kept is None
    assert {"a.xlsx": "A"} == content(tmp_path)
    assert (before.st_ino, before.st_mtime_ns) == ((tmp_path / "a.xlsx").stat().st_ino, before.st_mtime_ns)


def test_disks_without_second_names_will_do(tmp_path, monkeypatch):
    """Where a file cannot have two names, the earlier workbook is copied."""

    def refuse(_, __):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    write_outputs(tmp_path, {"a.xlsx": writer("A")}, keep=(".xlsx",))
    write_outputs(tmp_path, {"a.xlsx": writer("B")}, keep=(".xlsx",))

    assert {"a.previous-1.xlsx": "A", "a.xlsx": "B"} == content(tmp_path)


@pytest.mark.parametrize("below", ["", "deeper"])
def test_a_file_in_place_of_the_folder_is_refused(tmp_path, below):
    """A file where the folder should be, or above it, is one sentence that names it."""
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(OutputError, match=r"taken.*choose another"):
        write_outputs(tmp_path / "taken" / below, {"a.json": writer("B")})

    assert {"taken": "a file"} == content(tmp_path)


def test_a_folder_in_place_of_a_file_is_refused(tmp_path):
    """A folder that has an output's name is left alone and named."""
    (tmp_path / "a.json").mkdir()
    with pytest.raises(OutputError, match=r"a\.json cannot be written: is a directory"):
        write_outputs(tmp_path, {"a.xlsx": writer("A"), "a.json": writer("B")})

    assert [tmp_path / "a.json"] == list(tmp_path.iterdir())


def test_a_writers_own_error_names_the_place_asked_for(tmp_path):
    """A writer that says which file it could not write is quoted with the file's final name, not the draft's."""

    def write(path):
        raise OutputError(f"{path} cannot be written: too long")

    with pytest.raises(OutputError) as caught:
        write_outputs(tmp_path, {"a.xlsx": write})

    assert f"{tmp_path / 'a.xlsx'} cannot be written: too long" == str(caught.value)
