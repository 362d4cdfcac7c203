"""Put every rule there is, with its default and source, into the README.

``python .ci/rules_table.py`` prints the table, ``python .ci/rules_table.py --write`` puts it between the README's
markers.
"""

import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from splicewright.schedule.basis import RuleText, shipped, value_text

README = Path(__file__).parents[1] / "README.md"
BEGIN, END = "<!-- every rule: begin -->\n", "<!-- every rule: end -->\n"


WITHIN_PROFILES = {"rolls", "offcuts"}


def rules(tree: Mapping[str, object], *names: str) -> Iterator[tuple[str, RuleText]]:
    """Every rule with its path, in the order of the shipped rules."""
    for name, below in tree.items():
        if isinstance(below, RuleText):
            yield path_of(*names, name), below
        elif isinstance(below, Mapping):
            yield from rules(below, *names, name)


def path_of(*names: str) -> str:
    """Write where a rules file states a rule: ``profiles.NAME.width``, ``lines[].match``."""
    if names[0] in WITHIN_PROFILES:
        names = ("profiles", "*", *names)
    text = ".".join(names).replace("profiles.*", "profiles.NAME")
    return text.replace(".*", "[]")


def row(path: str, rule: RuleText) -> str:
    """One line of the table."""
    default = "" if rule.value is None else f"{stated(rule.value)} {rule.unit}".strip()
    cells = (f"`{path}`", default, rule.meaning, rule.source)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def stated(value: object) -> str:
    """Write a default for people; of a list of tables what they hold."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return ", ".join(str(held) for item in value for held in item.values())
    return value_text(value)


def table() -> str:
    """Return the table as it stands in the README."""
    head = ["| rule | default | decides | source of the default |", "| --- | --- | --- | --- |"]
    return "\n".join(["", *head, *(row(*rule) for rule in rules(shipped().tree)), "", ""])


def main() -> None:
    """Print the table, or write it into the README."""
    if sys.argv[1:] != ["--write"]:
        sys.stdout.write(table())
        return
    before, rest = README.read_text(encoding="utf-8").split(BEGIN)
    README.write_text(before + BEGIN + table() + END + rest.split(END)[1], encoding="utf-8")


if __name__ == "__main__":
    main()
