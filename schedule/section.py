"""Section: strip planned with the section that a model draws, where the rules name no profile for it."""

from collections.abc import Sequence
from dataclasses import replace

from splicewright.extract.drawing import Drawing
from splicewright.extract.finding import Finding, Severity
from splicewright.extract.line import JointLine

from .doubt import same_section
from .rules import Rules

__all__ = ["take_sections"]


def take_sections(drawing: Drawing, rules: Rules) -> tuple[Drawing, Rules]:
    """Give lines without a profile one of the section that they are drawn with.

    Only where the rules would otherwise assume a profile: one that the job's rules file states is kept, and a section
    that differs from it is a doubt. What a section does not tell, such as roll lengths, is that of the assumed profile.

    Parameters
    ----------
    drawing : Drawing
        What was read.
    rules : Rules
        The rules in force.

    Returns
    -------
    drawing : Drawing
        Its lines with their profiles, and a finding ``section-taken`` for each profile.
    rules : Rules
        Those given, and the profiles drawn.
    """
    assumed = rules.profile_of(None)
    if any(row.by_user for row in rules.rows if row.path in {"drawing.profile", f"profiles.{assumed.name}.width"}):
        return drawing, rules
    lines, taken = list(drawing.lines), dict[str, list[JointLine]]()
    for i, line in enumerate(lines):
        if not line.width_m or not line.thickness_m or line.profile is not None:
            continue
        if not same_section(line.width_m, line.thickness_m, assumed):
            name = f"drawn-{line.width_m * 1000:.0f}x{line.thickness_m * 1000:.0f}mm"
            rules = rules.with_section(name, line.width_m, line.thickness_m)
            lines[i] = replace(line, profile=name)
            taken.setdefault(name, []).append(line)
    if not taken:
        return drawing, rules
    findings = tuple(_finding(name, found, drawing.file) for name, found in sorted(taken.items()))
    return replace(drawing, lines=tuple(lines), findings=(*drawing.findings, *findings)), rules


def _finding(name: str, lines: Sequence[JointLine], file: str) -> Finding:
    count = len(lines)
    return Finding(
        code="section-taken",
        severity=Severity.WARNING,
        message=f"{count} line{'s' * (count > 1)} of {file} carr{'y' if count > 1 else 'ies'} no profile and "
        f"{'are' if count > 1 else 'is'} planned with the section drawn, as {name!r}; its rolls are assumed: give its "
        "profile in a [[lines]] entry of the rules file.",
        sources=(lines[0].source,),
    )
