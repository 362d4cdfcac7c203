"""What published specifications ask of splices, samples and measurement, against the defaults and the schedules made.

Short names: UFGS-03150A and UFGS-03151A are Unified Facilities Guide Specifications (concrete accessories; waterstops,
September 2003). Reclamation 03156 is section 03156, PVC Waterstop, of a federal project specification (a pumping
plant, stage 1). CRD-C 572-74 is the Corps of Engineers' specification for PVC waterstops.
"""

from math import ceil

import pytest

from splicewright.extract.unit import parse_length
from splicewright.schedule.plan import plan
from splicewright.schedule.profile import estimate_mass
from splicewright.schedule.quantity import parse_mass_per_length
from splicewright.schedule.rules import load_rules
from splicewright.schedule.splice import Made, SpliceKind

FT_M = 0.3048


@pytest.fixture
def scheduled(drawing_of, build):
    """Plan a slab joint by default rules, with options over them."""

    def make(*courses, **options):
        rules = load_rules(None, options={name.replace("__", "."): value for name, value in options.items()})
        return plan([build(drawing_of(*courses, joint="slab", profile=None))], rules, job="test")

    return make


def ordered(schedule, item):
    """Number and length of what the order list names so."""
    return [(line.needed, line.length_m) for line in schedule.order_list if line.item.startswith(item)]


@pytest.mark.outside(
    what="reasons to reject a splice, with their limits",
    against="UFGS-03150A, 3.2.3.3, defects (1) to (10)",
    result="all ten, limits as published",
)
@pytest.mark.parametrize(
    ("number", "words"),
    [
        (1, ["Tensile", "80 % of the parent"]),
        (2, ["Free lap"]),
        (3, ["centre bulb, ribs or end bulbs", "1/16 in (2 mm)"]),
        (4, ["reduces the section", "15 %"]),
        (5, ["Bond failure", "1/16 in (2 mm) or 15 % of the thickness"]),
        (6, ["out of straight", "1/2 in in 10 ft (13 mm in 3 m)"]),
        (7, ["Porosity or pinholes", "any visible"]),
        (8, ["Charred or burnt"]),
        (9, ["Bubbles or poor bond"]),
        (10, ["Separation", "bent sharply by hand"]),
    ],
)
def test_reasons_to_reject(number, words):
    """The n-th reason is the n-th published, and names its source."""
    criterion = load_rules(None).inspection[number - 1]

    assert [] == [word for word in words if word not in f"{criterion.text} {criterion.limit}"]
    assert ("UFGS-03150A 3.2.3.3", 10) == (criterion.source.partition(" (")[0], len(load_rules(None).inspection))


@pytest.mark.outside(
    what="how far ribs and bulb may be out of line on a seam before the schedule says so",
    against="UFGS-03150A, 3.2.3.3, defect (3): 1/16 in",
    result="equal",
)
def test_offset_of_a_seam():
    """The default limit is the published one."""
    assert parse_length("1/16 in") == load_rules(None).assemblies.offset_m


@pytest.mark.outside(
    what="what the crew is told of centre bulbs and of edge welding",
    against="UFGS-03150A, 3.2.3.3: no edge welding; a centre bulb is closed where it meets strip without one",
    result="both said",
)
def test_bulbs_and_edges():
    """One note says both and names the source."""
    (note,) = (note.text for note in load_rules(None).notes if note.source == "UFGS-03150A 3.2.3.3")

    assert "Close a centre bulb" in note
    assert "edge welding is not permitted" in note


@pytest.mark.outside(
    what="who makes intersections and changes of direction, where the rules do not say",
    against="UFGS-03150A, 2.4: they are shop fabricated",
    result="the shop",
)
@pytest.mark.outside(
    what="who else may make them",
    against="UFGS-03151A: splices in a temporary shop on site or at the maker's plant",
    result="a shop on site is a policy of the rules, with the same fittings",
)
@pytest.mark.parametrize(("policy", "made"), [(None, Made.FACTORY), ("site shop", Made.FIELD)])
def test_who_makes_intersections(scheduled, policy, made):
    """
    Every seam of a corner and of a tee is one of a fitting, from the works or from the crew's shop; the rest are butts.

        +----+----+
        |    |
    """
    chosen = {"fittings__policy": policy} if policy else {}
    schedule = scheduled([(0, -20), (0, 0), (40, 0)], [(20, 0), (20, -20)], **chosen)
    seams = [splice for splice in schedule.splices if splice.kind is SpliceKind.SEAM]
    intersections = {node.mark for node in schedule.nodes if node.kind in {"corner", "tee"}}

    assert (1 + 2, {made}) == (len(seams), {splice.made for splice in seams})
    assert intersections == {mark for fitting in schedule.fittings for copy in fitting.nodes for mark in copy}
    assert all(splice.made is Made.FIELD for splice in schedule.splices if splice not in seams)


@pytest.mark.outside(
    what="scraps to order for qualification splices, of shop and crew",
    against="UFGS-03151A, 2.2.2: three of each size and type, by factory and by contractor",
    result="three by each, two scraps a splice",
)
def test_qualification_splices(scheduled):
    """A job with seams and site splices qualifies the shop and the crew."""
    schedule = scheduled([(0, -20), (0, 0), (40, 0)])

    assert [6, 6] == [needed for needed, _ in ordered(schedule, "scrap for the qualification splices")]


@pytest.mark.outside(
    what="sample to order for approval",
    against="Reclamation 03156, 1.04 C: 2 ft of each size and type",
    result="equal",
)
def test_approval_sample(scheduled):
    """One profile, one sample."""
    ((needed, length_m),) = ordered(scheduled([(0, 0), (40, 0)]), "sample for approval")

    assert (1, 2 * FT_M) == (needed, pytest.approx(length_m))


@pytest.mark.outside(
    what="samples of material to order, for 100 to 1390 ft of strip",
    against="CRD-C 572-74, 4.1: one of at least 12 in from each 200 ft, 4 ft in all at least",
    result="equal",
)
@pytest.mark.parametrize(("feet", "samples"), [(100, 4), (790, 4), (900, 5), (1390, 7)])
def test_material_samples(scheduled, feet, samples):
    """Worked out from the clause: the greater of 4 and feet / 200, rounded up."""
    ((needed, length_m),) = ordered(scheduled([(0, 0), (feet * FT_M, 0)]), "material sample")

    assert samples == max(4, ceil(feet / 200)) == needed
    assert FT_M == pytest.approx(length_m)


@pytest.mark.outside(
    what="measured length of a job with fittings, splices and welds",
    against="Reclamation 03156, 1.01 A: along the centreline, nothing added for splices or intersections",
    result="equal to the drawn length, whatever legs, rolls and melts",
)
@pytest.mark.parametrize("leg", ["24 in", "36 in"])
@pytest.mark.parametrize("melt", ["0 in", "1/2 in"])
def test_pay_length(scheduled, leg, melt):
    """
    A tee of 40 and 20 m measures 60 m.

        +----+----+
             |
    """
    schedule = scheduled([(0, 0), (40, 0)], [(20, 0), (20, -20)], fittings__leg=leg, splices__melt=melt)

    assert 60.0 == pytest.approx(sum(row.measured_m for row in schedule.footage), abs=1e-9)
    assert 60.0 == pytest.approx(schedule.totals["length_m"], abs=1e-9)


@pytest.mark.outside(
    what="estimated mass of a plain strip of 6 x 1/4 in",
    against="a state-filed project specification 03251, February 2017: gravity about 1.37, 1.2 lb/ft with bulb",
    result="0.891 lb/ft, as worked out, and below what it asks of a profile with ribs and bulb",
)
def test_estimated_mass():
    """The estimate leaves ribs and bulb out, so a published ribbed profile is heavier."""
    gravity = load_rules(None).material.specific_gravity
    mass = estimate_mass(width_m=6 * 0.0254, thickness_m=0.25 * 0.0254, specific_gravity=gravity)
    pound_per_foot = parse_mass_per_length("1 lb/ft")

    assert 1.37 == gravity
    assert 0.891 == round(mass / pound_per_foot, 3) < 1.2
