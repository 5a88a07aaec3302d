"""Strands: each carries one thing, the colors are those of the code, and what is sent at one end is received at the other."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.handover.dossier import Dossier
from optiselect.handover.strand_sheet import strand_sheet
from optiselect.handover.strands import _Free, _take
from optiselect.standards.colors import color
from tests.handover.causeway import causeway

_PRINTED = "blue orange green brown slate white red black yellow violet rose aqua"
"""TIA-598-C, strand and tube colors 1 to 12, as restated at en.wikipedia.org/wiki/TIA-598-C."""


def _rows(of: Dossier, **wanted: Any) -> list[dict[str, Any]]:
    return [record for record in strand_sheet(of).records() if all(record[name] == value for name, value in wanted.items())]


def test_colors_of_strands_one_to_twelve_are_those_printed() -> None:
    assert [color(number) for number in range(1, 13)] == _PRINTED.split()


@pytest.mark.parametrize(("number", "said"), [(13, "blue, black stripe"), (20, "black, yellow stripe"), (24, "aqua, black stripe"), (25, None), (144, None)])
def test_beyond_twelve_the_code_repeats_with_a_stripe_and_then_ends(number: int, said: str | None) -> None:
    assert color(number) == said


@pytest.mark.parametrize("number", [0, -1])
def test_there_is_no_strand_before_the_first(number: int) -> None:
    with pytest.raises(ValueError, match="counted from 1"):
        color(number)


def test_pair_keeps_to_an_odd_number_and_the_even_one_after_it_and_the_single_strand_takes_the_lowest_left() -> None:
    """Of run A strands 1 to 11 are in use and 24 is reserved: the pair goes to 13 and 14, the single strand to 12."""
    assert [(row["strand"], row["link"]) for row in _rows(causeway(), run="A", state="this plan")] == [(12, "single"), (13, "pair"), (14, "pair")]


def test_tube_and_strand_colors_of_the_pair() -> None:
    """Strand 13 is the first of the second tube, 14 its second."""
    assert [(row["tube"], row["tube_color"], row["strand_color"]) for row in _rows(causeway(), run="A", link="pair")] == [
        (2, "orange", "blue"),
        (2, "orange", "orange"),
    ]


def test_run_of_one_tube_names_no_tube() -> None:
    assert {row["tube"] for row in _rows(causeway(), run="B")} == {None}


def test_states_follow_what_the_network_and_the_policy_say() -> None:
    states: Counter[str] = Counter()
    for row in _rows(causeway(), run="A"):
        states[row["state"]] += (row["to_strand"] or row["strand"]) - row["strand"] + 1

    assert states == {"in use before": 11, "this plan": 3, "free": 9, "reserved": 1}
    assert [row["strand"] for row in _rows(causeway(), run="A", state="reserved")] == [24]


def test_what_is_transmitted_at_one_socket_is_received_at_the_other_through_the_panel() -> None:
    """Run B is stated from the beacon to the frame, so the link walks it backwards."""
    first, second = _rows(causeway(), run="A", link="pair")
    far = {row["strand"]: row for row in _rows(causeway(), run="B", link="pair")}

    assert (first["meets_at_a"], first["meets_at_b"], first["light"]) == ("core/1 transmit", "frame: B strand 3", "A to B")
    assert (far[3]["meets_at_a"], far[3]["meets_at_b"], far[3]["light"]) == ("beacon/1 receive", "frame: A strand 13", "B to A")
    assert (second["meets_at_a"], second["meets_at_b"], second["light"]) == ("core/1 receive", "frame: B strand 4", "B to A")
    assert (far[4]["meets_at_a"], far[4]["light"]) == ("beacon/1 transmit", "A to B")


def test_single_strand_goes_both_ways_and_names_both_wavelengths() -> None:
    """IEEE 802.3 Clause 59: D sends 1480-1500 nm, U sends 1260-1360 nm."""
    (row,) = _rows(causeway(), run="B", link="single")

    assert row["light"] == "both ways"
    assert sorted(row["wavelength_nm"].split(", ")) == ["1260-1360", "1480-1500"]
    assert row["meets_at_a"] == "beacon/2 single-strand socket"


def test_half_of_the_strands_of_parallel_optics_goes_each_way() -> None:
    rows = _rows(causeway(), run="M", state="this plan")

    assert [row["light"] for row in rows] == ["B to A"] * 4 + ["A to B"] * 4
    assert {row["meets_at_b"] for row in rows[:4]} == {"core/q1 transmit"}


def test_strands_of_the_terminal_are_used_once_within_what_is_free(terminal: Dossier) -> None:
    """Counted anew from the plan and the network alone."""
    taken: dict[str, list[int]] = {}
    for row in strand_sheet(terminal).records():
        if row["state"] == "this plan":
            taken.setdefault(str(row["run"]), []).append(int(row["strand"] or 0))
    wanted: Counter[str] = Counter()
    for link in terminal.plan.links:
        wanted.update(link.strands)
    fibers = {run.id: run.fiber for run in terminal.network.runs if run.fiber}

    assert {run: len(numbers) for run, numbers in taken.items()} == {run: count for run, count in wanted.items() if count}
    assert all(len(set(numbers)) == len(numbers) for numbers in taken.values())
    assert all(fibers[run].strands_in_use < number <= fibers[run].strands for run, numbers in taken.items() for number in numbers)


def test_every_strand_of_the_terminal_that_leaves_a_panel_enters_it(terminal: Dossier) -> None:
    """What strand n of one run meets at a panel says the same of it."""
    rows = {(row["run"], row["strand"]): row for row in strand_sheet(terminal).records() if row["state"] == "this plan"}
    joints = [(key, str(row[end])) for key, row in rows.items() for end in ("meets_at_a", "meets_at_b") if ": " in str(row[end])]
    answers = []
    for (run, strand), met in joints:
        panel, _, there = met.partition(": ")
        other, _, number = there.rpartition(" strand ")
        facing = rows[other, int(number)]
        answers.append(f"{panel}: {run} strand {strand}" in (facing["meets_at_a"], facing["meets_at_b"]))

    assert len(answers) > 10
    assert all(answers)


def test_large_runs_show_dark_tubes_as_one_row() -> None:
    of = causeway()
    run = of.network.run_by_id["A"]
    assert run.fiber is not None
    large = of.network.model_copy(update={"runs": tuple(run.model_copy(update={"fiber": run.fiber.model_copy(update={"strands": 100_000})}) for run in [run])})
    rows = strand_sheet(Dossier(of.plan.model_copy(update={"links": ()}), large, of.catalog, of.policy)).records()

    assert (rows[0]["strand"], rows[0]["to_strand"], rows[0]["state"]) == (1, 11, "in use before")
    assert len(rows) < 8_400


def _by_looking_at_each(free: set[int], count: int) -> tuple[int, ...]:
    """Every row that begins where rows of so many do, from the lowest; else the lowest strands."""
    ordered = sorted(free)
    rows = [tuple(range(number, number + count)) for number in ordered if (number - 1) % count == 0] if count > 1 else []
    chosen = next((row for row in rows if free.issuperset(row)), tuple(ordered[:count]))
    free.difference_update(chosen)
    return chosen


@given(st.integers(0, 30), st.lists(st.sampled_from([1, 2, 8, 12]), max_size=40))
def test_strands_are_those_that_looking_at_each_would_find(in_use: int, counts: list[int]) -> None:
    free, plain = _Free(in_use + 1, 96), set(range(in_use + 1, 97))
    fitting = [count for place, count in enumerate(counts) if sum(counts[: place + 1]) <= len(plain)]

    assert [_take(free, count, "link", "run") for count in fitting] == [_by_looking_at_each(plain, count) for count in fitting]
