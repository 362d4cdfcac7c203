"""The reader that is picked by what a file holds."""

import os
import subprocess
import sys
from pathlib import Path

import ezdxf
import pytest

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.errors import UnreadableDrawingError
from splicewright.extract.reader import kind_of, read
from splicewright.extract.selection import Selection

ALL = Selection(patterns=("*",))


@pytest.fixture
def document():
    document = ezdxf.new("R2018", units=6)
    document.modelspace().add_line((0, 0), (3, 4))
    return document


@pytest.mark.parametrize("form", ["asc", "bin"])
@pytest.mark.parametrize("name", ["job.dxf", "job.DXF", "job.txt", "job.ifc", "job"])
def test_dxf_is_told_by_its_content(tmp_path, document, name, form):
    """A DXF is a DXF whatever its name, ASCII or binary."""
    document.saveas(tmp_path / name, fmt=form)

    assert DrawingKind.DXF is kind_of(tmp_path / name)
    assert 5.0 == read(tmp_path / name, ALL).length_m


def test_dxf_with_comments_in_front(tmp_path, document):
    """Comments before the first section, a byte order mark and CR LF ends do not hide a DXF."""
    document.saveas(tmp_path / "job.dxf")
    text = "999\nwritten by hand\n" + (tmp_path / "job.dxf").read_text()
    (tmp_path / "job.dxf").write_bytes(text.replace("\n", "\r\n").encode())

    assert 5.0 == read(tmp_path / "job.dxf", ALL).length_m


def test_ifc_is_told_by_its_content(tmp_path):
    """A STEP header makes an IFC model, whatever the name."""
    (tmp_path / "model.dxf").write_text("ISO-10303-21;\nHEADER;\n")

    assert DrawingKind.IFC is kind_of(tmp_path / "model.dxf")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"\n \n", "is empty"),
        (b"Dear all,\nplease find attached\n", "is neither a DXF drawing nor an IFC model"),
        (bytes(range(256)), "is neither a DXF drawing nor an IFC model"),
        (b"AC1032" + bytes(100), "is a DWG drawing; save it as DXF"),
        (b"PK\x03\x04" + bytes(100), "is a packed file; unpack it"),
    ],
)
def test_what_is_no_drawing_is_one_sentence(tmp_path, data, said):
    """Anything else is refused in a sentence that names the file and says what it is."""
    (tmp_path / "job.dxf").write_bytes(data)

    with pytest.raises(UnreadableDrawingError, match=rf"^job\.dxf {said}[^\n]*$"):
        read(tmp_path / "job.dxf", ALL)


def test_absent_file_and_folder(tmp_path):
    """A file that is not there, and a folder, are one sentence each."""
    with pytest.raises(UnreadableDrawingError, match=r"gone\.dxf does not exist; check the name"):
        read(tmp_path / "gone.dxf", ALL)
    with pytest.raises(UnreadableDrawingError, match="is a folder; give the drawing inside"):
        read(tmp_path, ALL)


def test_file_that_may_not_be_read(tmp_path, monkeypatch):
    """A file without permission is one sentence; the refusal is played, for tests may run as root."""

    def refuse(*_args, **_kwargs):
        raise PermissionError(13, os.strerror(13))

    (tmp_path / "job.dxf").write_text("0\nSECTION\n")
    monkeypatch.setattr(Path, "open", refuse)

    with pytest.raises(UnreadableDrawingError, match=r"^job\.dxf cannot be read: Permission denied$"):
        read(tmp_path / "job.dxf", ALL)


def test_libraries_are_imported_only_when_used():
    """Importing the reader and the survey imports neither ezdxf nor ifcopenshell."""
    code = "import sys, splicewright.extract.reader, splicewright.extract.survey; print(*sorted(sys.modules))"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert set() == {"ezdxf", "ifcopenshell"} & set(shown.stdout.split())
