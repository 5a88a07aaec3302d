"""Modal bandwidth picks the row of the published table; it is never scaled with length."""

import pytest

from optiselect.model.network import Fiber
from optiselect.model.terms import Grade
from optiselect.optics.bandwidth import effective_grade
from optiselect.standards.pmd import pmd

SHORT, LONG = (840.0, 860.0), (1270.0, 1355.0)


def run(grade: Grade, **bandwidth: float) -> Fiber:
    """A multimode run with the modal bandwidth measured at nm850, nm1300."""
    figures = {int(key.removeprefix("nm")): value for key, value in bandwidth.items()}
    return Fiber(grade=grade, length_m=100, strands=2, modal_bandwidth_mhz_km=figures or None)


@pytest.mark.parametrize(
    ("stated", "measured", "row"),
    [
        ("62.5/160/500", 220, "OM1"),  # a printed 220 MHz km meets the row of 200
        ("OM1", 180, "62.5/160/500"),
        ("OM1", 5000, "OM1"),
        ("OM1", 150, None),
        ("50/400/400", 500, "OM2"),
        ("OM2", 450, "50/400/400"),
        ("OM2", 2000, "OM3"),
        ("OM2", 1999, "OM2"),
        ("OM3", 4700, "OM4"),
        ("OM5", 4700, "OM5"),
        ("OM4", 1600, "OM2"),
        ("OM3", 300, None),
    ],
)
def test_a_measured_bandwidth_at_850_nm_picks_the_row_that_it_meets(stated: Grade, measured: float, row: Grade | None) -> None:
    """Rows by core and bandwidth as in IEEE 802.3 Tables 38-2 and 52-6; laser-optimized grades by their effective bandwidth."""
    assert effective_grade(run(stated, nm850=measured), SHORT) == row


def test_at_1300_nm_the_same_figure_does_not_make_a_better_grade() -> None:
    """OM2 to OM5 all assure 500 MHz km there, so a measured 600 keeps what is stated, and its conditioning rule with it."""
    assert effective_grade(run("OM2", nm1300=600), LONG) == "OM2"
    assert effective_grade(run("OM3", nm1300=600), LONG) == "OM3"
    assert effective_grade(run("50/400/400", nm1300=600), LONG) == "OM2"
    assert effective_grade(run("OM3", nm1300=420), LONG) == "50/400/400"


def test_a_bandwidth_at_another_wavelength_is_not_used() -> None:
    assert effective_grade(run("OM1", nm850=150), LONG) == "OM1"


def test_a_bandwidth_at_a_window_for_which_no_row_asks_any_keeps_the_stated_grade() -> None:
    fiber = Fiber(grade="OM2", length_m=10, strands=2, modal_bandwidth_mhz_km={1550: 100})
    assert effective_grade(fiber, (1530, 1565)) == "OM2"


def test_with_nothing_measured_it_is_the_stated_grade() -> None:
    assert effective_grade(run("OM4"), SHORT) == "OM4"


def test_single_mode_has_no_modal_bandwidth() -> None:
    assert effective_grade(run("OS2", nm1300=600), (1260, 1360)) == "OS2"


def test_the_row_decides_the_reach() -> None:
    """1000BASE-SX on 62.5 um: 220 m on the old row, 275 m with a measured 220 MHz km (IEEE 802.3 Table 38-2)."""
    reach_m = pmd("1000BASE-SX").figures.reach_m
    rows = [effective_grade(run("62.5/160/500"), SHORT), effective_grade(run("62.5/160/500", nm850=220), SHORT)]
    assert reach_m is not None
    assert [reach_m[row] for row in rows if row] == [220, 275]


def test_of_two_measured_bandwidths_the_lesser_counts() -> None:
    fiber = Fiber(grade="OM2", length_m=10, strands=2, modal_bandwidth_mhz_km={845: 500, 855: 400})
    assert effective_grade(fiber, (840, 860)) == "50/400/400"


def test_single_mode_fiber_has_no_modal_bandwidth() -> None:
    fiber = Fiber(grade="OS2", length_m=10, strands=2, modal_bandwidth_mhz_km={1310: 1})
    assert effective_grade(fiber, (1260, 1360)) == "OS2"
