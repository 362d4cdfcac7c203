"""Legs by kind and profile, policies by layer and profile."""

import pytest

from splicewright.extract.errors import RulesError

TEE = ([(-9, 0), (9, 0)], [(0, 0), (0, -9)])


def test_a_leg_may_be_set_by_kind_of_node(schedule_of):
    """Legs of tees are 0.8 m, those of everything else 0.6 m; the first entry that fits counts."""
    legs = '\n[[legs]]\nkind = "tee"\nleg = "800 mm"\n\n[[legs]]\nleg = "600 mm"\n'
    schedule = schedule_of(*TEE, [(50, 9), (50, 0), (59, 0)], more=legs)

    assert {"tee": (0.8, 0.8, 0.8), "corner": (0.6, 0.6)} == {f.kind: f.legs_m for f in schedule.fittings}


def test_a_leg_may_be_set_by_profile(schedule_of):
    """Only strip of the profile named gets the longer leg."""
    legs = '\n[[legs]]\nprofile = "seal"\nleg = "900 mm"\n'

    assert [0.9, 0.9, 0.9] == list(schedule_of(*TEE, more=legs, profile="seal").fittings[0].legs_m)
    assert [0.6, 0.6, 0.6] == list(schedule_of(*TEE, more=legs, profile="ribbed").fittings[0].legs_m)


def test_a_short_leg_is_lengthened_to_keep_splices_off_the_node(schedule_of):
    """A leg of 200 mm is made 350 mm where no splice may come closer to a node."""
    schedule = schedule_of(*TEE, options={"fittings.leg": "200 mm", "splices.least_to_node": "350 mm"})

    assert [0.35, 0.35, 0.35] == list(schedule.fittings[0].legs_m)


def test_legs_of_two_lengths_meet_lengthened_alike(schedule_of):
    """
    A tee's leg of 0.8 m and an ell's of 0.6 m on a run of 1.6 m: 0.2 m left, less than a piece; each grows by 0.1 m.

        ---+---1.6---+
           |         |
    """
    legs = '\n[[legs]]\nkind = "tee"\nleg = "800 mm"\n'
    schedule = schedule_of([(-9, 0), (1.6, 0), (1.6, -9)], [(0, 0), (0, -9)], more=legs)
    (meeting,) = [s for s in schedule.splices if s.kind.value == "leg to leg"]

    assert (0.9, 0, 0) == pytest.approx(meeting.at_m)
    assert abs(schedule.footage[0].difference_m) < 1e-3


def test_a_policy_may_be_set_by_layer(schedule_of, line):
    """Of two like tees the one on the layer named is welded in place, the other made in the shop, with the reasons."""
    policy = '\n[[policies]]\nmatch = "wall-base"\npolicy = "field"\n'
    schedule = schedule_of(
        *(line(course, i, joint="slab") for i, course in enumerate(TEE, 1)),
        *(line([(x + 50, y) for x, y in course], i, joint="wall-base") for i, course in enumerate(TEE, 3)),
        more=policy,
    )
    seams = [(s.made.value, s.reason) for s in schedule.splices if s.kind.value == "seam"]

    assert 1 == schedule.totals["fittings"]
    assert [2, 3] == [sum(made == who for made, _ in seams) for who in ("factory", "field")]
    assert {"seam of the tee in F1", "seam of the tee, welded in place"} == {reason for _, reason in seams}
    assert abs(schedule.footage[0].difference_m) < 1e-3


def test_a_policy_may_be_set_by_profile(schedule_of):
    """All intersections of one profile come from the site shop, and count as made on site."""
    policy = '\n[[policies]]\nprofile = "seal"\npolicy = "site shop"\n'
    schedule = schedule_of(*TEE, more=policy, profile="seal")

    assert (0, 5) == (schedule.totals["factory_splices"], schedule.totals["field_splices"])
    assert ["site shop"] == [work.policy.value for work in schedule.works]


def test_where_policies_meet_the_shop_is_asked_first(schedule_of, line):
    """A tee of strips under "field" and "factory" comes from the factory."""
    policy = '\n[[policies]]\nmatch = "slab"\npolicy = "field"\n'
    schedule = schedule_of(
        line([(-9, 0, 0), (0, 0, 0), (9, 0, 0)], 1, joint="wall-base"),
        line([(0, 0, 0), (0, 0, 9)], 2, joint="wall"),
        more=policy.replace("slab", "wall"),
    )

    assert 2 == schedule.totals["factory_splices"]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('\n[[legs]]\nprofile = "seel"\nleg = "1 m"\n', "legs[1].profile: there is no profile 'seel'"),
        ('\n[[legs]]\nleg = "9 m"\n', "legs[1].leg: the leg (9000 mm) is longer than the largest assembly"),
        ('\n[[policies]]\nprofile = "seel"\npolicy = "field"\n', "policies[1].profile: there is no profile 'seel'"),
        ('\n[[policies]]\npolicy = "fields"\n', "policies[1].policy: must be one of factory, site shop, field"),
        ('\n[assemblies]\nheaviest = "110"\n', "assemblies.heaviest: '110' is not a mass with a unit"),
        ("\n[saw]\nstep_deg = 0\n", "saw.step_deg: must be more than 0"),
    ],
)
def test_impossible_rules_of_the_shop_are_refused(rules_of, text, fault):
    """Each is named by its full path and says what would do."""
    with pytest.raises(RulesError) as caught:
        rules_of(text)

    assert fault in str(caught.value)
