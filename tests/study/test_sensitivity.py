"""How far figures may be off: against what can be worked out by hand, and against looking at every step."""

import pytest

from optiselect.errors import DocumentError
from optiselect.solver.solve import solve_bare
from optiselect.study import Doubt, Set, Variant, sensitivity
from tests.study.harbor import harbor

CASE = harbor()
PLAN = solve_bare(CASE.network, CASE.catalog, CASE.policy)


def point(**doubt):
    return sensitivity(CASE, [Doubt(**doubt)], plan=PLAN).points[0]


# SO-LONG: -4 dBm sent, -24 dBm heard, 2 dB penalty: 18 dB. 1000BASE-LX10 on multimode: 2.4 dB of channel loss (IEEE 802.3, Clause 59).
BY_HAND = [
    ({"place": "runs.F7.fiber.measured_loss_db.1555", "now": 11, "limit": 30, "unit": "dB"}, 18.0, 18.1, "breaks"),
    ({"place": "runs.F7.fiber.measured_loss_db.1555", "now": 11, "limit": 18}, 18.0, None, "holds"),
    ({"place": "runs.F5.fiber.measured_loss_db.1310", "now": 1.8, "limit": 9}, 2.4, 2.5, "breaks"),
    ({"place": "runs.F7.fiber.length_m", "limit": 90000, "step": 10}, 60000, 60010, "breaks"),
    ({"place": "modules.SO-LX.price", "limit": 80, "step": 0.5}, 39.5, 40.0, "replaces"),
    ({"place": "sites.outside.ambient_c.0", "limit": -60, "step": 1}, -40, -41, "breaks"),
    ({"place": "modules.SO-LONG.price", "limit": 0, "step": 1}, 0, None, "holds"),
]


@pytest.mark.parametrize(("doubt", "holds_to", "changes_at", "kind"), BY_HAND)
def test_a_figure_changes_the_plan_where_arithmetic_says(doubt, holds_to, changes_at, kind):
    found = point(**doubt)

    assert (found.holds_to, found.changes_at, found.kind) == (holds_to, changes_at, kind)


def first_that_differs(doubt):
    """Every step one after another; a plan that is as good as another says nothing of which of the two is taken."""
    for value in doubt.range_of(CASE)[1]:
        case = Variant.named("off", Set(doubt.place, value)).applied_to(CASE)
        if solve_bare(case.network, case.catalog, case.policy).objective != PLAN.objective:
            return value
    return None


@pytest.mark.parametrize(
    "doubt",
    [
        Doubt(place="runs.F4.fiber.measured_loss_db.1310", now=1.03, limit=8, step=0.5),
        Doubt(place="policy.repair_allowance_db", limit=4, step=0.25),
        Doubt(place="modules.NO-SX.price", limit=0, step=1),
        Doubt(place="runs.F1.fiber.length_m", limit=2000, step=100),
    ],
    ids=lambda doubt: doubt.place,
)
def test_halving_finds_what_looking_at_every_step_finds(doubt):
    assert sensitivity(CASE, [doubt], plan=PLAN).points[0].changes_at == first_that_differs(doubt)


def test_a_breaking_point_is_told_with_its_rule_and_what_comes_then():
    doubts = [doubt for doubt in Doubt.losses(CASE, PLAN) if "F7" in doubt.place]

    assert sensitivity(CASE, doubts, plan=PLAN).text().splitlines() == [
        "loss of F7 at 1555 nm, now 11 dB: breaks at 18.1 dB",
        "  core/1 to light/1: F7 may lose 18.1 dB, and from SO-LONG to SO-LONG 18 dB are available, 0.1 dB short",
        "  light/1 to core/1: F7 may lose 18.1 dB, and from SO-LONG to SO-LONG 18 dB are available, 0.1 dB short",
        "  then: cost 712.00 EUR in place of 572.00.",
        "        To buy: 2 more NO-FAR, 2 fewer SO-LONG.",
        "        light at core: NO-FAR + CORD-OS2 in port 1 in place of SO-LONG + CORD-OS2 in port 1",
        "        light at light: NO-FAR + CORD-OS2 in port 1 in place of SO-LONG + CORD-OS2 in port 1",
    ]


def test_every_run_that_is_lit_is_in_doubt_and_the_tightest_comes_first():
    found = sensitivity(CASE, Doubt.losses(CASE, PLAN), plan=PLAN, solve_again=False)

    assert {one.doubt.what for one in found.points} == {
        f"loss of F{run} at {nm} nm" for run, nm in [(1, 1310), (2, 1310), (3, 1310), (4, 1310), (5, 1310), (7, 1555)]
    }
    assert found.frame()["room"].is_monotonic_increasing
    assert found.points[0].doubt.what == "loss of F5 at 1310 nm"


def test_every_length_is_in_doubt():
    assert [doubt.place for doubt in Doubt.lengths(CASE)] == [f"runs.F{run}.fiber.length_m" for run in (1, 2, 3, 4, 5, 7)]


@pytest.mark.parametrize(
    ("doubt", "sentence"),
    [
        (Doubt(place="runs.*.fiber.length_m", limit=1), "one figure is due here, and these are 6"),
        (Doubt(place="runs.F9.fiber.length_m", limit=1), "there is no run 'F9'"),
        (Doubt(place="runs.F1.fiber.length_m", limit=1e6, step=1e-6), "take longer steps"),
    ],
)
def test_a_doubt_that_names_no_one_figure_is_refused(doubt, sentence):
    with pytest.raises(DocumentError, match=sentence.replace("*", r"\*")):
        sensitivity(CASE, [doubt], plan=PLAN)
