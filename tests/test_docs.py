"""What the documents say is so: commands, options, findings, sheets, examples, links."""

import ast
import fnmatch
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
import typer

from splicewright.schedule.cli import app, run
from splicewright.schedule.rules import load_rules

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "fixtures/settling-basin/README.md"]
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
SHELL = [line for kind, text in BLOCKS if kind == "sh" for line in text.splitlines()]
COMMAND_LINES = [line for line in SHELL if line.startswith("splicewright ")]
GROUP = typer.main.get_command(app)


def section(title: str) -> str:
    """The text of one section of the README."""
    return re.split(r"^## ", README.partition(f"\n## {title}\n")[2], maxsplit=1, flags=re.MULTILINE)[0]


def options() -> set[str]:
    """Every option of the command line, long and short."""
    parameters = [*GROUP.params, *(one for command in GROUP.commands.values() for one in command.params)]
    names = {name for one in parameters if one.param_type_name == "option" for name in one.opts}
    return names | set(GROUP.context_settings["help_option_names"])


def codes() -> Iterator[str]:
    """Every code of a finding in the sources: named `code`, given to a finding's maker, or beside its severity."""
    for path in [*(ROOT / "extract").glob("*.py"), *(ROOT / "schedule").glob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if "code" in named(node):
                yield from texts(node.value)
            elif isinstance(node, ast.Call) and re.search(r"finding|_note$", ast.unparse(node.func)):
                yield from (text for one in node.args[:2] for text in texts(one))
            elif isinstance(node, ast.Tuple) and any(ast.unparse(one).startswith("Severity.") for one in node.elts):
                yield from texts(node.elts[0])


def named(node: ast.AST) -> set[str]:
    """The names that a keyword or an assignment gives to a value."""
    if isinstance(node, ast.keyword):
        return {node.arg or ""}
    return {getattr(target, "id", "") for target in node.targets} if isinstance(node, ast.Assign) else set()


def texts(node: ast.expr) -> Iterator[str]:
    """Constant texts that look like a code, either way of a choice."""
    for one in (node.body, node.orelse) if isinstance(node, ast.IfExp) else (node,):
        if isinstance(one, ast.Constant) and re.fullmatch(r"[a-z]+(-[a-z]+)*", str(one.value)):
            yield str(one.value)


@pytest.mark.parametrize("name", sorted(GROUP.commands))
def test_every_command_is_documented(name):
    """The README shows every command with its argument."""
    assert f"splicewright {name} DRAWING..." in section("Commands")


def test_every_option_is_documented_and_no_other():
    """The README's table of options names every option there is, and none that is not."""
    listed = re.findall(r"^\| (`-.*?) \|", section("Commands").replace("\\|", "/"), re.MULTILINE)
    named = {option for cell in listed for option in re.findall(r"(?<![\w-])-{1,2}[a-z][a-z-]*", cell)}

    assert options() == named


@pytest.mark.parametrize("name", sorted(GROUP.commands))
def test_options_are_listed_under_their_commands(name):
    """The table says of each option which commands take it."""
    rows = re.findall(r"^\| `(--[a-z-]+).*?\| ([a-z, ]+?) \|", section("Commands").replace("\\|", "/"), re.MULTILINE)
    listed = {option for option, commands in rows if commands == "all" or name in commands.split(", ")}
    taken = {one.opts[0] for one in GROUP.commands[name].params if one.param_type_name == "option"}

    assert taken | {"--help"} == listed


@pytest.mark.parametrize("line", COMMAND_LINES)
def test_command_lines_run(line, tmp_path):
    """Every `splicewright …` line in the README runs in a clone and leaves with 0, after the lines before it."""
    shutil.copytree(ROOT / "fixtures", tmp_path / "fixtures")
    (tmp_path / "rules.toml").write_bytes((ROOT / "fixtures" / "settling-basin" / "rules.toml").read_bytes())
    script = f"{shlex.quote(sys.executable)} -c 'from splicewright.schedule.cli import main; main()'"
    said = subprocess.run(
        line.replace("splicewright", script, 1), shell=True, cwd=tmp_path, capture_output=True, text=True, check=False
    )

    assert (0, "") == (said.returncode, said.stderr)


def test_the_first_command_makes_the_demo(tmp_path, capsys):
    """What the README's first command asks of the program makes the demo's workbook and record."""
    shutil.copytree(ROOT / "fixtures", tmp_path / "fixtures")
    (asked,) = re.findall(r"\.venv/bin/splicewright (.*)", SHELL[0])
    before = Path.cwd()
    os.chdir(tmp_path)
    try:
        status = run(shlex.split(asked))
    finally:
        os.chdir(before)
    made = tmp_path / "fixtures" / "settling-basin"

    assert (0, "") == (status, capsys.readouterr().err)
    assert (made / "settling-basin.schedule.xlsx").is_file()
    assert (made / "settling-basin.schedule.json").is_file()


def test_every_sheet_is_documented(tmp_path):
    """The README's table of sheets has the workbook's sheets, in their order."""
    basin = ROOT / "fixtures" / "settling-basin"
    run(["schedule", str(basin / "settling-basin.dxf"), "--write", "xlsx", "--out", str(tmp_path)])
    book = openpyxl.load_workbook(tmp_path / "settling-basin.schedule.xlsx", read_only=True)

    assert book.sheetnames == re.findall(r"^\| ([A-Z][a-z ]+) \|", section("What comes out"), re.MULTILINE)


def test_every_finding_is_documented():
    """The README's table of findings has every code that the program may give, and no other."""
    listed = re.findall(r"^\| `([a-z-]+)` \|", section("Findings"), re.MULTILINE)

    assert sorted(set(codes())) == sorted(listed)


def test_the_rules_by_example_hold(tmp_path):
    """The README's rules file is one that the program takes, with the values it states."""
    (text,) = [text for kind, text in BLOCKS if kind == "toml"]
    (tmp_path / "rules.toml").write_text(text, encoding="utf-8")
    rules = load_rules(tmp_path / "rules.toml")

    assert ["bulb-9"] == list(rules.profiles)
    assert 2 == len(rules.lines)
    assert 9 * 0.0254 == pytest.approx(rules.profile_of(None).width_m)


def test_the_example_in_python_prints_what_is_shown(tmp_path):
    """The README's snippet runs as it stands and prints the figures worked out by hand above it."""
    at = next(i for i, (kind, _) in enumerate(BLOCKS) if kind == "python")
    snippet, shown = BLOCKS[at][1], BLOCKS[at + 1][1]
    said = subprocess.run([sys.executable, "-c", snippet], cwd=tmp_path, capture_output=True, text=True, check=False)

    assert (shown, "") == (said.stdout, said.stderr)


def test_every_rule_is_documented():
    """The README's table of rules is what the shipped rules say; `.ci/rules_table.py --write` renews it."""
    script = ROOT / ".ci" / "rules_table.py"
    said = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False)

    assert ("", True) == (said.stderr, said.stdout in README)


@pytest.mark.parametrize("status", ["0", "2", "3", "130"])
def test_every_exit_status_is_documented(status):
    """The README says what each exit status means."""
    assert re.search(rf"\b{status} ", section("Commands").partition("Exit status: ")[2])


@pytest.mark.parametrize("document", DOCUMENTS)
def test_links_lead_somewhere(document):
    """Every relative link in a document leads to a file that is there."""
    path = ROOT / document
    links = re.findall(r"\]\(([^)#:]+)\)", path.read_text(encoding="utf-8"))

    assert [] == [link for link in links if not (path.parent / link).exists()]


@pytest.mark.parametrize("folder", ["extract", "schedule"])
def test_every_room_is_in_the_plan_of_the_house(folder):
    """DEVELOPERS.md names every room of the house, some by the start of their names, and none that is gone."""
    plan = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition(f"\n{folder}/")[2].partition("\n\n")[0]
    rooms = {path.name for path in (ROOT / folder).glob("*.py")} - {"__init__.py"}
    named = [set(fnmatch.filter(rooms, entry)) for entry in re.findall(r"[a-z_*]+\.py\b", plan)]

    assert all(named)
    assert rooms == set().union(*named)


def test_the_changelog_has_something_to_tell():
    """The changelog's newest section lists changes."""
    newest = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8").split("\n## ")[1]

    assert re.search(r"^- \S", newest, re.MULTILINE)
