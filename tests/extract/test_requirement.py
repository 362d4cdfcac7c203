"""What a model must hold, checked by a library that others wrote, against good models and spoiled ones."""

from pathlib import Path

import ifcopenshell
import ifcopenshell.api.root
import pytest
from ifctester import ids

from splicewright.extract.errors import MissingUnitError, NothingSelectedError
from splicewright.extract.ifc import read_ifc
from splicewright.extract.line import JointKind
from splicewright.extract.requirement import requirements
from splicewright.extract.selection import Selection

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
FORMS = ["settling-basin.ifc", "settling-basin-axes.ifc"]


def strips(model):
    return [element for element in model.by_type("IfcElement") if element.ObjectType == "Waterstop"]


def sound(form):
    """Open a model of the settling basin without its two tags, which are typed as waterstop and have no shape."""
    model = ifcopenshell.open(BASIN / form)
    for tag in [element for element in strips(model) if element.Name == "Strip tag"]:
        ifcopenshell.api.root.remove_product(model, product=tag)
    return model


@pytest.fixture
def check(tmp_path):
    """Check a model by the requirements, first checked themselves by the schema of IDS, and return the outcome."""
    path = tmp_path / "waterstop.ids"
    path.write_text(requirements(), encoding="utf-8")

    def checked(model):
        outcome = ids.open(str(path), validate=True)
        outcome.validate(model)
        return outcome.specifications

    return checked


def failed(outcome):
    """Names of the specifications that a model fails."""
    return [specification.name for specification in outcome if not specification.status]


def rows(model, name):
    return [row for row in model.by_type("IfcPropertySingleValue") if row.Name == name]


def no_unit(model):
    model.by_type("IfcProject")[0].UnitsInContext = None


def no_name_of_its_kind(model):
    for element in strips(model):
        element.ObjectType = "Strip"


def no_name(model):
    strips(model)[0].Name = None


def no_shape(model):
    strips(model)[0].Representation = None


def no_place(model):
    strips(model)[0].ObjectPlacement = None


def no_storey(model):
    strip = strips(model)[0]
    (held,) = strip.ContainedInStructure
    held.RelatedElements = [element for element in held.RelatedElements if element != strip]


def no_profile(model):
    rows(model, "Profile")[0].Name = "Section"


def unknown_joint_kind(model):
    rows(model, "JointKind")[0].NominalValue.wrappedValue = "corner"


def no_pour(model):
    model.remove(model.by_type("IfcRelDefinesByProperties")[0])


@pytest.mark.outside(
    what="the requirements on models, as an IDS file, and a model that meets them",
    against="IfcTester: the schema of IDS, and its checking of IFC4 and IFC2X3",
    result="valid, and met",
)
@pytest.mark.parametrize("form", FORMS)
def test_good_model_meets_all(check, form):
    """A model with everything meets every specification, in IFC4 and in IFC2X3."""
    assert [] == failed(check(sound(form)))


@pytest.mark.outside(
    what="models with one thing taken away, of nine",
    against="IfcTester, checking them by our IDS file",
    result="each fails by the one requirement that asks for it",
)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("spoil", "asked"),
    [
        (no_unit, "Units"),
        (no_name_of_its_kind, "Waterstop is named"),
        (no_name, "Waterstop is named"),
        (no_shape, "Strips have a shape"),
        (no_place, "Strips have a shape"),
        (no_storey, "Strips stand in a storey"),
        (no_profile, "Strips tell their profile"),
        (unknown_joint_kind, "Joint kinds are known ones"),
        (no_pour, "Strips tell their pour"),
    ],
)
def test_bad_model_fails_by_name(check, form, spoil, asked):
    """A model that lacks one thing fails the specification that asks for it, and no other."""
    model = sound(form)
    spoil(model)

    assert [asked] == failed(check(model))


@pytest.mark.parametrize("form", FORMS)
def test_slip_of_the_basin_is_found(check, form):
    """The settling basin as it stands fails for its two tags without a shape, and for nothing else."""
    outcome = check(ifcopenshell.open(BASIN / form))
    asked = [requirement for specification in outcome for requirement in specification.requirements]
    blamed = [failure["element"].Name for requirement in asked for failure in requirement.failures]

    assert ["Strip tag", "Strip tag"] == blamed


@pytest.mark.parametrize("name", ["Waterstop", "PVC water stop", "WATER-STOP 9 in"])
def test_names_asked_for_are_names_that_are_read(check, name):
    """The names that the requirements take for waterstop are those that are selected where nobody says which."""
    model = sound(FORMS[0])
    for element in strips(model):
        element.ObjectType = name

    assert [] == failed(check(model))
    assert Selection().selects([name])


def test_joint_kinds_asked_for_are_all_there_are(check):
    """The four words for a joint kind are those of the program."""
    (kinds,) = (asked for asked in check(sound(FORMS[0])) if asked.name == "Joint kinds are known ones")

    assert sorted(JointKind) == sorted(kinds.requirements[0].value.options["enumeration"])


@pytest.fixture
def read(tmp_path):
    """Read a model under construction by the usual names, as the program does without a rules file."""

    def reading(model):
        model.write(str(tmp_path / "model.ifc"))
        return read_ifc(tmp_path / "model.ifc", Selection())

    return reading


def shortfalls(drawing):
    """Count what a reader lacks: shapes, joint kinds, storeys, pours."""
    lines = drawing.lines
    return {
        "shape": drawing.skipped.get("no-representation", 0),
        "joint": sum(line.joint is None for line in lines),
        "storey": sum(not line.whereabouts.storey for line in lines),
        "pour": sum(not line.whereabouts.stage for line in lines),
    }


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("spoil", "lacking"),
    [
        (no_name, {}),
        (no_shape, {"shape": 1}),
        (no_storey, {"storey": 1}),
        (unknown_joint_kind, {"joint": 7 + 1}),
        (no_pour, {"pour": 2}),
    ],
)
def test_what_is_asked_for_is_what_is_read(read, form, spoil, lacking):
    """A model that meets all leaves only the collar's joint kind open; the reader misses each thing taken away."""
    model = sound(form)
    complete = {"shape": 0, "joint": 1, "storey": 0, "pour": 0}
    assert complete == shortfalls(read(model))
    spoil(model)

    assert complete | lacking == shortfalls(read(model))


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("spoil", "error"), [(no_unit, MissingUnitError), (no_name_of_its_kind, NothingSelectedError)])
def test_without_unit_or_name_nothing_is_read(read, form, spoil, error):
    """Units and a name are needed: a model without cannot be read, and the error says which is missing."""
    model = sound(form)
    for typed in model.by_type("IfcTypeObject"):
        typed.Name, typed.ElementType = "Strip", "Strip"
    spoil(model)

    with pytest.raises(error):
        read(model)
