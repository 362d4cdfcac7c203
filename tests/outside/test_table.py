"""The README's table of checks against the outside world is the one that the tests' own marks give."""

import ast
import re
import runpy
from pathlib import Path

import pytest

from splicewright.schedule.rules import load_rules

ROOT = Path(__file__).parents[2]
TABLE = runpy.run_path(str(ROOT / ".ci" / "outside_table.py"))
README = (ROOT / "README.md").read_text(encoding="utf-8")
HERE = Path(__file__).parent
MODULES = sorted(str(path.relative_to(HERE)) for path in HERE.rglob("test_*.py") if path.name != "test_table.py")


def test_the_table_stands_in_the_readme():
    """Collected anew, the table is to the letter what stands in the README (else: .ci/outside_table.py --write)."""
    assert TABLE["table"]() == TABLE["shown"](README)


def test_the_table_has_twenty_five_sources():
    """At least 25 sources or implementations differ in their first three words; those without a source do not count."""
    rows = TABLE["rows"]()
    sourced = [row[1] for row in rows if not re.search("from memory|common practice|worked out|counting", row[1])]
    sources = {tuple(re.split("[,:;(]", against)[0].split()[:3]) for against in sourced}

    assert 25 <= len(sources)
    assert len(set(rows)) == len(rows)


def test_every_row_says_all():
    """What, against what and the result are each said, in words."""
    assert [] == [row for row in TABLE["rows"]() if not all(re.search(r"\w{2}", cell) for cell in row)]


@pytest.mark.parametrize("name", MODULES)
def test_every_check_names_what_it_is_held_against(name):
    """No test of this folder goes without its row."""
    tree = ast.parse((HERE / name).read_text(encoding="utf-8"))
    tests = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")]
    bare = [test.name for test in tests if "pytest.mark.outside(" not in "".join(map(ast.unparse, test.decorator_list))]

    assert [] == bare


def test_what_has_no_source_is_assumed():
    """The rules that the README lists as without a public source are marked so in the rules in force."""
    listed = re.findall(r"^- `([^`]+)`, ", README.partition("No public source was found")[2], re.MULTILINE)
    sources = {row.path: row.source for row in load_rules(None).basis()}

    assert 5 <= len(listed)
    assert {"assumed"} | {"common practice"} >= {sources[path] for path in listed}
