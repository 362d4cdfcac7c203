"""Page data: a schedule as the map page reads it, in columns, with every measure already written out."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, TypeAlias

import numpy as np

from splicewright.extract.finding import Finding, Source
from splicewright.extract.line import JointKind, Vector
from splicewright.extract.node import Node
from splicewright.extract.run import Run

from .crew import CrewDay
from .fitting import Fitting
from .measure import Measure, count_text, decimals_of, marks_text
from .plan import Schedule
from .profile import Profile
from .splice import Splice
from .tape import read_tape

__all__ = ["JOINTS", "is_large", "origin_of", "page_data"]

JOINTS = {
    JointKind.SLAB: "slab joint",
    JointKind.WALL_BASE: "wall-base joint",
    JointKind.WALL: "wall joint",
    JointKind.BASE_SEAL: "base seal",
}
"""Joint kinds in words."""

_STEP_M = 1e-4
"""Coordinates are whole numbers of this length [m]."""
_FAR_M = 10_000.0
"""Farther out than this, three-dimensional views in single precision would shake; the origin is moved."""
_ROUND_M = 100.0
_MANY = 3000

_Json: TypeAlias = dict[str, Any]


def page_data(schedule: Schedule, measure: Measure, pictures: Mapping[str, str]) -> _Json:
    """Write down what the map page shows.

    Places are whole numbers of 0.1 mm from an origin; the points of a run follow one another as differences.

    Parameters
    ----------
    schedule : Schedule
    measure : Measure
        Units to show.
    pictures : Mapping of str to str
        Drawings of the fittings as SVG, by mark; may be empty.

    Returns
    -------
    dict
        Plain lists, numbers and texts.
    """
    return _Writer(schedule, measure).write(pictures)


def origin_of(runs: Iterable[Run]) -> Vector:
    """Return where the page counts from: the drawing's own origin or, where that is far off, a round place near by [m].

    Parameters
    ----------
    runs : iterable of Run

    Returns
    -------
    Vector
    """
    boxes = [(run.points_m.min(axis=0), run.points_m.max(axis=0)) for run in runs]
    if not boxes:
        return (0.0, 0.0, 0.0)
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    far = np.maximum(np.abs(low), np.abs(high)) > _FAR_M
    middle = np.round((low + high) / 2 / _ROUND_M) * _ROUND_M
    x, y, z = np.where(far, middle, 0.0).tolist()
    return (x, y, z)


def is_large(schedule: Schedule) -> bool:
    """Tell whether a job has so many marks that the graphics card must draw them."""
    return len(schedule.splices) + len(schedule.nodes) > _MANY


class _Table:
    """Texts that come again and again, each kept once and named by its position."""

    def __init__(self) -> None:
        self.rows: dict[Any, int] = {}

    def place(self, row: object) -> int:
        return self.rows.setdefault(row, len(self.rows))


class _Writer:
    def __init__(self, schedule: Schedule, measure: Measure) -> None:
        self.schedule, self.measure = schedule, measure
        self.origin_m = np.array(origin_of(schedule.runs))
        self.nodes = {node.mark: i for i, node in enumerate(schedule.nodes)}
        self.runs = {run.mark: i for i, run in enumerate(schedule.runs)}
        self.fittings = {fitting.mark: i for i, fitting in enumerate(schedule.fittings)}
        self.layers, self.reasons, self.profiles, self.zones = _Table(), _Table(), _Table(), _Table()
        for row in sorted(schedule.footage, key=lambda row: -row.measured_m):  # the most used gets the plainest line
            self.profiles.place(row.profile)
        for zone in schedule.crew.zones:
            self.zones.place(zone.name)

    def write(self, pictures: Mapping[str, str]) -> _Json:
        schedule = self.schedule
        content = {
            "job": schedule.job,
            "many": is_large(schedule),
            "units": self._units(),
            "short": _short(schedule, self.measure),
            "nodes": self._nodes(schedule.nodes),
            "runs": self._runs(schedule.runs),
            "splices": self._splices(schedule.splices),
            "fittings": [self._fitting(fitting, pictures.get(fitting.mark)) for fitting in schedule.fittings],
            "cuts": self._cuts(),
            "findings": [self._finding(finding) for finding in schedule.findings],
            "power": self._power(),
            "days": [_day(day) for day in schedule.crew.days],
            "drawings": [[drawing.file, drawing.unit.value, drawing.sha256] for drawing in schedule.drawings],
            "cautions": list(schedule.rules.cautions),
            "criteria": [[row.text, row.limit, row.source] for row in schedule.rules.inspection],
        }
        return {
            **content,
            "profiles": [self._profile(name) for name in self.profiles.rows],
            "zones": list(self.zones.rows),
            "zoneWord": "Pour" if any(zone.pour for zone in schedule.crew.zones) else "Level",
            "layers": [list(row) for row in self.layers.rows],
            "reasons": list(self.reasons.rows),
        }

    def _units(self) -> _Json:
        measure = self.measure
        place = measure.place_unit(frozenset(drawing.unit for drawing in self.schedule.drawings))
        return {
            "imperial": measure.imperial,
            "long": measure.long_unit,
            "longPerStep": measure.long(_STEP_M),
            "stepM": _STEP_M,
            "place": place.value,
            "placeM": place.metres,
            "placeDecimals": decimals_of(place),
            "originM": self.origin_m.tolist(),
        }

    def _profile(self, name: str) -> _Json:
        profile: Profile | None = self.schedule.rules.profiles.get(name)
        if profile is None:
            return {"name": name or "not known", "size": ""}
        size = f"{self.measure.fine_text(profile.width_m)} wide, {self.measure.fine_text(profile.thickness_m)} thick"
        return {"name": name, "size": size + (", centre bulb" if profile.centre_bulb else "")}

    def _steps(self, places_m: Sequence[Vector]) -> list[list[int]]:
        """Places as columns x, y and z of whole steps."""
        if not places_m:
            return [[], [], []]
        steps: list[list[int]] = np.rint((np.array(places_m) - self.origin_m) / _STEP_M).astype(np.int64).T.tolist()
        return steps

    def _nodes(self, nodes: Sequence[Node]) -> _Json:
        x, y, z = self._steps([node.at_m for node in nodes])
        served = {
            mark: (kind, number)
            for kind, fitting in enumerate(self.schedule.fittings)
            for number, copy in enumerate(fitting.nodes)
            for mark in copy
        }
        return {
            "mark": [node.mark for node in nodes],
            "kind": [node.kind.value for node in nodes],
            "lies": [node.orientation.value for node in nodes],
            "turn": [round(node.turn_deg, 2) for node in nodes],
            "x": x,
            "y": y,
            "z": z,
            "runs": [sorted({self.runs[arm.run] for arm in node.arms}) for node in nodes],
            "profiles": [[self.profiles.place(name) for name in node.profiles] for node in nodes],
            "fitting": [list(served[node.mark]) if node.mark in served else None for node in nodes],
            "sources": [self._sources(node.sources) for node in nodes],
            "where": ["; ".join(map(str, node.whereabouts)) for node in nodes],
        }

    def _runs(self, runs: Sequence[Run]) -> _Json:
        tape = read_tape(self.schedule.rolls, imperial=self.measure.imperial)
        pieces: dict[str, list[list[str]]] = {}
        for roll in self.schedule.rolls:
            for piece in roll.pieces:
                cut = self.measure.text(tape.lengths_m[piece.mark])
                row = [piece.mark, roll.mark, cut, f"{piece.number} of {piece.of}"]
                pieces.setdefault(piece.run, []).append(row)
        return {
            "mark": [run.mark for run in runs],
            "ends": [[self.nodes[run.start], self.nodes[run.end]] for run in runs],
            "length": [self.measure.text(run.length_m) for run in runs],
            "profile": [self.profiles.place(run.profile or "") for run in runs],
            "joint": ["" if run.joint is None else JOINTS[run.joint] for run in runs],
            "points": [self._course(run) for run in runs],
            "pieces": [pieces.get(run.mark, []) for run in runs],
            "sources": [self._sources(run.sources) for run in runs],
            "where": ["; ".join(map(str, run.whereabouts)) for run in runs],
        }

    def _course(self, run: Run) -> list[int]:
        """Points one after the other, the first as it is, the others as differences from the one before."""
        steps = np.rint((run.points_m - self.origin_m) / _STEP_M).astype(np.int64)
        steps[1:] -= steps[:-1].copy()
        course: list[int] = steps.ravel().tolist()
        return course

    def _splices(self, splices: Sequence[Splice]) -> _Json:
        x, y, z = self._steps([splice.at_m for splice in splices])
        return {
            "mark": [splice.mark for splice in splices],
            "made": [splice.made.value for splice in splices],
            "kind": [splice.kind.value for splice in splices],
            "x": x,
            "y": y,
            "z": z,
            "profile": [self.profiles.place(splice.profile) for splice in splices],
            "run": [self.runs.get(splice.run or "") for splice in splices],
            "node": [self.nodes.get(splice.node or "") for splice in splices],
            "fitting": [self.fittings.get(splice.fitting or "") for splice in splices],
            "reason": [self.reasons.place(splice.reason) for splice in splices],
            "minutes": [splice.minutes for splice in splices],
            "crew": [splice.crew for splice in splices],
            "day": [splice.day for splice in splices],
            "lies": [splice.position.value if splice.position else "" for splice in splices],
            "zone": [None if splice.zone is None else self.zones.place(splice.zone) for splice in splices],
        }

    def _fitting(self, fitting: Fitting, picture: str | None) -> _Json:
        measure = self.measure
        return {
            "mark": fitting.mark,
            "kind": fitting.kind,
            "holds": fitting.contents,
            "lies": fitting.orientation,
            "turn": round(fitting.turn_deg, 2),
            "copies": [[self.nodes[mark] for mark in copy] for copy in fitting.nodes],
            "legs": [measure.text(leg) for leg in fitting.legs_m],
            "strip": measure.text(fitting.strip_m),
            "seams": fitting.factory_seams,
            "mass": f"{measure.mass(fitting.mass_kg):.1f} {measure.mass_unit}",
            "profiles": [self.profiles.place(name) for name in fitting.profiles],
            "picture": picture,
        }

    def _cuts(self) -> dict[str, list[list[str | int]]]:
        """Saw cuts by the fitting, or where everything is made in place the node, that they belong to."""
        cuts: dict[str, list[list[str | int]]] = {}
        for cut in self.schedule.cuts:
            angles = (_angle(cut.miter_deg), _angle(cut.bevel_deg))
            cuts.setdefault(cut.fitting, []).append([cut.mark, cut.piece, cut.shape, *angles, cut.quantity])
        return cuts

    def _finding(self, finding: Finding) -> _Json:
        place = None if finding.at_m is None else [column[0] for column in self._steps([finding.at_m])]
        return {
            "code": finding.code,
            "severity": finding.severity.value,
            "message": finding.message,
            "at": place,
            "sources": self._sources(finding.sources[:4]),
        }

    def _power(self) -> list[list[Any]]:
        power = self.schedule.crew.power
        if power is None:
            return []
        columns = self._steps([point.at_m for point in power.points])
        return [
            [point.mark, *place, count_text(len(point.splices), "splice"), self.measure.round_text(point.farthest_m)]
            for point, place in zip(power.points, zip(*columns, strict=True), strict=True)
        ]

    def _sources(self, sources: Sequence[Source]) -> list[list[Any]]:
        return [[self.layers.place((source.file, source.layer)), source.entity] for source in sources]


def _day(day: CrewDay) -> _Json:
    return {
        "crew": day.crew,
        "day": day.day,
        "date": _date(day.on),
        "people": day.people,
        "splices": len(day.splices),
        "marks": marks_text(day.splices, most=12),
        "minutes": round(day.warm_up_min + day.sample_weld_min + day.splice_min + day.move_min + day.cover_min),
        "zones": list(day.zones),
    }


def _date(day: date | None) -> str:
    return "" if day is None else day.isoformat()


def _angle(angle_deg: float | None) -> str:
    return "not known" if angle_deg is None else f"{round(angle_deg, 1) + 0.0:.1f}°"  # + 0.0 turns -0.0 into 0.0


def _short(schedule: Schedule, measure: Measure) -> list[list[str]]:
    """Put the job into a few figures."""
    totals = schedule.totals
    return [
        ["waterstop", measure.round_text(totals["length_m"] or 0)],
        ["fittings", f"{totals['fittings']:,}"],
        ["site splices", f"{totals['field_splices']:,}"],
        ["shop splices", f"{totals['factory_splices']:,}"],
        ["rolls", f"{totals['rolls']:,}"],
        ["crew-days", f"{totals['crew_days']:,}"],
    ]
