"""Whoever watches a solve hears of it all the time, also inside one long search, and is called in the thread that asked."""

from __future__ import annotations

import threading
import time
from itertools import pairwise

import pytest
from ortools.sat.python import cp_model

from optiselect.errors import OptiselectError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import progress
from optiselect.solver.cpsat import search
from optiselect.solver.cpsat_model import Model
from optiselect.solver.progress import Progress, Watch
from optiselect.solver.solve import solve, solve_bare
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

SILENT_AT_MOST_S = 3.0
"""Generous, for machines that are busy; it is a second by itself."""
SITES = {profile: (Network(**site_network(120, profile=profile)), Catalog(**site_catalog(120, profile=profile))) for profile in ("usual", "hard", "ring")}


def pigeons() -> Model:
    """A model whose search comes to no end by itself: pigeons that do not fit."""
    usual = cp_model.CpModel()
    places = [[usual.new_bool_var("") for _ in range(60)] for _ in range(61)]
    for pigeon in places:
        usual.add(sum(pigeon) >= 1)
    for hole in zip(*places, strict=True):
        for index, one in enumerate(hole):
            for other in hole[:index]:
                usual.add_bool_or(~one, ~other)  # said in this way, it is not seen that they are one sum
    model = Model()
    model.message = usual.proto
    return model


def one_long_search(model: Model, watch: Watch) -> None:
    """A search of it without the reasoning that sees it at once."""
    search(model, watch, seed=1, workers=1, presolve=False)


def test_one_long_search_is_told_all_the_time() -> None:
    events: list[Progress] = []
    heard_s: list[float] = []

    def note(event: Progress) -> None:
        events.append(event)
        heard_s.append(time.monotonic())

    model = pigeons()
    watch = Watch(note, None, 3.0, 1e9)
    watch.tell("choice", 1, 4, objective="links")
    one_long_search(model, watch)
    assert {(event.stage, event.done, event.objective) for event in events} == {("choice", 1, "links")}
    assert len(events) >= 4
    assert [event.elapsed_s for event in events] == sorted({event.elapsed_s for event in events})
    assert max(later - earlier for earlier, later in pairwise(heard_s)) < SILENT_AT_MOST_S


@pytest.mark.parametrize("profile", SITES)
def test_no_stage_is_silent_for_long(profile: str) -> None:
    heard_s = [time.monotonic()]
    solve_bare(*SITES[profile], Policy(time_limit_s=4), on_progress=lambda event: heard_s.append(time.monotonic()))
    heard_s.append(time.monotonic())
    assert max(later - earlier for earlier, later in pairwise(heard_s)) < SILENT_AT_MOST_S


def test_caller_is_told_and_asked_in_its_own_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "BEAT_S", 0.01)
    threads = set()

    def cancelled() -> bool:
        threads.add(threading.current_thread())
        return False

    solve(*SITES["usual"], on_progress=lambda event: threads.add(threading.current_thread()), cancel=cancelled)
    assert threads == {threading.current_thread()}


def test_error_of_the_caller_s_own_ends_the_search_and_comes_back() -> None:
    def fail(event: Progress) -> None:
        raise OptiselectError("the window was closed")

    model = pigeons()
    began, before = time.monotonic(), threading.active_count()
    with pytest.raises(OptiselectError, match="the window was closed"):
        one_long_search(model, Watch(fail, None, 60.0, 1e9))
    assert time.monotonic() - began < 5
    assert threading.active_count() <= before


def test_choice_ends_early_enough_to_finish_the_plan_within_the_limit() -> None:
    roomy, short = Watch(None, None, 60.0, 1.0), Watch(None, None, 2.0, 1.0)
    for watch in (roomy, short):
        watch.leave_time_for(5000)
    assert roomy.seconds_left == pytest.approx(60 - 5000 * progress.FINISH_S, abs=0.1)
    assert short.seconds_left == pytest.approx(4 / 3, abs=0.1)


@pytest.mark.parametrize(("prepared_s", "left_s"), [(0.1, 60 - 2), (5, 60 - 5 * progress.FINISH_TO_PREPARE), (50, 60 - 30)])
def test_choice_ends_the_earlier_the_longer_it_took_to_prepare(prepared_s: float, left_s: float) -> None:
    watch = Watch(None, None, 60.0, 1.0)
    watch.leave_time_for(5000, prepared_s)
    assert watch.seconds_left == pytest.approx(left_s, abs=0.1)
