"""A schedule as JSON: complete, rounded, steady, and checked when it is read back."""

import json
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from splicewright.extract.drawing import Drawing, DrawingKind
from splicewright.extract.errors import RecordError
from splicewright.extract.finding import Finding, Severity, Source
from splicewright.extract.line import JointKind, JointLine
from splicewright.extract.node import Arm, Node, NodeKind, Orientation
from splicewright.extract.run import Run
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.crew import CrewDay, CrewPlan
from splicewright.schedule.fitting import Fitting
from splicewright.schedule.footage import Footage
from splicewright.schedule.inspection import LogEntry
from splicewright.schedule.plan import Schedule
from splicewright.schedule.record import from_json, load_schema, to_json
from splicewright.schedule.roll import Piece, Roll, RollOrder
from splicewright.schedule.rules import load_rules
from splicewright.schedule.seam import Cut
from splicewright.schedule.splice import Made, Splice, SpliceKind

SOURCE = Source(file="basin.dxf", layer="WS-SLAB", entity="LINE 2F")
OTHER_SOURCE = Source(file="basin.dxf", layer="WS-SLAB", entity="LINE 30")
PROFILE = "assumed-9in"


def sample_nodes():
    """
    Two arms of a corner, each 4 m, in a drawing at survey coordinates.

        N3
        |
        |
        N1---N2
    """
    east = Arm(run="R1", at_start=True, heading=(1.0, 0.0, 0.0), across=(0.0, 1.0, 0.0))
    north = Arm(run="R2", at_start=True, heading=(0.0, 1.0, -0.0))
    shared = {"profiles": (PROFILE,), "sources": (SOURCE, OTHER_SOURCE)}
    return (
        Node(
            mark="N1",
            kind=NodeKind.CORNER,
            orientation=Orientation.FLAT,
            at_m=(500000.1234567, 200.0, 3.0),
            turn_deg=90.000000001,
            arms=(east, north),
            **shared,
        ),
        Node(
            mark="N2",
            kind=NodeKind.END,
            orientation=Orientation.NONE,
            at_m=(500004.1234567, 200.0, 3.0),
            turn_deg=0.0,
            arms=(Arm(run="R1", at_start=False, heading=(-1.0, -0.0, 0.0)),),
            **shared,
        ),
        Node(
            mark="N3",
            kind=NodeKind.END,
            orientation=Orientation.NONE,
            at_m=(500000.1234567, 204.0, 3.0),
            turn_deg=0.0,
            arms=(Arm(run="R2", at_start=False, heading=(0.0, -1.0, 0.0)),),
            **shared,
        ),
    )


def sample_run(mark, end, joint):
    return Run(
        mark=mark,
        start="N1",
        end=end,
        points_m=np.zeros((2, 3)),
        length_m=4.0000000004,
        profile=PROFILE,
        joint=joint,
        across=(None, None),
        sources=(SOURCE,),
    )


def sample_splices():
    leg = {
        "made": Made.FIELD,
        "kind": SpliceKind.LEG,
        "profile": PROFILE,
        "node": None,
        "fitting": "F1",
        "reason": "leg",
    }
    return (
        Splice(mark="S1", at_m=(500000.733, 200.0, 3.0), run="R1", minutes=30.0, crew=1, day=1, **leg),
        Splice(mark="S2", at_m=(500000.1234567, 200.6096, 3.0), run="R2", minutes=30.0, crew=1, day=1, **leg),
        Splice(
            mark="S3",
            made=Made.FACTORY,
            kind=SpliceKind.SEAM,
            at_m=(500000.1234567, 200.0, 3.0),
            profile=PROFILE,
            run=None,
            node="N1",
            fitting="F1",
            reason="corner",
        ),
    )


def sample_rolls():
    pieces = tuple(Piece(mark=f"P{n}", run=f"R{n}", number=1, of=1, length_m=3.3967499999) for n in (1, 2))
    roll = Roll(mark="L1", profile=PROFILE, length_m=15.24, pieces=pieces, offcut_m=8.4465)
    order = RollOrder(profile=PROFILE, length_m=15.24, quantity=1, cost=None, pieces_m=6.7935, least_quantity=1)
    return {"rolls": (roll,), "orders": (order,)}


def sample_drawing():
    line = JointLine(source=SOURCE, points_m=np.array([[0.0, 0.0, 0.0], [8.0, 0.0, 0.0]]))
    return Drawing(
        file="basin.dxf",
        sha256="0a" * 32,
        kind=DrawingKind.DXF,
        unit=LengthUnit.METRE,
        lines=(line,),
        skipped={"TEXT on WS-SLAB": 2, "HATCH on WS-SLAB": 1},
        selected=4,
    )


def sample_totals():
    counts = dict.fromkeys(("wyes", "crosses", "tees", "others", "closures"), 0)
    return {
        "length_m": 8.0000000008,
        "ends": 2,
        "corners": 1,
        **counts,
        "factory_splices": 1,
        "field_splices": 2,
        "miter_cuts": 2,
        "square_cuts": 6,
        "fittings": 1,
        "rolls": 1,
        "order_length_m": 15.24,
        "crew_days": 1,
    }


@pytest.fixture
def schedule():
    """One flat corner with two legs and a piece welded to each."""
    fitting = Fitting(
        mark="F1",
        kind="corner",
        contents="corner",
        orientation="flat",
        profiles=(PROFILE,),
        quantity=1,
        legs_m=(0.6096, 0.6096),
        strip_m=1.2192,
        factory_seams=1,
        mass_kg=3.6,
        nodes=(("N1",),),
        turn_deg=90.0,
    )
    cuts = [
        {"mark": f"F1-{n}", "piece": piece, "miter_deg": side * 45.0} for n, piece, side in ((1, "A", 1), (2, "B", -1))
    ]
    day = CrewDay(
        crew=1,
        day=1,
        people=2,
        splices=("S1", "S2"),
        warm_up_min=60,
        sample_weld_min=20,
        splice_min=60,
        cool_down_min=30,
        idle_min=340,
    )
    near_miss = Finding(
        code="near-miss",
        severity=Severity.WARNING,
        message="An end stops 80 mm short.",
        at_m=(500004.12345678, 200.0, 3.0),
        sources=(SOURCE, OTHER_SOURCE),
    )
    return Schedule(
        job="Basin 1",
        drawings=(sample_drawing(),),
        nodes=sample_nodes(),
        runs=(sample_run("R1", "N2", JointKind.SLAB), sample_run("R2", "N3", None)),
        fittings=(fitting,),
        cuts=tuple(Cut(fitting="F1", shape="end", turn_deg=90.0, bevel_deg=None, quantity=1, **cut) for cut in cuts),
        splices=sample_splices(),
        footage=(
            Footage(
                profile=PROFILE,
                measured_m=8.0,
                in_fittings_m=1.2192,
                in_pieces_m=6.7935,
                lost_in_welds_m=0.0127,
                order_m=15.24,
                runs=2,
            ),
        ),
        crew=CrewPlan(crews=1, people=2, days=(day,), sample_welds=1),
        log=(
            LogEntry(mark="W1-1", what="sample weld", crew=1, day=1),
            LogEntry(mark="S3", what="seam", crew=None, day=None),
        ),
        findings=(near_miss, Finding(code="xref", severity=Severity.NOTE, message="An outside drawing is missing.")),
        rules=load_rules(None),
        totals=sample_totals(),
        **sample_rolls(),
    )


@pytest.mark.outside(
    what="the schedule for other programs, and the schema that describes it",
    against="jsonschema: JSON Schema 2020-12",
    result="both valid",
)
def test_record_obeys_the_shipped_schema(schedule):
    """What is written is valid by the JSON Schema that documents it."""
    jsonschema.Draft202012Validator.check_schema(load_schema())
    jsonschema.Draft202012Validator(load_schema()).validate(json.loads(to_json(schedule)))


def test_schema_documents_every_key_that_is_written(schedule):
    """No key is written that the schema does not describe."""
    undocumented = list(_unknown_keys(json.loads(to_json(schedule)), load_schema(), ""))

    assert [] == undocumented


def _unknown_keys(value, schema, path):
    while "$ref" in schema:
        schema = load_schema()["$defs"][schema["$ref"].rpartition("/")[2]]
    if isinstance(value, dict) and isinstance(schema.get("additionalProperties"), dict):
        for key, inner in value.items():
            yield from _unknown_keys(inner, schema["additionalProperties"], f"{path}.{key}")
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key not in schema.get("properties", {}):
                yield f"{path}.{key}"
            else:
                yield from _unknown_keys(inner, schema["properties"][key], f"{path}.{key}")
    elif isinstance(value, list):
        for inner in value:
            yield from _unknown_keys(inner, schema["items"], path)


def test_contract_keys_are_all_there(schedule):
    """The keys that other programs rely on are written, under their exact names."""
    record = from_json(to_json(schedule))
    promised = {"format", "version", "drawings", "nodes", "runs", "fittings", "cuts", "splices", "rolls", "crew"}
    totals = {
        *("length_m", "ends", "corners", "tees", "wyes", "crosses", "others", "closures", "factory_splices"),
        *("field_splices", "miter_cuts", "square_cuts", "fittings", "rolls", "order_length_m", "crew_days"),
    }

    assert promised | {"inspection", "findings", "ledger", "totals"} <= record.keys()
    assert totals <= record["totals"].keys()
    assert {"measured_m", "in_fittings_m", "in_pieces_m", "lost_in_welds_m", "difference_m"} <= record["ledger"][
        PROFILE
    ].keys()


def test_minutes_are_rounded_too(schedule):
    """No minutes of a day show the noise of floating point."""
    third = dict.fromkeys(("splice_min", "idle_min", "move_min", "cover_min"), 1 / 3)
    crew = replace(schedule.crew, days=tuple(replace(day, **third) for day in schedule.crew.days))
    record = from_json(to_json(replace(schedule, crew=crew)))

    assert dict.fromkeys(third, 0.333333) == {name: record["crew"]["days"][0][name] for name in third}


def test_lengths_are_rounded_to_the_micrometre(schedule):
    """1e-6 m survives, noise below it and the sign of zero do not."""
    record = from_json(to_json(schedule))

    assert [500000.123457, 200.0, 3.0] == record["nodes"][0]["at_m"]
    assert 90.0 == record["nodes"][0]["turn_deg"]
    assert 4.0 == record["runs"][0]["length_m"]
    assert b"-0.0" not in to_json(schedule)


def test_nodes_runs_and_splices_read_back(schedule):
    """Marks, kinds and places come back as they were."""
    record = from_json(to_json(schedule))

    assert ["corner", "end", "end"] == [node["kind"] for node in record["nodes"]]
    assert [{"run": "R1", "heading": [1.0, 0.0, 0.0]}, {"run": "R2", "heading": [0.0, 1.0, 0.0]}] == record["nodes"][0][
        "arms"
    ]
    assert [("N1", "N2", "slab"), ("N1", "N3", None)] == [(r["start"], r["end"], r["joint"]) for r in record["runs"]]
    assert [("S1", "field", 1), ("S2", "field", 1), ("S3", "factory", None)] == [
        (s["mark"], s["made"], s["day"]) for s in record["splices"]
    ]
    assert ["F1-1", "F1-2"] == record["fittings"][0]["cuts"]
    assert [45.0, -45.0] == [cut["miter_deg"] for cut in record["cuts"]]


def test_pieces_stand_with_the_order_they_are_cut_from(schedule):
    """Every order lists its pieces roll by roll, and what is left of each roll."""
    order = from_json(to_json(schedule))["rolls"][0]

    assert [("P1", "L1", 3.39675), ("P2", "L1", 3.39675)] == [
        (p["mark"], p["roll"], p["length_m"]) for p in order["pieces"]
    ]
    assert [("L1", 8.4465)] == [(entry["roll"], entry["length_m"]) for entry in order["offcuts"]]


def test_ledger_balances_in_the_record(schedule):
    """Measured equals fittings plus pieces less what the welds take."""
    row = from_json(to_json(schedule))["ledger"][PROFILE]

    assert 0.0 == row["difference_m"]
    assert row["measured_m"] == pytest.approx(row["in_fittings_m"] + row["in_pieces_m"] - row["lost_in_welds_m"])


def test_finding_names_the_entity_that_shows_it_best(schedule):
    """The first source stands alone, the others follow; without any it is null."""
    first, second = from_json(to_json(schedule))["findings"]

    assert "LINE 2F" == first["source"]["entity"]
    assert ["LINE 30"] == [source["entity"] for source in first["more_sources"]]
    assert (None, None) == (second["source"], second["at_m"])


def test_rules_in_force_are_in_the_record(schedule):
    """Every rule goes along with its source, and so do criteria and cautions."""
    record = from_json(to_json(schedule))
    leg = next(row for row in record["basis"] if row["path"] == "fittings.leg")

    assert ("assumed", False) == (leg["source"], leg["by_user"])
    assert len(record["criteria"]) == len(schedule.rules.inspection)
    assert list(schedule.rules.cautions) == record["cautions"]


def test_same_schedule_gives_same_bytes(schedule):
    """The record holds nothing of the hour or the machine; the order of a reader's counts does not matter."""
    drawing = schedule.drawings[0]
    turned = replace(drawing, skipped=dict(reversed(drawing.skipped.items())))

    assert to_json(schedule) == to_json(replace(schedule, drawings=(turned,)))


def test_half_a_character_in_a_layer_name_is_replaced(schedule):
    """A damaged drawing's name that UTF-8 cannot carry does not stop the record."""
    bad = replace(SOURCE, layer="WS\udce9")
    finding = Finding(code="xref", severity=Severity.NOTE, message="odd \udce9", sources=(bad,))

    record = from_json(to_json(replace(schedule, findings=(finding,))))

    assert ("odd \ufffd", "WS\ufffd") == (record["findings"][0]["message"], record["findings"][0]["source"]["layer"])


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "old.json is no schedule record"),
        (b"PK\x03\x04", "it is not JSON"),
        (b"[]", '"format" is not "splicewright-schedule"'),
        (b'{"format": "other"}', '"format" is not "splicewright-schedule"'),
        (b'{"format": "splicewright-schedule", "version": 2}', "newer splicewright"),
        (b'{"format": "splicewright-schedule", "version": "1"}', "version is not integer"),
        (b'{"format": "splicewright-schedule", "version": true}', "version is not integer"),
        (b'{"format": "splicewright-schedule", "version": 1}', "job is missing"),
    ],
)
def test_what_is_no_record_is_refused_in_one_sentence(data, words):
    """The sentence names the file and what is wrong with it."""
    with pytest.raises(RecordError, match=r"^old\.json ") as caught:
        from_json(data, name="old.json")

    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda record: record["nodes"][1].pop("at_m"), "nodes[1].at_m is missing"),
        (lambda record: record["runs"][0].update(length_m="4"), "runs[0].length_m is not number"),
        (
            lambda record: record["splices"][2].update(made="home"),
            "splices[2].made is 'home', not one of factory, field",
        ),
        (lambda record: record["ledger"][PROFILE].pop("measured_m"), f"ledger.{PROFILE}.measured_m is missing"),
        (lambda record: record["totals"].update(tees=1.5), "totals.tees is not integer"),
    ],
)
def test_damaged_record_names_the_first_flaw(schedule, spoil, words):
    """A record that lost or changed a value is refused with the way to that value."""
    record = json.loads(to_json(schedule))
    spoil(record)

    with pytest.raises(RecordError) as caught:
        from_json(json.dumps(record).encode())

    assert words in str(caught.value)


def test_additions_by_later_programs_are_kept(schedule):
    """Keys that this version does not know do no harm and come back."""
    record = json.loads(to_json(schedule))
    record["nodes"][0]["pour"] = "A"

    assert "A" == from_json(json.dumps(record).encode())["nodes"][0]["pour"]


def test_every_item_of_a_list_has_a_line_of_its_own(schedule):
    """A splice, a node, a finding is one line, whatever its texts hold, so that revisions can be compared by line."""
    tricky = replace(schedule.splices[0], reason='},{"mark":"S9"')
    lines = to_json(replace(schedule, splices=(tricky, *schedule.splices[1:]))).splitlines()

    assert ["S1", "S2", "S3"] == [json.loads(line.rstrip(b","))["mark"] for line in lines if b'"made":' in line]
    assert 2 == sum(line.startswith(b'{"code":') for line in lines)


def test_batches_join_without_a_seam(schedule):
    """Lists longer than one batch lose and double nothing."""
    splices = tuple(replace(schedule.splices[0], mark=f"S{number}") for number in range(1, 1001))
    record = from_json(to_json(replace(schedule, splices=splices)))

    assert [splice.mark for splice in splices] == [splice["mark"] for splice in record["splices"]]
