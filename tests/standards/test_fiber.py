"""Fiber grades: the tables as published, value by value."""

from pathlib import Path
from typing import Any

import pytest
import yaml

from optiselect.errors import UnknownNameError
from optiselect.model.terms import CORE_OF, Grade
from optiselect.standards.fiber import LEAST, bandwidth_mhz_km, end_connection_db, rows_of, table_names, test_wavelengths_nm, zero_dispersion
from optiselect.standards.sources import citation, data

EXTRACT: dict[str, Any] = {
    row["id"]: row["value"] for row in yaml.safe_load((Path(__file__).parent.parent / "published" / "figures.yaml").read_text(encoding="utf-8"))
}
SHORT, LONG = (770, 910), (1260, 1380)
ATTENUATION = [
    ("OM1", SHORT, "ieee-802.3", "fibre.ieee.atten", "MMF_62_5_850"),
    ("62.5/160/500", LONG, "ieee-802.3", "fibre.ieee.atten", "MMF_62_5_1300"),
    ("OM2", SHORT, "ieee-802.3", "fibre.ieee.atten", "MMF_50_850"),
    ("OM2", LONG, "ieee-802.3", "fibre.ieee.atten", "MMF_50_1300"),
    ("OM3", SHORT, "ieee-802.3", "fibre.ieee.atten-10g-rest", "MMF_850"),
    ("OM3", SHORT, "iso-11801-1", "fibre.mm.atten.iso2017", "OM3_850"),
    ("OM4", SHORT, "iso-11801-1", "fibre.mm.atten.iso2017", "OM4_850"),
    ("OM5", SHORT, "iso-11801-1", "fibre.mm.atten.iso2017", "OM5_850"),
    ("OM1", SHORT, "iso-11801-1", "fibre.mm.atten.mid", "dB_per_km_850"),
    ("OM1", SHORT, "tia-568.3", "fibre.mm.atten.568d", "OM1_OM2_850"),
    ("OM4", SHORT, "tia-568.3", "fibre.mm.atten.568d", "OM3_OM4_OM5_850"),
    ("OM4", LONG, "tia-568.3", "fibre.mm.atten.568d", "all_1300"),
    ("OS2", (1260, 1340), "ieee-802.3", "fibre.ieee.atten-10g", "SMF_1310"),
    ("OS2", (1530, 1565), "ieee-802.3", "fibre.ieee.atten-10g-rest", "SMF_1550"),
    ("OS2", (1260, 1340), "tia-568.3", "fibre.sm.tia.now", "OS2_outside_1310"),
    ("OS1a", (1260, 1340), "tia-568.3", "fibre.sm.tia.now", "OS1a_indoor_1310"),
    ("OS2", (1530, 1565), "itu-g.652.d", "fibre.g652d.atten", "max_1530_1565"),
    ("OS2", (1565, 1625), "itu-g.652.d", "fibre.g652d.atten", "max_1310_to_1625"),
    ("OM1", SHORT, LEAST, "fibre.floor", "MM62_5_850"),
    ("OM3", SHORT, LEAST, "fibre.floor", "MM50_850"),
    ("OM1", LONG, LEAST, "fibre.floor", "MM62_5_1300"),
    ("OM3", LONG, LEAST, "fibre.floor", "MM50_1300"),
    ("OS2", (1260, 1340), LEAST, "fibre.floor", "SM_1270_1330"),
    ("OS2", (1480, 1530), LEAST, "fibre.floor", "SM_1490"),
    ("OS2", (1530, 1565), LEAST, "fibre.floor", "SM_1550"),
]


@pytest.mark.parametrize(("grade", "window_nm", "table", "row", "key"), ATTENUATION)
def test_attenuation_is_the_published_one(grade: Grade, window_nm: tuple[float, float], table: str, row: str, key: str) -> None:
    by_window = {(low, high): db_km for low, high, db_km in rows_of(grade, table)}
    assert by_window[window_nm] == EXTRACT[row][key]


@pytest.mark.parametrize("nm", ["1310", "1383", "1550"])
@pytest.mark.parametrize(("grade", "row"), [("OS1a", "fibre.os1a"), ("OS2", "fibre.os2")])
def test_the_iso_table_is_flat_over_single_mode(grade: Grade, row: str, nm: str) -> None:
    found = [db_km for low, high, db_km in rows_of(grade, "iso-11801-1") if low <= float(nm) <= high]
    assert found == [EXTRACT[row]["dB_per_km"][nm]]


@pytest.mark.parametrize("grade", list(CORE_OF))
@pytest.mark.parametrize("table", table_names())
def test_the_least_is_below_the_most_everywhere(grade: Grade, table: str) -> None:
    pairs = list(zip(rows_of(grade, LEAST), rows_of(grade, table), strict=True))
    assert pairs and all(least.db_km < most.db_km for least, most in pairs)


def test_a_table_that_knows_no_multimode_keeps_the_default() -> None:
    assert rows_of("OM3", "itu-g.652.d") == rows_of("OM3", "ieee-802.3")


def test_a_table_that_is_not_known_lists_those_that_are() -> None:
    with pytest.raises(UnknownNameError, match=r"'tia-1'; known: ieee-802.3, iso-11801-1, itu-g.652.d, tia-568.3"):
        rows_of("OM3", "tia-1")


@pytest.mark.parametrize(
    ("grade", "row", "key_850"),
    [
        ("OM1", "fibre.OM1.bandwidth", "overfilled_MHzkm_850"),
        ("OM2", "fibre.OM2.bandwidth", "overfilled_MHzkm_850"),
        ("OM3", "fibre.OM3.bandwidth", "effective_MHzkm_850"),
        ("OM4", "fibre.OM4.bandwidth", "effective_MHzkm_850"),
        ("OM5", "fibre.OM5.bandwidth", "effective_MHzkm_850"),
        ("62.5/160/500", "fibre.fddi160", "overfilled_MHzkm_850"),
    ],
)
def test_modal_bandwidth_is_the_published_one(grade: Grade, row: str, key_850: str) -> None:
    assert bandwidth_mhz_km(grade, (840, 860)) == EXTRACT[row][key_850]
    assert bandwidth_mhz_km(grade, (1270, 1355)) == EXTRACT[row]["overfilled_MHzkm_1300"]


def test_single_mode_has_no_modal_bandwidth() -> None:
    assert bandwidth_mhz_km("OS2", (1310, 1310)) is None


def test_zero_dispersion_is_that_of_g_652() -> None:
    published = EXTRACT["fibre.g652.disp"]
    assert zero_dispersion() == (tuple(published["zero_disp_nm"]), published["slope_max_ps_nm2km"])


@pytest.mark.parametrize(("edition", "row"), [("tia-568.3-d", "conn.ref.std.d"), ("iso-14763-3", "conn.ref.std.d"), ("tia-568.3-e", "conn.ref.std.e")])
def test_an_end_connection_has_its_own_allowance_by_edition(edition: Any, row: str) -> None:
    assert (end_connection_db(edition, "multimode"), end_connection_db(edition, "single-mode")) == (EXTRACT[row]["MMF_dB"], EXTRACT[row]["SMF_dB"])


def test_an_edition_that_is_not_known_lists_those_that_are() -> None:
    with pytest.raises(UnknownNameError, match=r"tia-568\.3-d, tia-568\.3-e, iso-14763-3"):
        end_connection_db("tia-568-a", "multimode")  # type: ignore[arg-type]


def test_fiber_is_tested_at_two_wavelengths() -> None:
    """TIA-526-14 and -7 (multimode from memory)."""
    assert (test_wavelengths_nm("multimode"), test_wavelengths_nm("single-mode")) == ((850, 1300), (1310, 1550))


def test_each_attenuation_figure_names_its_source() -> None:
    cited = [citation(value["source"]) for row in data("fiber")["attenuation"] for value in (row["least_db_km"], *row["most_db_km"].values())]
    assert len(cited) > 40 and all(str(source) for source in cited)
