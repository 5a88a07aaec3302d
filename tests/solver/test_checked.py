"""The last look at a finished plan: whatever is wrong with it, in a link or in what links share, it is not handed over."""

from __future__ import annotations

import pytest

from optiselect.errors import PlanCheckError
from optiselect.model.plan import Finding, Plan
from optiselect.solver.checked import check_links, check_plan
from optiselect.solver.named import fitted_units
from tests.solver.test_appraise import DOCUMENTS, PLAN, Change, end, falsified


def checked(plan: Plan) -> list[Finding]:
    return check_plan(plan, check_links(plan.links, *DOCUMENTS).values(), *DOCUMENTS, fitted_units(plan.links))


def test_plan_as_it_was_made_passes() -> None:
    assert checked(PLAN) == []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (end("light", 0, module="SO-LX"), "reach: "),
        (end("mast", 0, port="1"), "port-once: "),
        (lambda told: told["links"]["quay-2"].update(over=["F2"]), "diversity: "),
        (lambda told: told["objective"][-1].update(value=1), "the plan says 1, the documents give"),
        (lambda told: told["parts"][0].update(total=0.5), "the bill adds up to"),
    ],
    ids=["a link by itself", "two links at a port", "two links that must not share", "an objective", "the bill"],
)
def test_plan_with_a_fault_is_not_handed_over(change: Change, told: str) -> None:
    with pytest.raises(PlanCheckError, match=told):
        checked(falsified(change))
