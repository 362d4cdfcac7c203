"""The marked drawing in LibreCAD: it opens and prints, with what was drawn and with the marks.

Collected only where there is a ``librecad``.
"""

import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
from ezdxf.filemanagement import new

from splicewright.schedule.job import schedule_job
from splicewright.schedule.marked import write_marked
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[3] / "fixtures" / "settling-basin"


def ink(path, folder):
    """Print a drawing to fit one page, in black: the darkness of every pixel, from 0 to 1."""
    surroundings = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
    command = ["librecad", "dxf2pdf", "-a", "-c", "-m", "-p", "420x297", path.name]
    subprocess.run(command, cwd=path.parent, env=surroundings, check=True, capture_output=True, timeout=120)
    page = path.with_suffix(".pdf")
    subprocess.run(
        ["pdftoppm", "-r", "100", "-gray", "-singlefile", page, page.with_suffix("")], check=True, timeout=60
    )
    head, size, _, pixels = page.with_suffix(".pgm").read_bytes().split(b"\n", 3)
    width, height = map(int, size.split())

    assert b"P5" == head
    return 1 - np.frombuffer(pixels, np.uint8).reshape(height, width) / 255


@pytest.mark.parametrize(("drawing", "rules"), [("settling-basin", "rules"), ("settling-basin-sheet", "rules-sheet")])
def test_the_marked_demo_opens_and_prints(drawing, rules, tmp_path):
    """LibreCAD prints the marked demo: a full page of lines, the legend in its right fifth."""
    source = BASIN / f"{drawing}.dxf"
    made = schedule_job([source], load_rules(BASIN / f"{rules}.toml"), name="demo")
    write_marked(made, 0, source, tmp_path / "marked.dxf")
    page = ink(tmp_path / "marked.dxf", tmp_path)
    right = page[:, page.shape[1] * 4 // 5 :]

    assert page.sum() > 5_000
    assert right.sum() > 500


@pytest.mark.outside(
    what="drawings with marks, R12 to R2018",
    against="LibreCAD, opening and printing them",
    result="they open; the marks are printed",
)
@pytest.mark.parametrize("version", ["R12", "R2000", "R2007", "R2018"])
def test_every_version_opens_with_its_marks(version, tmp_path):
    """
    In every version the marked drawing prints with more ink than the bare one, which are its marks.

        +---+---+
            |
            +
    """
    document = new(version, units=4)
    for line in (((0, 0), (10_000, 0)), ((5000, 0), (5000, 4000))):
        document.modelspace().add_line(*line, dxfattribs={"layer": "WATERSTOP"})
    document.saveas(tmp_path / "tank.dxf")
    rules = tmp_path / "rules.toml"
    rules.write_text('[drawing]\nunit = "mm"\n', encoding="utf-8")
    made = schedule_job([tmp_path / "tank.dxf"], load_rules(rules), name="tank")
    write_marked(made, 0, tmp_path / "tank.dxf", tmp_path / "marked.dxf")

    assert ink(tmp_path / "marked.dxf", tmp_path).sum() > 2 * ink(tmp_path / "tank.dxf", tmp_path).sum() > 0
