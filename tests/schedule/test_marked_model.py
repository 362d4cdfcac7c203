"""Models handed back with marks: their own instances stay to the byte, and what is added is valid and at its place."""

import gzip
from collections import Counter
from pathlib import Path

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.placement
import ifcopenshell.validate
import pytest

from splicewright.extract.errors import OutputError
from splicewright.schedule.job import schedule_job
from splicewright.schedule.marked_model import SET_NAME, write_marked_model
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
MODELS = ("settling-basin.ifc", "settling-basin-axes.ifc")  # IFC4 in millimetres; IFC2X3 in feet
METRE = {"settling-basin.ifc": 1000, "settling-basin-axes.ifc": 1 / 0.3048}


def schedule_of_model(path):
    return schedule_job([path], load_rules(BASIN / "rules-ifc.toml"), name="basin")


@pytest.fixture(scope="module", params=MODELS)
def marked(request, tmp_path_factory):
    """The demo model, its schedule, and the path of the marked model."""
    source, target = BASIN / request.param, tmp_path_factory.mktemp("marked") / "basin.marked.ifc"
    made = schedule_of_model(source)
    write_marked_model(made, 0, source, target)
    return source, made, target


def annotations(model, kind):
    return [one for one in model.by_type("IfcAnnotation") if one.ObjectType == f"Splicewright {kind}"]


def place(annotation):
    return tuple(ifcopenshell.util.placement.get_local_placement(annotation.ObjectPlacement)[:3, 3])


def test_the_model_stays_to_the_byte(marked):
    """All that the model held stands in the marked one, byte for byte, with only instances behind it."""
    source, _, target = marked
    before, after = source.read_bytes(), target.read_bytes()
    data, end = before[: before.rindex(b"ENDSEC;")], before[before.rindex(b"ENDSEC;") :]

    assert after.startswith(data)
    assert after.endswith(end)
    assert [] == [line for line in after[len(data) : -len(end)].splitlines() if not line.startswith(b"#")]


@pytest.mark.outside(
    what="the demo's model handed back with marks",
    against="ifcopenshell.validate, with the EXPRESS rules of the IFC schema",
    result="valid",
)
def test_the_marked_model_is_valid(marked):
    """Schema and rules of the standard, as ifcopenshell.validate checks them, find nothing."""
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(marked[2]), log, express_rules=True)

    assert [] == log.statements


def test_every_instance_keeps_its_number(marked):
    """Instances read from both models are equal by number, attribute by attribute."""
    before, after = ifcopenshell.open(marked[0]), ifcopenshell.open(marked[2])
    numbers = [instance.id() for instance in before]

    assert [str(before[number]) for number in numbers] == [str(after[number]) for number in numbers]
    assert min(instance.id() for instance in after if instance.id() not in set(numbers)) == max(numbers) + 1


def test_every_splice_and_fitting_is_annotated(marked):
    """Each splice has an annotation of its mark, and each copy of a fitting one of its type."""
    _, made, target = marked
    model = ifcopenshell.open(target)
    field = {splice.mark for splice in made.splices if splice.made == "field"}
    shop = {splice.mark for splice in made.splices if splice.made == "factory"}
    copies = {fitting.mark: fitting.quantity for fitting in made.fittings}

    assert field == {one.Name for one in annotations(model, "field splice")}
    assert shop == {one.Name for one in annotations(model, "shop splice")}
    assert copies == Counter(one.Name for one in annotations(model, "fitting"))


def test_annotations_stand_at_their_places(marked):
    """Every splice's annotation stands at its place, in the model's own unit."""
    source, made, target = marked
    at = {splice.mark: splice.at_m for splice in made.splices}
    metre = METRE[source.name]
    model = ifcopenshell.open(target)
    off = [
        one.Name
        for kind in ("field splice", "shop splice")
        for one in annotations(model, kind)
        if place(one) != pytest.approx([value * metre for value in at[one.Name]], abs=1e-5 * metre)
    ]

    assert len(at) == 123
    assert [] == off


def test_elements_carry_their_marks(marked):
    """Every run is named on an element, and every mark on site too; a run's elements name it alone or with others."""
    _, made, target = marked
    model = ifcopenshell.open(target)
    told = Counter()
    for element in model.by_type("IfcElement"):
        for name, text in ifcopenshell.util.element.get_psets(element).get(SET_NAME, {}).items():
            told.update((name, mark) for mark in marks_in(str(text)) if name != "id")
    names = ("Runs", "Pieces", "Field splices", "Shop splices", "Fittings")
    found = {name: {mark for kind, mark in told if kind == name} for name in names}

    assert {run.mark for run in made.runs} == found["Runs"]
    assert {piece.mark for roll in made.rolls for piece in roll.pieces} == found["Pieces"]
    assert {splice.mark for splice in made.splices} == found["Field splices"] | found["Shop splices"]
    assert {fitting.mark for fitting in made.fittings} == found["Fittings"]


def marks_in(text):
    """Marks of a list such as "S1–S3, S7"."""
    for part in text.split(", "):
        first, _, last = part.partition("–")
        if last:
            yield from (f"{first[0]}{number}" for number in range(int(first[1:]), int(last[1:]) + 1))
        else:
            yield first


def test_findings_are_annotated(marked):
    """Each finding with a place has an annotation there that tells its sentence."""
    _, made, target = marked
    told = Counter((finding.code, finding.message) for finding in made.findings if finding.at_m is not None)

    assert told == Counter((one.Name, one.Description) for one in annotations(ifcopenshell.open(target), "finding"))


def test_annotations_are_held_by_the_storey_of_their_element(marked):
    """Every annotation stands in a spatial element, so that viewers list it."""
    model = ifcopenshell.open(marked[2])
    holders = {one.ContainedInStructure[0].RelatingStructure.is_a() for one in model.by_type("IfcAnnotation")}

    assert holders <= {"IfcBuildingStorey", "IfcBuilding", "IfcSite", "IfcSpace", "IfcFacilityPart"}


def test_a_marked_model_reads_as_before(marked):
    """A marked model scheduled again gives the same totals: no annotation is taken for waterstop."""
    _, made, target = marked
    again = schedule_of_model(target)

    assert made.totals == again.totals
    assert made.drawings[0].selected == again.drawings[0].selected


def test_the_same_model_gives_the_same_bytes(marked, tmp_path):
    """Marking twice gives equal files."""
    source, made, target = marked
    write_marked_model(made, 0, source, tmp_path / "again.ifc")

    assert target.read_bytes() == (tmp_path / "again.ifc").read_bytes()


def test_a_packed_model_comes_back_unpacked(tmp_path):
    """A model packed by gzip is handed back as plain text, its instances as they were."""
    content = (BASIN / MODELS[0]).read_bytes()
    (tmp_path / "basin.ifc").write_bytes(gzip.compress(content))
    write_marked_model(schedule_of_model(tmp_path / "basin.ifc"), 0, tmp_path / "basin.ifc", tmp_path / "out.ifc")

    assert (tmp_path / "out.ifc").read_bytes().startswith(content[: content.rindex(b"ENDSEC;")])


def test_places_are_brought_back_from_the_map(tmp_path):
    """In a model that is placed on a map 400 km off, annotations stand in the model's own coordinates again."""
    model = ifcopenshell.open(BASIN / MODELS[0])
    context = next(one for one in model.by_type("IfcGeometricRepresentationContext") if one.is_a() == one.is_a())
    system = model.create_entity("IfcProjectedCRS", Name="EPSG:0")
    model.create_entity("IfcMapConversion", context, system, 4e8, 5e9, 1e5, 0.6, 0.8, 1.0)
    model.write(tmp_path / "basin.ifc")
    made = schedule_of_model(tmp_path / "basin.ifc")
    write_marked_model(made, 0, tmp_path / "basin.ifc", tmp_path / "out.ifc")
    plain = schedule_of_model(BASIN / MODELS[0])
    spots = Counter(
        tuple(round(value / 1000, 3) + 0.0 for value in place(one))
        for one in annotations(ifcopenshell.open(tmp_path / "out.ifc"), "shop splice")
    )
    expected = Counter(
        tuple(round(value, 3) + 0.0 for value in splice.at_m) for splice in plain.splices if splice.made == "factory"
    )

    assert max(abs(value) for splice in made.splices for value in splice.at_m) > 400_000
    assert expected == spots


def test_hostile_names_arrive_as_text(tmp_path):
    """Names with formulas, HTML, quotes, signs from right to left and emoji come back from the marked model."""
    name = "waterstop =1+1 <b>'\"\\X\\ \u202eabc\u202c \U0001f600"
    model = ifcopenshell.open(BASIN / MODELS[0])
    for element in model.by_type("IfcDiscreteAccessory"):
        element.Name = name
    model.write(tmp_path / "basin.ifc")
    made = schedule_of_model(tmp_path / "basin.ifc")
    write_marked_model(made, 0, tmp_path / "basin.ifc", tmp_path / "out.ifc")
    after = ifcopenshell.open(tmp_path / "out.ifc")
    told = {finding.message for finding in made.findings if finding.at_m is not None}

    assert {name} == {element.Name for element in after.by_type("IfcDiscreteAccessory")}
    assert told == {one.Description for one in annotations(after, "finding")}


def test_a_model_changed_meanwhile_is_refused(tmp_path):
    """A model that is no longer the one that was read is not marked."""
    source = tmp_path / "basin.ifc"
    source.write_bytes((BASIN / MODELS[0]).read_bytes())
    made = schedule_of_model(source)
    source.write_bytes(source.read_bytes().replace(b"Settling basin", b"Settled  basin"))

    with pytest.raises(OutputError, match="has changed while it was being scheduled"):
        write_marked_model(made, 0, source, tmp_path / "out.ifc")
