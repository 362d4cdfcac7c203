"""Collect the checks against the outside world into the README's table.

``python .ci/outside_table.py`` prints the table, ``python .ci/outside_table.py --write`` puts it between the README's
markers. Every row is a mark ``pytest.mark.outside`` on a test, so the suite that passes is the proof of its results.
"""

import ast
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
BEGIN, END = "<!-- checks against the outside: begin -->\n", "<!-- checks against the outside: end -->\n"
COLUMNS = ("what", "against", "result")


def marks(path: Path) -> list[tuple[str, ...]]:
    """Return what was checked, against what, and the result, for every mark in one file, from top to bottom."""
    calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
    found = [call for call in calls if ast.unparse(call.func) == "pytest.mark.outside"]
    named = [{word.arg: ast.literal_eval(word.value) for word in call.keywords} for call in found]
    lines = sorted(range(len(found)), key=lambda at: found[at].lineno)
    return [tuple(named[at][column] for column in COLUMNS) for at in lines]


def rows() -> list[tuple[str, ...]]:
    """Return all rows: those of tests/outside first, then those of the rooms' own tests."""
    files = sorted((ROOT / "tests").rglob("test_*.py"))
    files.sort(key=lambda path: ("outside" not in path.parts, path.name))
    return [row for path in files for row in marks(path)]


def table() -> str:
    """Return the table as it stands in the README."""
    head = ["| checked | against | result |", "| --- | --- | --- |"]
    body = ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows()]
    return "\n".join(["", *head, *body, "", ""])


def shown(text: str) -> str:
    """Return the table that stands between the markers of a text."""
    return text.partition(BEGIN)[2].partition(END)[0]


if __name__ == "__main__":
    if sys.argv[1:] == ["--write"]:
        text = README.read_text(encoding="utf-8")
        README.write_text(text.replace(BEGIN + shown(text) + END, BEGIN + table() + END), encoding="utf-8")
    else:
        sys.stdout.write(table())
