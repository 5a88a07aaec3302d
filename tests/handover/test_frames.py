"""The tables of a plan as frames: tidy, with units in the names, equal to the plan."""

from __future__ import annotations

import math

import pytest

from optiselect.errors import UnknownNameError
from tests.handover.pier import direction, end, plan

TABLES = ("links", "ends", "directions", "parts", "unserved")
_EMPTY = {"links": (), "unserved": (), "parts": (), "objective": ()}


def test_links_frame_gives_the_least_margin_of_both_directions() -> None:
    row = plan().frame("links").iloc[0]

    assert (row["link"], row["end_a"], row["end_b"], row["over"], row["strands"], row["least_margin_db"]) == ("L1", "core/1", "cam/up", "F1", 2, 4.2)


def test_margin_is_missing_when_one_direction_is_unknown() -> None:
    unknown = {"id": "L1", "rate": "1G", "over": ("F1",), "ends": (end("core", "1"), end("cam", "up"))}
    row = plan(links=({**unknown, "directions": (direction("core/1", "cam/up", None), direction("cam/up", "core/1", 4.2))},)).frame("links").iloc[0]

    assert math.isnan(row["least_margin_db"])


def test_directions_frame_names_the_unit_of_every_figure() -> None:
    frame = plan().frame("directions")

    assert list(frame.select_dtypes("float64").columns) == [
        *("wavelength_low_nm", "wavelength_high_nm"),
        *("loss_min_db", "loss_max_db", "available_db", "margin_db"),
        *("rx_low_dbm", "rx_high_dbm"),
    ]


def test_ends_frame_has_two_rows_a_link_in_the_order_of_its_ends() -> None:
    assert plan().frame("ends")[["link", "end", "device", "port", "module"]].values.tolist() == [
        ["L1", "a", "core", "1", "LAN-LX"],
        ["L1", "b", "cam", "up", "LAN-LX"],
    ]


def test_parts_frame_sums_to_the_cost() -> None:
    frame = plan().frame("parts")

    assert frame["total"].sum() == 71.5
    assert set(frame["currency"]) == {"EUR"}


def test_unserved_frame_says_what_stops_the_link() -> None:
    row = plan().frame("unserved").iloc[0]

    assert (row["link"], row["kind"], row["ends"], row["candidates"], row["tally"]) == ("L2", "impossible", "core to gate", 7, "rate 5, core 2")


@pytest.mark.parametrize("table", TABLES)
def test_frames_of_an_empty_plan_have_the_same_columns_and_types(table: str) -> None:
    empty = plan(**_EMPTY).frame(table)  # type: ignore[arg-type]

    assert len(empty) == 0
    assert empty.dtypes.equals(plan().frame(table).dtypes)  # type: ignore[arg-type]


def test_a_table_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(UnknownNameError, match=r"no table 'cables'; there are links, ends, directions, parts, unserved"):
        plan().frame("cables")  # type: ignore[arg-type]
