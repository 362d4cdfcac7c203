"""The command line: what it takes, what it writes, how it refuses."""

import json
import os
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from ezdxf.filemanagement import new

from splicewright.schedule import workbook
from splicewright.schedule.cli import run
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
SQUARE = [(0, 0), (4000, 0), (4000, 4000), (0, 4000)]
SCRIPT = "import sys; from splicewright.schedule.cli import main; sys.argv[0] = 'splicewright'; main()"


@pytest.fixture
def draw(tmp_path):
    """Draw a closed square of 4 m sides on a layer and save it."""

    def _draw(name="tank.dxf", layer="WATERSTOP", unit=4, beside="GRID"):
        document = new("R2018", units=unit)
        model = document.modelspace()
        model.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": layer})
        model.add_line((-9000, -6000), (9000, -6000), dxfattribs={"layer": beside})
        document.saveas(tmp_path / name)
        return tmp_path / name

    return _draw


@pytest.fixture
def splicewright(capsys):
    """Run a command; return its status, its output and its errors."""

    def _run(*arguments):
        status = run([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return status, said.out, said.err

    return _run


def record_of(folder, job="tank"):
    return json.loads((folder / f"{job}.schedule.json").read_bytes())


def test_schedule_writes_beside_the_drawing(draw, splicewright, tmp_path):
    """
    A square tank gives four corners; workbook, record, map and marked drawing stand beside the drawing.

        +-------+
        |       |   closed LWPOLYLINE, 4 m sides
        +-------+
    """
    status, said, errors = splicewright("schedule", draw())

    assert (0, "") == (status, errors)
    names = {"tank.dxf", "tank.schedule.json", "tank.schedule.xlsx", "tank.map.html", "tank.marked.dxf"}
    assert names == {path.name for path in tmp_path.iterdir()}
    assert 4 == record_of(tmp_path)["totals"]["corners"]
    assert 16.0 == pytest.approx(record_of(tmp_path)["totals"]["length_m"], abs=1e-9)
    assert "4 corners" in said
    assert str(tmp_path / "tank.schedule.xlsx") in said


def test_the_demo_runs_with_its_rules(splicewright, tmp_path):
    """The settling basin and its rules give the totals that its README works out by hand."""
    status, said, _ = splicewright(
        "schedule",
        BASIN / "settling-basin.dxf",
        "--rules",
        BASIN / "rules.toml",
        "--out",
        tmp_path,
        "--units",
        "metric",
    )

    assert 0 == status
    assert [
        "settling-basin",
        "waterstop  248.178 m along the centreline, 47 runs, from 22 lines in 1 drawing",
        "nodes      12 corners, 9 tees, 7 crosses, 2 rings closed by a splice, 11 free ends",
    ] == said.splitlines()[:3]
    assert "splices    58 in the shop, 65 on site" in said


@pytest.mark.parametrize(("kinds", "told"), [("xlsx", True), ("json", False)])
def test_the_sheet_with_places_in_the_drawings_unit_is_named(draw, splicewright, kinds, told):
    """Findings say their places in metres; where a workbook is written, its sheet is named for the drawing's unit."""
    _, said, _ = splicewright("schedule", draw(), "--write", kinds)

    assert told == ("in the drawing's own unit on the sheet Findings" in said)


def test_the_same_job_gives_the_same_bytes(draw, splicewright, tmp_path):
    """Two runs of the same job give the same files, byte for byte."""
    path = draw()
    for folder in ("one", "two"):
        splicewright("schedule", path, "--out", tmp_path / folder)

    for kind in ("xlsx", "json"):
        name = f"tank.schedule.{kind}"
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_an_earlier_workbook_is_kept(draw, splicewright, tmp_path):
    """A workbook that someone filled in stays beside the new one, and the program says under which name."""
    path = draw()
    splicewright("schedule", path)
    book = openpyxl.load_workbook(tmp_path / "tank.schedule.xlsx")
    book.worksheets[0]["A1"] = "seen by the inspector"
    book.save(tmp_path / "tank.schedule.xlsx")
    status, said, _ = splicewright("schedule", path)

    kept = openpyxl.load_workbook(tmp_path / "tank.schedule.previous-1.xlsx")
    assert 0 == status
    assert "tank.schedule.previous-1.xlsx" in said
    assert "seen by the inspector" == kept.worksheets[0]["A1"].value


def test_several_drawings_are_one_job(draw, splicewright, tmp_path):
    """Two drawings give one schedule, with marks that are unique across it."""
    status, _, _ = splicewright("schedule", draw("a.dxf"), draw("b.dxf"), "--name", "both")
    record = record_of(tmp_path, "both")
    marks = [node["mark"] for node in record["nodes"]] + [run["mark"] for run in record["runs"]]

    assert 0 == status
    assert ["a.dxf", "b.dxf"] == [drawing["file"] for drawing in record["drawings"]]
    assert 8 == record["totals"]["corners"]
    assert len(marks) == len(set(marks)) == 16


def test_select_names_the_layers(draw, splicewright, tmp_path):
    """`--select` chooses layers by pattern, letter case aside, and may be given several times."""
    status, _, _ = splicewright("schedule", draw(layer="WS-1"), "--select", "ws-?", "--select", "grid")

    assert 0 == status
    assert 34.0 == pytest.approx(record_of(tmp_path)["totals"]["length_m"], abs=1e-9)


def test_drawing_unit_overrides_the_file(draw, splicewright, tmp_path):
    """`--drawing-unit` counts before what the file states."""
    splicewright("schedule", draw(unit=4), "--drawing-unit", "in")

    assert 16000 * 0.0254 == pytest.approx(record_of(tmp_path)["totals"]["length_m"], abs=1e-6)


def test_the_rules_give_a_unit_to_drawings_without_one(draw, splicewright, tmp_path):
    """`drawing.unit` in the rules serves a drawing that states none, but not one that does."""
    rules = tmp_path / "rules.toml"
    rules.write_text('[drawing]\nunit = "in"\n', encoding="utf-8")
    splicewright("schedule", draw("none.dxf", unit=0), "--rules", rules)
    splicewright("schedule", draw("mm.dxf", unit=4), "--rules", rules)

    assert 16000 * 0.0254 == pytest.approx(record_of(tmp_path, "none")["totals"]["length_m"], abs=1e-6)
    assert 16.0 == pytest.approx(record_of(tmp_path, "mm")["totals"]["length_m"], abs=1e-6)


@pytest.mark.parametrize(("option", "unit", "shown"), [((), 1, "ft"), ((), 6, "m"), (("--units", "imperial"), 6, "ft")])
def test_units_follow_the_drawing_unless_chosen(draw, splicewright, tmp_path, option, unit, shown):
    """Workbook and summary are in feet for a drawing in inches, in metres for one in metres, or as `--units` says."""
    splicewright("schedule", draw(unit=unit), *option)
    book = openpyxl.load_workbook(tmp_path / "tank.schedule.xlsx")
    cells = {str(cell.value) for row in book.worksheets[0].iter_rows() for cell in row}

    assert f"Measured [{shown}]" in cells


def test_tolerance_closes_gaps(splicewright, tmp_path):
    """
    A gap of 8 mm stays open at the default tolerance of 5 mm and closes at 10 mm.

        a-----  -----b     one LINE each, 8 mm apart
    """
    document = new("R2018", units=4)
    for ends in (((0, 0), (2000, 0)), ((2008, 0), (4000, 0))):
        document.modelspace().add_line(*ends, dxfattribs={"layer": "WATERSTOP"})
    document.saveas(tmp_path / "gap.dxf")
    runs = {}
    for tolerance in ("5 mm", "10mm"):
        splicewright("schedule", tmp_path / "gap.dxf", "--tolerance", tolerance)
        runs[tolerance] = len(record_of(tmp_path, "gap")["runs"])

    assert {"5 mm": 2, "10mm": 1} == runs


@pytest.mark.parametrize(
    ("listed", "names"),
    [
        ("json", {"tank.schedule.json"}),
        ("XLSX", {"tank.schedule.xlsx"}),
        ("dxf,bcf", {"tank.marked.dxf", "tank.findings.bcf"}),
        ("json, xlsx", {"tank.schedule.json", "tank.schedule.xlsx"}),
        ("html", {"tank.map.html"}),
        ("pdf", {"tank.packet.pdf"}),
    ],
)
def test_write_chooses_the_outputs(draw, splicewright, tmp_path, listed, names):
    """`--write` names what is written."""
    out = tmp_path / "out"
    splicewright("schedule", draw(), "--write", listed, "--out", out)

    assert names == {path.name for path in out.iterdir()}


def test_strict_tells_errors_by_status(splicewright, tmp_path):
    r"""
    Five strips that meet in one place are an error: status 3 with `--strict`, else 0; files are written either way.

          \ | /
        ----+----     five LINEs from one point
    """
    document = new("R2018", units=4)
    for end in ((4000, 0), (3000, 3000), (0, 4000), (-3000, 3000), (-4000, 0)):
        document.modelspace().add_line((0, 0), end, dxfattribs={"layer": "WATERSTOP"})
    document.saveas(tmp_path / "star.dxf")
    strict, _, _ = splicewright("schedule", tmp_path / "star.dxf", "--strict", "--out", tmp_path / "strict")
    lax, said, _ = splicewright("schedule", tmp_path / "star.dxf", "--out", tmp_path / "lax")

    assert (3, 0) == (strict, lax)
    assert "1 error" in said
    assert 4 == len(list((tmp_path / "strict").iterdir()))


def test_strict_lets_warnings_pass(draw, splicewright):
    """`--strict` leaves with 0 when no error is found, whatever the warnings."""
    status, said, _ = splicewright("schedule", draw(), "--strict")

    assert 0 == status
    assert "0 errors" in said


def test_survey_needs_no_unit(draw, splicewright):
    """A survey of a drawing without a unit gives lengths in drawing units and asks for the unit."""
    status, said, _ = splicewright("survey", draw(unit=0))
    rows = {line.split()[0]: line.split()[1:4] for line in said.splitlines() if line.strip()}

    assert 0 == status
    assert "Length [drawing units]" in said
    assert ["1", "16,000.0", "yes"] == rows["WATERSTOP"]
    assert ["1", "18,000.0"] == rows["GRID"][:2]
    assert "--drawing-unit" in said


@pytest.mark.parametrize(("units", "length"), [("metric", "16.0"), ("imperial", "52.5")])
def test_survey_shows_either_units(draw, splicewright, units, length):
    """A survey shows lengths in the units asked for: 16 m are 52.5 ft."""
    _, said, _ = splicewright("survey", draw(), "--units", units)

    assert length in next(line for line in said.splitlines() if line.startswith("WATERSTOP"))


def test_rules_prints_a_file_that_runs(draw, tmp_path):
    """What `rules` prints is a rules file, in UTF-8, that the job runs with unchanged."""
    path = draw(layer="WATERSTOP-SLAB Ü")
    printed = subprocess.run(
        [sys.executable, "-c", SCRIPT, "rules", str(path)],
        capture_output=True,
        check=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
    ).stdout
    (tmp_path / "rules.toml").write_bytes(printed)
    status = run(["schedule", str(path), "--rules", str(tmp_path / "rules.toml")])

    assert ["WATERSTOP-SLAB Ü"] == [carrier.match for carrier in load_rules(tmp_path / "rules.toml").lines]
    assert 0 == status


def test_names_are_no_markup(draw, splicewright):
    """Names from a drawing are shown as they are, brackets and all, and cannot command the terminal."""
    path = draw("[red]tank[bold].dxf", beside="[red]GRID[bold]")
    _, surveyed, _ = splicewright("survey", path)
    _, scheduled, _ = splicewright("schedule", path)

    assert "[red]GRID[bold]" in surveyed
    assert "[red]tank[bold]" == scheduled.splitlines()[0]


def test_a_pipe_gets_plain_text(draw):
    """In a pipe there is no colour, no progress, no wrapping and no blank at a line's end."""
    said = subprocess.run(
        [sys.executable, "-c", SCRIPT, "schedule", str(draw(layer="WATERSTOP " + "x" * 200))],
        capture_output=True,
        text=True,
        check=True,
    )

    assert "" == said.stderr
    assert "\x1b" not in said.stdout
    assert [line.rstrip() for line in said.stdout.splitlines()] == said.stdout.splitlines()
    assert any("x" * 200 in line and line.endswith(".") for line in said.stdout.splitlines())


def test_quiet_says_nothing_but_writes(draw, splicewright, tmp_path):
    """With --quiet a job that goes well prints nothing and writes its files; what is wrong is still said."""
    good = splicewright("schedule", draw(), "--quiet", "--write", "json")
    status, said, errors = splicewright("schedule", tmp_path / "none.dxf", "--quiet")

    assert (0, "", "") == good
    assert 4 == record_of(tmp_path)["totals"]["corners"]
    assert (2, "") == (status, said)
    assert "none.dxf" in errors


def test_a_reader_that_stops_is_no_fault(draw):
    """A reader of the output that closes its end early, as `head` does, causes no traceback."""
    process = subprocess.Popen(
        [sys.executable, "-c", SCRIPT, "rules", str(draw())], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    process.stdout.close()
    errors = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=60)

    assert b"" == errors


def test_interrupted_leaves_nothing(draw, splicewright, tmp_path, monkeypatch):
    """Ctrl-C while a workbook is being written leaves with 130, says nothing and leaves no file."""

    def interrupted(_, path, **__):
        path.write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setattr(workbook, "write_workbook", interrupted)
    status, said, errors = splicewright("schedule", draw(), "--out", tmp_path / "out")

    assert (130, "", "") == (status, said, errors)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("arguments", [["--help"], ["schedule", "--help"], ["survey", "--help"], ["rules", "--help"]])
def test_help_fits_a_screen(splicewright, arguments):
    """Each help text fits a screen of 24 lines."""
    status, said, errors = splicewright(*arguments)

    assert (0, "") == (status, errors)
    assert 24 > len(said.splitlines()) > 5


def test_without_a_command_help_is_shown(splicewright):
    """The bare program says how it is used."""
    assert splicewright("--help")[:2] == splicewright()[:2]


WRONG_USE = {
    "no drawing": (["schedule"], "missing argument"),
    "no such command": (["scedule"], "scedule"),
    "no such option": (["schedule", "{drawing}", "--colour"], "--colour"),
    "unknown drawing unit": (["schedule", "{drawing}", "--drawing-unit", "furlong"], "furlong"),
    "unknown units": (["schedule", "{drawing}", "--units", "roman"], "roman"),
    "unknown output": (
        ["schedule", "{drawing}", "--write", "xlsx,doc"],
        "'doc' cannot be written; choose from xlsx, json",
    ),
    "no output": (["schedule", "{drawing}", "--write", ""], "choose from xlsx, json"),
    "tolerance without a unit": (["schedule", "{drawing}", "--tolerance", "5"], "drawing.tolerance"),
    "tolerance above the reach": (["schedule", "{drawing}", "--tolerance", "1 ft"], "reach"),
    "name with a folder": (["schedule", "{drawing}", "--name", "a/b"], "--name"),
    "drawing twice": (["schedule", "{drawing}", "{drawing}"], "given twice"),
    "wrong glob": (["schedule", "{drawing}", "--select", "WS*"], "'WATERSTOP' (1)"),
    "folder is a file": (["schedule", "{drawing}", "--out", "{drawing}"], "no folder"),
    "folder under a file": (["schedule", "{drawing}", "--out", "{drawing}/out"], "cannot be written"),
    "rules are missing": (["schedule", "{drawing}", "--rules", "absent.toml"], "absent.toml"),
    "rules are a folder": (["schedule", "{drawing}", "--rules", "{folder}"], "folder"),
}


@pytest.mark.parametrize("case", WRONG_USE)
def test_wrong_use_is_one_sentence(draw, splicewright, tmp_path, case):
    """Wrong use is one sentence on stderr that names the trouble, status 2, nothing on stdout, nothing written."""
    arguments, told = WRONG_USE[case]
    path = draw()
    before = sorted(tmp_path.iterdir())
    status, said, errors = splicewright(*(text.format(drawing=path, folder=tmp_path) for text in arguments))

    assert (2, "") == (status, said)
    assert errors.startswith("splicewright: ")
    assert 1 == errors.count("\n")
    assert told.casefold() in errors.casefold()
    assert before == sorted(tmp_path.rglob("*"))


BAD_DRAWINGS = {
    "missing": None,
    "empty": b"",
    "blank": b"\r\n  \n",
    "text": b"Waterstop as discussed on the phone.\n",
    "image": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "DWG": b"AC1032\x00\x00\x00\x00",
    "zipped": b"PK\x03\x04\x14\x00\x00\x00",
    "header only": b"  0\nSECTION\n  2\nHEADER\n",
    "not DXF inside": b"  0\nSECTION\n  2\nENTITIES\n" + b"\x00\xff" * 400,
}


@pytest.mark.parametrize("command", ["survey", "rules", "schedule"])
@pytest.mark.parametrize("case", BAD_DRAWINGS)
def test_a_bad_drawing_is_one_sentence(splicewright, tmp_path, case, command):
    """A file that is no readable drawing is one sentence that names it, from every command, and nothing is written."""
    data = BAD_DRAWINGS[case]
    path = tmp_path / "bad.dxf"
    if data is not None:
        path.write_bytes(data)
    status, said, errors = splicewright(command, path)

    assert (2, "") == (status, said)
    assert errors.startswith("splicewright: ")
    assert "bad.dxf" in errors
    assert 1 == errors.count("\n")
    assert [path] * (data is not None) == list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["survey", "rules", "schedule"])
def test_a_folder_is_no_drawing(splicewright, tmp_path, command):
    """A folder given for a drawing is one sentence."""
    status, said, errors = splicewright(command, tmp_path)

    assert (2, "") == (status, said)
    assert f"splicewright: {tmp_path.name} is a folder; give the drawing inside\n" == errors


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 0.99])
def test_a_truncated_drawing_is_one_sentence(splicewright, tmp_path, share):
    """The demo's drawing cut off anywhere is one sentence that says so, and nothing is written."""
    data = (BASIN / "settling-basin.dxf").read_bytes()
    (tmp_path / "cut.dxf").write_bytes(data[: int(len(data) * share)])
    status, said, errors = splicewright("schedule", tmp_path / "cut.dxf", "--out", tmp_path / "out")

    assert (2, "") == (status, said)
    assert 1 == errors.count("\n")
    assert "cut.dxf" in errors
    assert not (tmp_path / "out").exists()


def test_a_drawing_without_unit_is_one_sentence(draw, splicewright, tmp_path):
    """A drawing that states no unit is refused, and the sentence names the option that helps."""
    status, _, errors = splicewright("schedule", draw(unit=0))

    assert 2 == status
    assert "tank.dxf states no length unit" in errors
    assert "--drawing-unit" in errors
    assert ["tank.dxf"] == [path.name for path in tmp_path.iterdir()]


def test_no_waterstop_layer_is_one_sentence(draw, splicewright, tmp_path):
    """A drawing without a waterstop layer is refused, and the sentence lists the layers to choose from."""
    status, _, errors = splicewright("schedule", draw(layer="STRIP"))

    assert 2 == status
    assert "'GRID' (1)" in errors
    assert "'STRIP' (1)" in errors
    assert "--select" in errors
    assert ["tank.dxf"] == [path.name for path in tmp_path.iterdir()]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[drawing]\ntolerence = "5 mm"\n', "drawing.tolerence: unknown; did you mean 'tolerance'?"),
        ('[[lines]]\nmatch = "*"\nprofile = "missing"\n', "lines"),
        ('[splices]\nmelt = "-1 mm"\n', "splices.melt"),
        ("[drawing\n", "line 1"),
        ("\xff\xfe", "UTF-8"),
    ],
)
def test_wrong_rules_are_one_sentence(draw, splicewright, tmp_path, text, told):
    """Wrong rules are one sentence with the file, the path to the field and the nearest valid name."""
    (tmp_path / "rules.toml").write_bytes(text.encode("latin-1"))
    status, said, errors = splicewright(
        "schedule", draw(), "--rules", tmp_path / "rules.toml", "--out", tmp_path / "out"
    )

    assert (2, "") == (status, said)
    assert errors.startswith("splicewright: rules.toml: ")
    assert told in errors
    assert 1 == errors.count("\n")
    assert not (tmp_path / "out").exists()
