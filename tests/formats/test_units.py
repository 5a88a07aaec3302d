"""Columns in other units: converted exactly, and a fault says what the cell said."""

from __future__ import annotations

from decimal import Decimal, localcontext
from operator import attrgetter
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from optiselect.errors import DocumentError
from optiselect.formats.columns import TABLE_NAMES, columns_of
from optiselect.formats.tables import read_tables
from optiselect.formats.units import UNITS
from optiselect.model.catalog import Catalog
from optiselect.model.network import Cage, Network

FIBER = "id,ends_a,ends_b,fiber.grade,fiber.strands"
F1 = "F1,a,b,OM1,2"


# The expected figures are worked by hand from the definitions of the units.
@pytest.mark.parametrize(
    ("table", "header", "row", "figure", "expected"),
    [
        ("runs", f"{FIBER},fiber.length_ft", f"{F1},6070", "fiber.length_m", 1850.136),
        ("runs", f"{FIBER},fiber.length_ft", f"{F1},0.1", "fiber.length_m", 0.03048),
        ("runs", f"{FIBER},fiber.length_km", f"{F1},1.85025", "fiber.length_m", 1850.25),
        ("runs", f"{FIBER},fiber.length_km", f"{F1},1.005", "fiber.length_m", 1005),  # 1.005 * 1000 in floats is 1004.9999999999999
        ("runs", "id,ends_a,ends_b,copper.category,copper.length_ft", "C1,a,b,Cat6,328", "copper.length_m", 99.9744),
        (
            "runs",
            f"{FIBER},fiber.length_m,fiber.modal_bandwidth_ghz_km",
            f"{F1},5,850=0.2; 1300=0.5",
            "fiber.modal_bandwidth_mhz_km",
            {850: 200, 1300: 500},
        ),
        ("sites", "id,ambient_f_low,ambient_f_high", "hut,-13,122.9", "ambient_c", (-25, 50.5)),
        ("sites", "id,ambient_f", "hut,-40; 32", "ambient_c", (-40, 0)),
        ("devices", "id,module_power_mw", "a,12500", "module_power_w", 12.5),
        ("links", "id,ends_a,ends_b,throughput_gbit_s", "L,a,b,0.25", "throughput_mbit_s", 250),
    ],
)
def test_cell_of_a_network_in_another_unit_is_exact(table: str, header: str, row: str, figure: str, expected: object) -> None:
    laid = read_tables("network", {"devices": [["id"], ["a"], ["b"]], table: [header.split(","), row.split(",")]})
    assert laid.faults == []
    assert attrgetter(figure)(getattr(Network(**laid.data), table)[0]) == expected


def test_power_of_a_cage_in_milliwatts_is_exact() -> None:
    ports = [["device", "id", "kind", "form", "rates", "module_power_mw"], ["a", "1", "cage", "SFP", "1G", "1500"]]
    (device,) = Network(**read_tables("network", {"devices": [["id"], ["a"]], "ports": ports}).data).devices
    assert device.ports == (Cage(id="1", form="SFP", rates=("1G",), module_power_w=1.5),)


@pytest.mark.parametrize(
    ("table", "header", "row", "figure", "expected"),
    [
        ("modules", "part,power_mw", "M,0.7", "power_w", 0.0007),
        ("modules", "part,temperature_f_low,temperature_f_high", "M,-40,185", "temperature_c", (-40, 85)),
        ("modules", "part,tx_um_low,tx_um_high", "M,1.26,1.36", "tx_nm", (1260, 1360)),
        ("modules", "part,rx_um", "M,1.26; 1.62", "rx_nm", (1260, 1620)),
        ("modules", "part,reach_km", "M,OM1=0.55; OS2=10", "reach_m", {"OM1": 550, "OS2": 10_000}),
        ("modules", "part,reach_ft", "M,OM2=1000", "reach_m", {"OM2": 304.8}),
        ("modules", "part,throughput_gbit_s", "M,500=0.06", "throughput_mbit_s", {500: 60}),
        ("modules", "part,lead_time_weeks", "M,6", "lead_time_days", 42),
        ("cords", "part,grade,connectors_a,connectors_b,length_ft", "C,OM1,LC,LC,10", "length_m", 3.048),
    ],
)
def test_cell_of_a_catalog_in_another_unit_is_exact(table: str, header: str, row: str, figure: str, expected: object) -> None:
    laid = read_tables("catalog", {table: [header.split(","), row.split(",")]})
    assert laid.faults == []
    assert attrgetter(figure)(getattr(Catalog(**laid.data), table)[0]) == expected


CONVERTED = sorted(
    (what, table, name) for what, tables in TABLE_NAMES.items() for table in tables for name, column in columns_of(what, table).items() if column.unit
)
EXACT: dict[str, tuple[int, int | Decimal, int]] = {  # value in the document's unit = (figure - less) * times / by
    "_km": (0, 1000, 1),
    "_ft": (0, Decimal("0.3048"), 1),
    "_f": (32, 5, 9),
    "_mw": (0, 1, 1000),
    "_um": (0, 1000, 1),
    "_gbit_s": (0, 1000, 1),
    "_ghz_km": (0, 1000, 1),
    "_weeks": (0, 7, 1),
}


def test_every_unit_has_columns_and_its_own_arithmetic_here() -> None:
    assert {unit.suffix for unit in UNITS} == set(EXACT)
    assert {columns_of(what, table)[name].unit for what, table, name in CONVERTED} == set(UNITS)


def test_what_is_per_unit_is_not_converted() -> None:
    per_unit = {"dispersion_ps_nm", "fiber.attenuation_db_km", "penalty_db", "rx_dbm", "tx_dbm"}
    bases = {columns_of(what, table)[name].keys[-1] for what, table, name in CONVERTED}
    assert bases.isdisjoint({name.rpartition(".")[2] for name in per_unit})


@given(st.sampled_from(CONVERTED), st.decimals("-9999", "9999", places=6))
def test_conversion_is_the_float_nearest_the_exact_value(at: tuple[str, str, str], figure: Decimal) -> None:
    """Law: a converted cell is the exact rational value, rounded once."""
    what, table, name = at
    column = columns_of(what, table)[name]
    assert column.unit is not None
    less, times, by = EXACT[column.unit.suffix]
    with localcontext(prec=60):
        exact = (figure - less) * times / by
    written = {"figures": f"850={figure:f}"}.get(next(iter(column.shapes - {"plain", "pair"}), ""), f"{figure:f}")
    value = column.value(written)
    assert float(value["850"] if isinstance(value, dict) else value) == float(exact)


def test_typed_cells_of_a_workbook_are_converted_alike(tmp_path: Path) -> None:
    with xlsxwriter.Workbook(tmp_path / "it.xlsx") as book:
        book.add_worksheet("sites").write_row(0, 0, ["id", "ambient_f_low", "ambient_f_high"])
        book.get_worksheet_by_name("sites").write_row(1, 0, ["hut", -13, 122.9])
    assert Network.load(tmp_path / "it.xlsx").sites[0].ambient_c == (-25, 50.5)


def test_fault_says_what_the_cell_said(tmp_path: Path) -> None:
    (tmp_path / "modules.csv").write_text("part,power_mw,lead_time_weeks,temperature_f_low,temperature_f_high\nM,-5,2.5,-40,1000\n", encoding="utf-8")
    (tmp_path / "cords.csv").write_text("part,grade,connectors_a,connectors_b,length_ft\nC,OM1,LC,LC,3'\n", encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        Catalog.load(tmp_path)
    assert [(fault.place, fault.path, fault.message) for fault in caught.value.faults] == [
        ("modules.csv row 2 column power_mw", "modules[0].power_w", "at least 0 is due here, not -0.005 (converted from column power_mw -5)"),
        (
            "modules.csv row 2 column lead_time_weeks",
            "modules[0].lead_time_days",
            "a whole number is due here (converted from column lead_time_weeks 2.5)",
        ),
        (
            "modules.csv row 2 column temperature_f_high",
            "modules[0].temperature_c[1]",
            "at most 200 is due here, not 537.778 (converted from column temperature_f_high 1000)",
        ),
        (
            "cords.csv row 2 column length_ft",
            "cords[0].length_m",
            "write a plain decimal number here, not \"3'\" (converted from column length_ft 3')",
        ),
    ]


def test_one_figure_in_two_units_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "cords.csv").write_text("part,grade,connectors_a,connectors_b,length_m,length_ft\nC,OM1,LC,LC,3,10\n", encoding="utf-8")
    with pytest.raises(DocumentError, match=r"column length_ft cords\[0\]\.length_m: column length_ft gives again what another column gives"):
        Catalog.load(tmp_path)
