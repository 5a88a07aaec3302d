"""Attenuation: windows, what straddles, what is unknown, and whose own figure counts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.model.document import Figures
from optiselect.model.terms import CORE_OF, Grade
from optiselect.optics.attenuation import attenuation_db_km, figure_serves, figures_serving, multimode_curve_db_km, table_row

IEEE = "ieee-802.3"


@pytest.mark.parametrize(
    ("grade", "window_nm", "least", "most"),
    [
        ("OM1", (770, 860), 2.5, 3.75),
        ("OM3", (840, 860), 2.1, 3.5),
        ("OM2", (1270, 1355), 0.4, 1.5),
        ("OM1", (1270, 1380), 0.5, 1.5),
        ("OS1", (1260, 1360), 0.16, 1.0),
        ("OS2", (1260, 1340), 0.28, 0.4),
        ("OS2", (1260, 1360), 0.16, 0.4),
        ("OS2", (1480, 1500), 0.16, 0.35),
        ("OS2", (1530, 1565), 0.15, 0.25),
    ],
)
def test_a_window_takes_the_figures_of_its_row(grade: Grade, window_nm: tuple[float, float], least: float, most: float) -> None:
    """IEEE 802.3 Tables 38-12 and 52-25 with the least plausible; sources by value in standards/fiber.yaml."""
    assert attenuation_db_km(grade, window_nm, IEEE) == (least, most)


def test_a_window_that_straddles_takes_both_extremes() -> None:
    """100BASE-BX10-D sends 1480-1580 nm: 0.35 dB/km for the budget, 0.15 for overload."""
    assert attenuation_db_km("OS2", (1480, 1580), IEEE) == (0.15, 0.35)


def test_a_shared_edge_is_no_overlap() -> None:
    assert attenuation_db_km("OS2", (1480, 1530), IEEE) == (0.16, 0.35)
    assert attenuation_db_km("OS2", (1530, 1565), IEEE) == (0.15, 0.25)


def test_a_single_wavelength_on_an_edge_is_in_both_rows() -> None:
    assert attenuation_db_km("OS2", (1530, 1530), IEEE) == (0.15, 0.35)


@pytest.mark.parametrize("nm", [1260, 1625])
def test_the_outer_edges_belong_to_the_table(nm: float) -> None:
    assert attenuation_db_km("OS2", (nm, nm), IEEE) is not None


@pytest.mark.parametrize(
    ("grade", "window_nm"),
    [("OS2", (840, 860)), ("OS2", (1250, 1300)), ("OS2", (1600, 1630)), ("OM3", (1480, 1500)), ("OM5", (850, 950)), ("OM3", (900, 1300))],
)
def test_outside_every_window_it_is_unknown(grade: Grade, window_nm: tuple[float, float]) -> None:
    assert attenuation_db_km(grade, window_nm, IEEE) is None


@pytest.mark.parametrize(
    ("table", "grade", "window_nm", "most"),
    [
        ("iso-11801-1", "OM5", (840, 860), 3.0),
        ("tia-568.3", "OM4", (840, 860), 3.0),
        ("tia-568.3", "OM2", (840, 860), 3.5),
        ("iso-11801-1", "OS2", (1530, 1565), 0.4),
        ("itu-g.652.d", "OS2", (1530, 1565), 0.3),
        ("itu-g.652.d", "OS2", (1540, 1575), 0.4),
        ("itu-g.652.d", "OS2", (1260, 1360), 0.4),
    ],
)
def test_other_tables_have_other_figures(table: str, grade: Grade, window_nm: tuple[float, float], most: float) -> None:
    found = attenuation_db_km(grade, window_nm, table)
    assert found is not None and found[1] == most


def test_own_figures_replace_the_greatest_where_they_apply() -> None:
    own = Figures({"OS2": Figures({"1300-1320": 0.34})})
    assert attenuation_db_km("OS2", (1300, 1320), own) == (0.28, 0.34)
    assert attenuation_db_km("OS2", (1290, 1320), own) == (0.28, 0.4)
    assert attenuation_db_km("OM3", (840, 860), own) == (2.1, 3.5)


def test_own_windows_may_be_written_in_any_order() -> None:
    """The window that begins first counts where two overlap, whichever was written first; an edge is an edge on either side."""
    wide, narrow = ("900-1400", 0.4), ("1300-1320", 0.34)
    for own in ((narrow, wide), (wide, narrow)):
        assert attenuation_db_km("OS2", (1305, 1315), Figures({"OS2": Figures(own)})) == (0.28, 0.4)
    assert attenuation_db_km("OS2", (1300, 1320), Figures({"OS2": Figures({"1320-1300": 0.34})})) == (0.28, 0.34)


def test_an_own_figure_below_the_least_is_the_least_too() -> None:
    assert attenuation_db_km("OS2", (1550, 1550), Figures({"OS2": Figures({"1530-1565": 0.14})})) == (0.14, 0.14)


def test_an_own_figure_outside_the_table_has_no_least_but_zero() -> None:
    """No page prints a floor there; 0 is safe for overload (facts fibre.floor)."""
    assert attenuation_db_km("OM5", (940, 960), Figures({"OM5": Figures({"910-960": 2.3})})) == (0.0, 2.3)


@pytest.mark.parametrize(
    ("grade", "nm", "row"),
    [
        *(("OS2", nm, (1260, 1340)) for nm in (1260, 1310, 1340)),
        *(("OM3", nm, (770, 910)) for nm in (770, 850, 910)),
        *(("OS2", 1550, (1530, 1565)), ("OM3", 1310, (1260, 1380)), ("OS2", 850, None), ("OM3", 911, None)),
    ],
)
def test_a_wavelength_is_in_a_row(grade: Grade, nm: float, row: tuple[float, float] | None) -> None:
    assert table_row(grade, nm) == row


def test_a_figure_serves_its_own_row_and_no_other() -> None:
    """Loss at 1310 nm says nothing about 1550 nm."""
    assert figure_serves("OS2", 1310, (1260, 1360))  # the window contains it
    assert figure_serves("OS2", 1550, (1535, 1560))
    assert figure_serves("OS2", 1310, (1320, 1340))  # same row
    assert not figure_serves("OS2", 1310, (1530, 1565))
    assert not figure_serves("OS2", 1310, (1480, 1500))
    assert figures_serving(Figures({1310.0: 1.9, 1550.0: 1.2}), "OS2", (1260, 1360)) == [1.9]


@pytest.mark.parametrize(("figure_nm", "window_nm"), [(700, (700, 720)), (720, (700, 720)), (770, (800, 910)), (910, (770, 800)), (850, (770, 910))])
def test_a_figure_on_an_edge_serves(figure_nm: float, window_nm: tuple[float, float]) -> None:
    """An edge belongs to the window, and to the row."""
    assert figure_serves("OM3", figure_nm, window_nm)


@pytest.mark.parametrize(("figure_nm", "window_nm"), [(769, (770, 800)), (911, (900, 910)), (850, (760, 800)), (850, (860, 920)), (699, (700, 720))])
def test_a_figure_beyond_an_edge_does_not_serve(figure_nm: float, window_nm: tuple[float, float]) -> None:
    assert not figure_serves("OM3", figure_nm, window_nm)


@pytest.mark.parametrize(("nm", "db_km"), [(830, 3.749), (840, 3.623), (850, 3.504), (1270, 1.542), (1300, 1.498)])
def test_the_multimode_curve(nm: float, db_km: float) -> None:
    """IEEE 802.3 10 Gb/s link model, as computed in the extract (fibre.ieee.mm-curve)."""
    assert multimode_curve_db_km(nm) == pytest.approx(db_km, abs=5e-4)


@pytest.mark.parametrize(
    ("loss_db", "length_km", "nm"),
    [(3.37, 0.5, 830), (3.56, 0.55, 830), (2.35, 0.55, 1270), (2.6, 0.3, 840), (2.9, 0.4, 840), (1.8, 0.07, 840), (1.9, 0.1, 840)],
)
def test_the_curve_reproduces_the_published_channel_losses(loss_db: float, length_km: float, nm: float) -> None:
    """1.5 dB of connections and the curve give the channel losses of 1000BASE-SX, -LX, 10GBASE-SR and 25GBASE-SR to their last printed digit or half above."""
    assert 1.5 + length_km * multimode_curve_db_km(nm) == pytest.approx(loss_db, abs=0.06)


@pytest.mark.parametrize("nm", [700, 1400])
def test_the_curve_ends(nm: float) -> None:
    with pytest.raises(ValueError, match="between 770 and 1380"):
        multimode_curve_db_km(nm)


@given(st.sampled_from(sorted(CORE_OF)), st.floats(700, 1700), st.floats(0, 120), st.floats(0, 40))
def test_a_wider_window_is_never_more_certain(grade: Grade, low_nm: float, width_nm: float, more_nm: float) -> None:
    """Widening a window only lowers the least and raises the greatest; what is unknown stays so."""
    narrow = attenuation_db_km(grade, (low_nm, low_nm + width_nm), IEEE) or (float("inf"), float("-inf"))
    wide = attenuation_db_km(grade, (low_nm - more_nm, low_nm + width_nm + more_nm), IEEE) or (float("-inf"), float("inf"))
    assert wide[0] <= narrow[0] and wide[1] >= narrow[1]


def test_a_wavelength_on_an_edge_is_not_in_a_row_that_ends_elsewhere() -> None:
    """1340 nm is the edge of two rows; one that begins at 1480 nm has no say there."""
    assert attenuation_db_km("OS2", (1340, 1340), IEEE) == attenuation_db_km("OS2", (1335, 1345), IEEE)
    assert attenuation_db_km("OS2", (1260, 1260), IEEE) == (0.28, 0.4)


def test_the_curve_holds_at_both_ends_and_no_further() -> None:
    """1.05 + (1 / (0.00094 x 770))^4 = 4.694; at 1380 nm 1.403."""
    assert [round(multimode_curve_db_km(nm), 3) for nm in (770, 1380)] == [4.694, 1.403]
    for nm in (769.9, 1380.1):
        with pytest.raises(ValueError, match="between 770 and 1380"):
            multimode_curve_db_km(nm)
