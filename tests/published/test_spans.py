"""Real spans: each measured loss lies between the least and the greatest that the library computes.

tests/published/spans.yaml says where each was read. Counts: the connections and splices that the instrument saw, and, since
it does not see weak splices, one splice for each 4 km of cable (a drum is 4 to 6 km).
"""

from math import ceil
from pathlib import Path
from typing import Any

import pytest
import yaml

from optiselect.model.network import Fiber
from optiselect.model.policy import Policy
from optiselect.optics.budget import run_loss_pico

SPANS: dict[str, Any] = {span["id"]: span for span in yaml.safe_load((Path(__file__).parent / "spans.yaml").read_text(encoding="utf-8"))}
SECTIONS = [name for name, span in SPANS.items() if span["kind"].startswith("otdr section")]
COUNTED = [name for name, span in SPANS.items() if span["kind"].startswith("otdr") and name not in SECTIONS]
NOT_COUNTED = ["metro-14p3km-strand-1-1310", "metro-14p3km-strand-1-1550", "metro-loop-90km"]


def extremes_db(span: dict[str, Any], connections: int, splices: int, grade: str = "OS2") -> tuple[float, float]:
    """Least and greatest loss of the span in dB, by the default table and allowances."""
    run = Fiber(grade=grade, length_m=span["length_m"], strands=2, splices=splices)  # type: ignore[arg-type]
    found = run_loss_pico(run, (span["nm"], span["nm"]), connections, Policy())
    assert found is not None
    return found[0] / 1e12, found[1] / 1e12


@pytest.mark.parametrize("name", COUNTED)
def test_a_measured_span_lies_between_the_extremes(name: str) -> None:
    span = SPANS[name]
    connections = span["mated_connections_seen"] + span["first_connector_included"] + span["last_connector_included"]
    least, greatest = extremes_db(span, connections, max(span["splices_seen"], ceil(span["length_m"] / 4000)))
    assert least <= span["measured_loss_db"] <= greatest


@pytest.mark.parametrize("name", SECTIONS)
def test_fiber_alone_lies_between_the_extremes_of_fiber_alone(name: str) -> None:
    """No connection and no splice to hide behind: 0.182-0.198 dB/km at 1550 nm, 0.32-0.33 at 1310 nm."""
    least, greatest = extremes_db(SPANS[name], 0, 0)
    assert least < SPANS[name]["measured_loss_db"] < greatest


@pytest.mark.parametrize("name", NOT_COUNTED)
def test_where_nobody_counted_joints_it_is_still_above_the_least(name: str) -> None:
    assert SPANS[name]["measured_loss_db"] > extremes_db(SPANS[name], 0, 0)[0]


@pytest.mark.parametrize("name", NOT_COUNTED[:2])
def test_an_old_metropolitan_span_is_beyond_os2_with_two_connections(name: str) -> None:
    """0.73 dB/km at 1310 and 0.53 at 1550: grade and joints are not stated. OS2 with two connections and drum splices is too little;

    as OS1 (1.0 dB/km) it is inside. What such a span needs is its measured loss, which a run may state.
    """
    span = SPANS[name]
    splices = ceil(span["length_m"] / 4000)
    assert extremes_db(span, 2, splices)[1] < span["measured_loss_db"] < extremes_db(span, 2, splices, grade="OS1")[1]


def test_a_metropolitan_loop_fits_with_a_few_panels() -> None:
    """90 km out and back over two strands, 30 dB: two connections at each end and at the loop, a splice each 4 km."""
    span = SPANS["metro-loop-90km"]
    least, greatest = extremes_db(span, 4, ceil(span["length_m"] / 4000))
    assert least < span["measured_loss_db"] < greatest


def test_every_span_is_looked_at() -> None:
    assert len(SPANS) == 60
    assert set(COUNTED) | set(SECTIONS) | set(NOT_COUNTED) == set(SPANS)


@pytest.mark.parametrize("name", SECTIONS)
def test_a_floor_of_0_2_db_km_would_hide_overload(name: str) -> None:
    """Real fiber loses less than 0.20 dB/km at 1550 nm, so the least plausible figure lies below that."""
    span = SPANS[name]
    floor_db_km = {1550: 0.15, 1310: 0.28}[span["nm"]]
    assert extremes_db(span, 0, 0)[0] == pytest.approx(floor_db_km * span["length_m"] / 1000, abs=1e-9)
