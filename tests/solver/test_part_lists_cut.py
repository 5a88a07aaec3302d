"""A search over part lists that is cut short bounds the first of its objectives, and nothing after it."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.model.policy import Policy
from optiselect.solver import part_lists, rounds
from optiselect.solver.choice import Stage
from optiselect.solver.solve import solve_bare
from tests.solver.test_short_stock import site


@pytest.mark.parametrize("seed", [15, 16])
def test_only_the_first_objective_is_bounded_where_a_search_is_cut_short(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[list[Stage]] = []
    by_part_lists = rounds.by_part_lists

    def listen(*given: Any, **named: Any) -> Any:
        answer = by_part_lists(*given, **named)
        told.extend([answer[0]] if answer is not None else [])
        return answer

    monkeypatch.setattr(rounds, "by_part_lists", listen)
    monkeypatch.setattr(part_lists, "_MOST_EFFORT", 0.0)
    solve_bare(*site(seed), Policy())
    open_ = [stages for stages in told if not stages[0].proven]
    assert open_
    assert all(0 <= stages[0].bound < stages[0].value for stages in open_)
    assert {stage.bound for stages in open_ for stage in stages[1:]} == {0}
