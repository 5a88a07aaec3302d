"""One search: what the engine is told, what it may spend, and how it ends."""

from __future__ import annotations

import threading
import time
from random import Random
from typing import Any

import pytest
from ortools.sat.python import cp_model_helper

from optiselect.solver.cpsat import search
from optiselect.solver.cpsat_model import Model
from optiselect.solver.progress import Progress, Watch


def halves(numbers: int) -> Model:
    """Split each of a few rows of random numbers into two halves at once, as nearly as can be: soon found, not soon proven."""
    random, model = Random(1), Model()
    sides = [model.variable() for _ in range(numbers)]
    over: list[int] = []
    for _ in range(4):
        row = [random.randint(1, 10_000) for _ in sides]
        over += [model.variable(100_000), model.variable(100_000)]
        half = sum(row) // 2
        model.limit([*zip(sides, row, strict=True), (over[-1], 1), (over[-2], -1)], least=half, most=half)
    model.minimize([(variable, 1) for variable in over])
    return model


def watch(*, seconds: float = 60.0, effort: float = 1e3, **given: Any) -> Watch:
    return Watch(given.get("on_progress"), given.get("cancel"), seconds, effort)


class Recorder:
    """The engine, with what it is told."""

    told: Any = None
    fails: BaseException | None = None
    real = cp_model_helper.SolveWrapper

    def __init__(self) -> None:
        self._engine = self.real()

    def set_parameters(self, parameters: Any) -> None:
        Recorder.told = parameters
        self._engine.set_parameters(parameters)

    def solve(self, message: Any) -> Any:
        if Recorder.fails is not None:
            raise Recorder.fails
        return self._engine.solve(message)

    def stop_search(self) -> None:
        self._engine.stop_search()


@pytest.fixture
def recorder(monkeypatch: pytest.MonkeyPatch) -> type[Recorder]:
    monkeypatch.setattr(cp_model_helper, "SolveWrapper", Recorder)
    monkeypatch.setattr(Recorder, "fails", None)
    return Recorder


@pytest.mark.parametrize(("left", "most", "effort"), [(5.0, 2.0, 2.0), (2.0, 5.0, 2.0)])
def test_engine_is_told_what_the_policy_and_the_watch_say(recorder: type[Recorder], left: float, most: float, effort: float) -> None:
    search(halves(4), watch(seconds=50, effort=left), seed=7, workers=1, presolve=False, most_effort=most)
    told = recorder.told
    assert (told.random_seed, told.num_workers, told.cp_model_presolve, told.max_deterministic_time) == (7, 1, False, effort)
    assert 49 < told.max_time_in_seconds <= 50
    assert not told.catch_sigint_signal  # an interrupt is for the caller


def test_engine_presolves_unless_told_otherwise_and_never_for_no_time_at_all(recorder: type[Recorder]) -> None:
    search(halves(4), watch(seconds=0), seed=1, workers=1)
    assert recorder.told.cp_model_presolve
    assert recorder.told.max_time_in_seconds == pytest.approx(0.01)


def test_effort_is_booked_and_ends_the_search() -> None:
    little = watch(effort=0.2)
    found = search(halves(60), little, seed=1, workers=1)
    assert found.solution is not None
    assert found.bound is not None
    assert not found.proven
    assert little.effort_left <= 0
    assert not little.clock_cut  # so the plan is the same on every machine


def test_seed_and_effort_alone_decide_what_is_found() -> None:
    several = [search(halves(60), watch(effort=0.2), seed=seed, workers=1).solution for seed in (1, 1, 2)]
    assert several[0] == several[1]
    assert several[0] != several[2]


def test_search_ends_soon_after_the_caller_wants_to_stop() -> None:
    began = time.monotonic()
    stopping = watch(cancel=lambda: time.monotonic() - began > 0.4)
    found = search(halves(60), stopping, seed=1, workers=1)
    assert 0.4 < time.monotonic() - began < 5
    assert not found.proven
    assert stopping.clock_cut


def test_answer_that_was_proven_after_the_caller_wanted_to_stop_counts_as_not_proven() -> None:
    assert search(halves(4), watch(), seed=1, workers=1).proven
    assert not search(halves(4), watch(cancel=lambda: True), seed=1, workers=1).proven


def raising(_: Progress) -> None:
    raise InterruptedError("the caller has had enough")


def test_error_of_the_callback_ends_the_engine_too() -> None:
    before = threading.active_count()
    began = time.monotonic()
    with pytest.raises(InterruptedError, match="had enough"):
        search(halves(60), watch(on_progress=raising), seed=1, workers=1)
    assert time.monotonic() - began < 5
    assert threading.active_count() == before


def test_error_of_the_engine_is_the_callers(recorder: type[Recorder]) -> None:
    recorder.fails = MemoryError("no room for the model")
    with pytest.raises(MemoryError, match="no room"):
        search(halves(4), watch(), seed=1, workers=1)


def test_model_that_cannot_be_has_neither_solution_nor_bound() -> None:
    model = Model()
    model.minimize([(model.variable(-1), 1)])  # from 0 to -1
    found = search(model, watch(), seed=1, workers=1)
    assert (found.solution, found.bound, found.proven) == (None, None, False)
