"""Record: a schedule as JSON, for other programs and for comparing revisions.

`schedule.schema.json` beside this module documents every key.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib.resources import files
from itertools import islice
from typing import Any, TypeAlias

import orjson

from splicewright.extract.drawing import Drawing
from splicewright.extract.errors import RecordError
from splicewright.extract.finding import Finding, Source
from splicewright.extract.node import Node
from splicewright.extract.run import Run

from .fitting import Fitting
from .footage import Footage
from .joining import Joining
from .order import OrderLine
from .plan import Schedule
from .record_crew import record_crew
from .roll import Piece as RollPiece
from .roll import Roll, RollOrder, RollPlan
from .rounding import rounded, rounded_angle, rounded_vectors
from .rules import Rules
from .saw import Piece
from .saw_sheet import SawSetup
from .schema import Check, compile_check
from .seam import Cut
from .shopwork import ShopWork
from .shown import shown_marks
from .splice import Splice
from .what_if import WhatIf

__all__ = ["FORMAT", "VERSION", "from_json", "load_schema", "to_json"]

FORMAT = "splicewright-schedule"
VERSION = 1

_BATCH = 64
"""Items written at once; few enough that their memory is used again while still in the processor's cache."""
_LONE_SURROGATE = re.compile("[\ud800-\udfff]")

_Json: TypeAlias = dict[str, Any]


def to_json(schedule: Schedule) -> bytes:
    """Write a schedule as JSON.

    Lengths are rounded to 1e-6 m, unit vectors to 1e-6, angles to 1e-4 degrees. The same schedule always gives the
    same bytes.

    Parameters
    ----------
    schedule : Schedule

    Returns
    -------
    bytes
        UTF-8; every node, run, splice… on a line of its own.
    """
    parts = [_dumps(key) + b":" + _section(value) for key, value in _record(schedule).items()]
    return b"{\n" + b",\n".join(parts) + b"\n}\n"


def from_json(data: bytes, *, name: str = "the file") -> _Json:
    """Read a record back, checked against the schema.

    Parameters
    ----------
    data : bytes
        What `to_json` wrote, by this or an earlier version.
    name : str
        What to call the record in error messages, usually its file name.

    Returns
    -------
    dict
        The record, keys as in the schema.

    Raises
    ------
    RecordError
        It is not JSON, not a record of a schedule, written by a newer version, or not complete.
    """
    try:
        record = orjson.loads(data)
    except orjson.JSONDecodeError as error:
        raise RecordError(
            f"{name} is no schedule record: it is not JSON ({error}); give a *.schedule.json file"
        ) from None
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise RecordError(f'{name} is no schedule record: "format" is not "{FORMAT}"; give a *.schedule.json file')
    version = record.get("version")
    if isinstance(version, int) and version > VERSION:
        raise RecordError(
            f"{name} was written by a newer splicewright (record version {version}, this one reads up to {VERSION}): "
            "update splicewright"
        )
    flaw = _record_check()(record)
    if flaw is not None:
        raise RecordError(
            f"{name} is no complete schedule record: {flaw.lstrip('.')}; write it again with 'splicewright schedule'"
        )
    return record


@cache
def load_schema() -> _Json:
    """Return the JSON Schema (2020-12) of the record, as shipped with the package."""
    schema: _Json = orjson.loads(files(__package__ or __name__).joinpath("schedule.schema.json").read_bytes())
    return schema


@cache
def _record_check() -> Check:
    schema = load_schema()
    return compile_check(schema, schema["$defs"])


def _section(value: object) -> bytes:
    """Write the value of one key; lists take a line an item, which people and version control can read."""
    if not isinstance(value, (list, Iterator)):
        return _dumps(value)
    items = iter(value)
    batches = []
    while batch := list(islice(items, _BATCH)):
        # Between two items stands `},{"mark":`; within a text it cannot stand, since quotes are escaped there.
        start = b'{"%s":' % next(iter(batch[0])).encode()
        batches.append(_dumps(batch)[1:-1].replace(b"}," + start, b"},\n" + start))
    return b"[\n" + b",\n".join(batches) + b"\n]" if batches else b"[]"


def _dumps(value: object) -> bytes:
    try:
        return orjson.dumps(value, option=orjson.OPT_SERIALIZE_NUMPY)
    except TypeError:  # a name in a damaged drawing may hold half a character, which UTF-8 cannot carry
        return orjson.dumps(_repaired(value), option=orjson.OPT_SERIALIZE_NUMPY)


def _record(schedule: Schedule) -> _Json:
    return {
        "format": FORMAT,
        "version": VERSION,
        "job": schedule.job,
        "drawings": [_drawing(drawing) for drawing in schedule.drawings],
        "totals": {key: None if value is None else rounded(value) for key, value in schedule.totals.items()},
        "ledger": {footage.profile: _ledger(footage) for footage in schedule.footage},
        "findings": [_finding(finding) for finding in schedule.findings],
        "fittings": _fittings(schedule.fittings, schedule.cuts, schedule.works),
        "cuts": [_cut(cut) for cut in schedule.cuts],
        "fitting_pieces": [_piece(piece) for piece in schedule.pieces],
        "saw_settings": [_setup(setup) for setup in schedule.setups],
        **({} if schedule.joining is None else {"joining": _joining(schedule.joining)}),
        "splices": _splices(schedule.splices),
        "rolls": _rolls(schedule.orders, schedule.rolls),
        "stock_offcuts": [_stock_offcut(roll) for roll in schedule.rolls if roll.stock is not None],
        "cutting": [_roll_plan(plan) for plan in schedule.roll_plans],
        "orders": [_order_line(line) for line in schedule.order_list],
        "what_if": [_what_if(row) for row in schedule.what_if],
        "crew": record_crew(schedule.crew),
        "inspection": [
            {"mark": entry.mark, "what": entry.what, "crew": entry.crew, "day": entry.day} for entry in schedule.log
        ],
        **_rules(schedule.rules),
        "nodes": _nodes(schedule.nodes),
        "runs": _runs(schedule.runs),
        **_shown(schedule),
    }


def _shown(schedule: Schedule) -> _Json:
    """List where views of flat drawings show marks; nothing where every drawing stands in space."""
    rows = [
        {"mark": one.mark, "drawing": one.drawing, "view": one.view, "at_m": [rounded(value) for value in one.at_m]}
        for one in shown_marks(schedule)
    ]
    return {"shown": rows} if rows else {}


def _drawing(drawing: Drawing) -> _Json:
    return {
        "file": drawing.file,
        "sha256": drawing.sha256,
        "kind": drawing.kind.value,
        "unit": drawing.unit.value,
        "lines": len(drawing.lines),
        "length_m": rounded(drawing.length_m),
        "selected": drawing.selected,
        "skipped": dict(sorted(drawing.skipped.items())),
    }


def _ledger(footage: Footage) -> _Json:
    return {
        "measured_m": rounded(footage.measured_m),
        "in_fittings_m": rounded(footage.in_fittings_m),
        "in_pieces_m": rounded(footage.in_pieces_m),
        "lost_in_welds_m": rounded(footage.lost_in_welds_m),
        "difference_m": rounded(footage.difference_m),
        "order_m": rounded(footage.order_m),
        "offcuts_m": rounded(footage.offcuts_m),
        "trimmed_m": rounded(footage.trimmed_m),
        "left_m": rounded(footage.left_m),
        "runs": footage.runs,
    }


def _finding(finding: Finding) -> _Json:
    sources = _sources(finding.sources)
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "message": finding.message,
        "at_m": None if finding.at_m is None else [rounded(value) for value in finding.at_m],
        "source": sources[0] if sources else None,
        "more_sources": sources[1:],
    }


def _fittings(fittings: Iterable[Fitting], cuts: Iterable[Cut], works: Iterable[ShopWork]) -> list[_Json]:
    work_of = {work.fitting: _work(work) for work in works}
    cut_marks: dict[str, list[str]] = {}
    for cut in cuts:
        cut_marks.setdefault(cut.fitting, []).append(cut.mark)
    return [
        {
            "mark": fitting.mark,
            "kind": fitting.kind,
            "contents": fitting.contents,
            "orientation": fitting.orientation,
            "profiles": fitting.profiles,
            "quantity": fitting.quantity,
            "turn_deg": rounded_angle(fitting.turn_deg),
            "legs_m": [rounded(leg) for leg in fitting.legs_m],
            "strip_m": rounded(fitting.strip_m),
            "cuts": cut_marks.get(fitting.mark, []),
            "factory_seams": fitting.factory_seams,
            "mass_kg": rounded(fitting.mass_kg),
            "nodes": fitting.nodes,
            **work_of.get(fitting.mark, {}),
        }
        for fitting in fittings
    ]


def _work(work: ShopWork) -> _Json:
    return {
        "made_by": work.policy.value,
        "box_m": [rounded(side) for side in work.box_m],
        "strip_used_m": rounded(work.strip_used_m),
        "weld_m": rounded(work.weld_m),
        "weld_m2": rounded(work.weld_m2),
        "shop_min": rounded(work.shop_min),
        "set_up_min": rounded(work.set_up_min),
    }


def _piece(piece: Piece) -> _Json:
    return {
        "fitting": piece.fitting,
        "piece": piece.letter,
        "profile": piece.profile,
        "quantity": piece.quantity,
        "length_m": rounded(piece.length_m),
        "long_m": rounded(piece.long_m),
        "left": piece.left,
        "right": piece.right,
        "curved": piece.curved,
        "cuts": piece.cuts,
    }


def _setup(setup: SawSetup) -> _Json:
    return {
        "number": setup.number,
        "miter_deg": rounded_angle(setup.miter_deg),
        "bevel_deg": rounded_angle(setup.bevel_deg),
        "beyond": setup.beyond,
        "error_m": rounded(setup.error_m),
        "quantity": setup.quantity,
        "profiles": setup.profiles,
        "cuts": setup.cuts,
    }


def _joining(joining: Joining) -> _Json:
    return {
        "field_splices": joining.field_splices,
        "least_field_splices": joining.least_field_splices,
        "saved": joining.saved,
        "joined": joining.joined,
        "parted": [{"run": parting.run, "reason": parting.reason} for parting in joining.partings],
    }


def _cut(cut: Cut) -> _Json:
    return {
        "mark": cut.mark,
        "fitting": cut.fitting,
        "piece": cut.piece,
        "shape": cut.shape,
        "turn_deg": rounded_angle(cut.turn_deg),
        "miter_deg": None if cut.miter_deg is None else rounded_angle(cut.miter_deg),
        "bevel_deg": None if cut.bevel_deg is None else rounded_angle(cut.bevel_deg),
        "quantity": cut.quantity,
        "profile": cut.profile,
        "end": cut.end,
        "part": cut.part,
        "meets": cut.meets,
        "at_m": rounded(cut.at_m),
        "long_m": None if cut.long_m is None else rounded(cut.long_m),
        "short_m": None if cut.short_m is None else rounded(cut.short_m),
    }


def _splices(splices: Sequence[Splice]) -> Iterator[_Json]:
    places = rounded_vectors([splice.at_m for splice in splices])
    return (
        {
            "mark": splice.mark,
            "made": splice.made.value,
            "kind": splice.kind.value,
            "at_m": place,
            "profile": splice.profile,
            "run": splice.run,
            "node": splice.node,
            "fitting": splice.fitting,
            "reason": splice.reason,
            "minutes": splice.minutes,
            "crew": splice.crew,
            "day": splice.day,
            "zone": splice.zone,
            "position": None if splice.position is None else splice.position.value,
        }
        for splice, place in zip(splices, places, strict=True)
    )


def _rolls(orders: Iterable[RollOrder], rolls: Iterable[Roll]) -> list[_Json]:
    by_order: dict[tuple[str, float], list[Roll]] = {}
    for roll in (roll for roll in rolls if roll.stock is None):
        by_order.setdefault((roll.profile, rounded(roll.length_m)), []).append(roll)
    return [_order(order, by_order.get((order.profile, rounded(order.length_m)), [])) for order in orders]


def _roll_piece(piece: RollPiece, roll: Roll) -> _Json:
    return {
        "mark": piece.mark,
        "roll": roll.mark,
        "run": piece.run,
        "number": piece.number,
        "of": piece.of,
        "length_m": rounded(piece.length_m),
        "ends": piece.ends,
    }


def _offcut(roll: Roll) -> _Json:
    return {
        "roll": roll.mark,
        "length_m": rounded(roll.offcut_m),
        "trimmed_m": rounded(roll.trimmed_m),
        "mark": roll.offcut,
    }


def _stock_offcut(roll: Roll) -> _Json:
    return {
        "roll": roll.mark,
        "profile": roll.profile,
        "stock": roll.stock,
        "length_m": rounded(roll.length_m),
        "pieces": [_roll_piece(piece, roll) for piece in roll.pieces],
        "offcut": _offcut(roll),
    }


def _roll_plan(plan: RollPlan) -> _Json:
    return {
        "profile": plan.profile,
        "lot": plan.lot,
        "cost": rounded(plan.cost),
        "least_cost": rounded(plan.least_cost),
        "gap": rounded(plan.gap),
        "priced": plan.priced,
        "method": plan.method,
        "splices": plan.splices,
        "pieces_m": rounded(plan.pieces_m),
        "left_m": rounded(plan.left_m),
    }


def _order_line(line: OrderLine) -> _Json:
    return {
        "group": line.group,
        "item": line.item,
        "profile": line.profile,
        "marks": line.marks,
        "length_m": None if line.length_m is None else rounded(line.length_m),
        "needed": line.needed,
        "spare": line.spare,
        "mass_kg": None if line.mass_kg is None else rounded(line.mass_kg),
        "cost": line.cost,
        "note": line.note,
    }


def _what_if(row: WhatIf) -> _Json:
    return {
        "choice": row.choice,
        "cost": rounded(row.cost),
        "priced": row.priced,
        "rolls": row.rolls,
        "order_m": rounded(row.order_m),
        "splices": row.splices,
        "left_m": rounded(row.left_m),
        "in_fittings_m": rounded(row.in_fittings_m),
    }


def _order(order: RollOrder, rolls: Sequence[Roll]) -> _Json:
    return {
        "profile": order.profile,
        "length_m": rounded(order.length_m),
        "quantity": order.quantity,
        "cost": order.cost,
        "pieces_m": rounded(order.pieces_m),
        "least_quantity": order.least_quantity,
        "pieces": [_roll_piece(piece, roll) for roll in rolls for piece in roll.pieces],
        "offcuts": [_offcut(roll) for roll in rolls],
    }


def _nodes(nodes: Sequence[Node]) -> Iterator[_Json]:
    places = rounded_vectors([node.at_m for node in nodes])
    headings = rounded_vectors([arm.heading for node in nodes for arm in node.arms])
    return (
        {
            "mark": node.mark,
            "kind": node.kind.value,
            "orientation": node.orientation.value,
            "at_m": place,
            "turn_deg": rounded_angle(node.turn_deg),
            "arms": [{"run": arm.run, "heading": next(headings)} for arm in node.arms],
            "profiles": node.profiles,
            "sources": _sources(node.sources),
        }
        for node, place in zip(nodes, places, strict=True)
    )


def _runs(runs: Sequence[Run]) -> Iterator[_Json]:
    return (
        {
            "mark": run.mark,
            "start": run.start,
            "end": run.end,
            "length_m": rounded(run.length_m),
            "profile": run.profile,
            "joint": None if run.joint is None else run.joint.value,
            "sources": _sources(run.sources),
        }
        for run in runs
    )


def _rules(rules: Rules) -> _Json:
    return {
        "criteria": [{"text": row.text, "limit": row.limit, "source": row.source} for row in rules.inspection],
        "notes": [{"text": note.text, "source": note.source} for note in rules.notes],
        "cautions": rules.cautions,
        "basis": [
            {
                "path": row.path,
                "value": row.value,
                "meaning": row.meaning,
                "source": row.source,
                "by_user": row.by_user,
            }
            for row in rules.basis()
        ],
    }


def _sources(sources: Iterable[Source]) -> list[_Json]:
    return [{"file": source.file, "layer": source.layer, "entity": source.entity} for source in sources]


def _repaired(value: object) -> object:
    """Replace what UTF-8 cannot carry, anywhere within a record."""
    if isinstance(value, str):
        return _LONE_SURROGATE.sub("�", value)
    if isinstance(value, dict):
        return {_repaired(key): _repaired(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_repaired(inner) for inner in value]
    return value
