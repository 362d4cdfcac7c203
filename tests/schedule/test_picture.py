"""The picture of a flat sheet with its windows, and the network beside it."""

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from splicewright.schedule.cli import run

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
SHEET = str(BASIN / "settling-basin-sheet.dxf")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def draw(tmp_path):
    """Survey the basin's sheet with a picture, and read that."""

    def _draw(*arguments):
        assert 0 == run(["survey", SHEET, "--picture", str(tmp_path / "set.svg"), *arguments])
        return ET.parse(tmp_path / "set.svg").getroot()

    return _draw


def texts(root):
    return [text.text for text in root.iter(f"{SVG}text")]


def test_windows_and_network_stand_side_by_side(draw):
    """With its rules the picture shows every window by name, every run and every node."""
    root = draw("--rules", str(BASIN / "rules-sheet.toml"))
    names = {"Plan", "South", "East", "North", "West", "Sump"}

    assert names <= set(texts(root))
    assert "the network: 41 nodes, 47 runs, 248.178 m" in texts(root)
    assert 6 == len(root.findall(f"{SVG}polygon"))
    assert 47 == len(root.findall(f"{SVG}polyline[@class='r']"))
    assert 41 == len(root.findall(f"{SVG}circle"))


def test_without_views_proposed_windows_are_shown(draw):
    """Without rules the picture shows the windows that the survey proposes, and no network."""
    root = draw()

    assert "PLAN OF JOINTS" in texts(root)
    assert 6 == len(root.findall(f"{SVG}polygon"))
    assert [] == root.findall(f"{SVG}circle")


def test_the_picture_shows_one_drawing(tmp_path, capsys):
    """Several drawings have no common picture: refused in one sentence, nothing written."""
    status = run(["survey", SHEET, str(BASIN / "settling-basin.dxf"), "--picture", str(tmp_path / "set.svg")])

    assert 2 == status
    assert "--picture shows one drawing" in capsys.readouterr().err
    assert [] == list(tmp_path.iterdir())
