"""What seldom happens to a solve: engines that fail, children that are told no more, short ways that are not there."""

from __future__ import annotations

import builtins
import io
import json
from collections.abc import Callable
from random import Random
from typing import Any

import pytest

from optiselect import Catalog, Network, Policy, solve
from optiselect.model.document import Document
from optiselect.model.network import Run
from optiselect.solver import isolated, known, paths, second, stage, tightened
from optiselect.solver.choice import Outcome, choose
from optiselect.solver.cpsat import Result, search
from optiselect.solver.cpsat_model import Model
from optiselect.solver.known import Known
from optiselect.solver.progress import Watch
from optiselect.solver.stage import StageModel
from optiselect.solver.standing import standing
from optiselect.solver.tightened import Proven
from tests.explain.scenes import FX, ZX, cage, fiber, site
from tests.solver.test_small_tasks import best_of_all, some_task
from tests.study.harbor import CATALOG, NETWORK, harbor


def watch(effort: float = 100) -> Watch:
    return Watch(None, None, 60, effort)


# -- the engine ---------------------------------------------------------------------------------------------------


def test_error_of_the_engine_is_raised_in_the_thread_that_called() -> None:
    with pytest.raises(Exception, match=r"model_proto|attribute|argument"):
        search(object(), watch(), seed=1, workers=1)  # type: ignore[arg-type]


def test_model_that_is_none_has_neither_solution_nor_bound() -> None:
    model = Model()
    model.minimize((model.variable(2**60), 2**20) for _ in range(4))
    assert search(model, watch(), seed=1, workers=1) == Result(False, None, None)


def some_model(seed: int) -> tuple[StageModel, Outcome]:
    task = some_task(Random(seed))
    outcome = Outcome([{} for _ in task.rows])
    return StageModel(task, outcome, task.objectives[:1], (1,)), outcome


def test_answer_that_serves_less_is_worse() -> None:
    model, outcome = some_model(1)
    served = model.taken(model.solve(watch()))
    assert model.no_worse(served, outcome)
    outcome.taken = served
    assert not model.no_worse([{} for _ in served], outcome)


def test_search_without_a_bound_leaves_the_loosest_and_no_bound_is_beyond_what_was_found() -> None:
    model, _ = some_model(1)
    loosest = model.bound(Result(False, None, None), 0)
    assert model.bound(Result(False, None, -1), 0) == 1
    assert model.bound(Result(False, None, -(10**6)), 0) == loosest
    assert model.bound(Result(False, None, 0), 2) == 2


@pytest.mark.parametrize("fault", ["no_worse", "weights"])
def test_answer_that_is_worse_is_not_taken_and_sums_that_are_too_large_are_searched_one_by_one(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if fault == "no_worse":
        monkeypatch.setattr(StageModel, "no_worse", lambda *_: False)
    else:
        monkeypatch.setattr(stage, "weights_of", lambda *_: None)
    task = some_task(Random(3))
    stages = choose(task, watch()).stages
    assert [found.name for found in stages] == list(task.objectives)
    assert (tuple(found.value * (-1 if "links" in found.name else 1) for found in stages) == best_of_all(task)) == (fault == "weights")


def test_engine_that_finds_nothing_leaves_the_plan_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(StageModel, "solve", lambda *_: Result(False, None, None))
    task = some_task(Random(3))
    assert not all(found.proven for found in choose(task, watch()).stages)


# -- processes of their own ---------------------------------------------------------------------------------------


def said_by_a_child(*lines: Any) -> list[dict[str, Any]]:
    out = io.StringIO()
    isolated._child(iter([json.dumps(line) + "\n" for line in lines]), out)
    return [json.loads(line) for line in out.getvalue().splitlines()]


STATED = [document.stated() for document in (harbor().network, harbor().catalog, harbor().policy)]


def test_child_tells_its_plan_and_that_it_is_done() -> None:
    told = said_by_a_child([*STATED, True, None])
    assert (told[-1]["done"], told[-1]["plan"]["status"]) == (True, "optimal")


def test_child_tells_errors_of_ours_as_they_are() -> None:
    (told,) = said_by_a_child([{"devices": 3}, {}, {}, True, None])
    assert told["error"][0] == "DocumentError"


def test_child_without_memory_ends_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(isolated, "_solve", full)
    with pytest.raises(SystemExit):
        said_by_a_child([*STATED, True, None])


def test_cancel_of_a_child_that_has_ended_is_no_error() -> None:
    class Child:
        def poll(self) -> None:
            return None

        def wait(self, _: float) -> None:
            raise isolated.subprocess.TimeoutExpired("", 0)

    class Closed(io.StringIO):
        def write(self, _: str) -> int:
            raise BrokenPipeError

    given = isolated.threading.Event()
    given.set()
    assert isolated._watch(Child(), Closed(), given, 60, lambda: True) is None  # type: ignore[arg-type, func-returns-value]


def test_second_solver_that_is_not_installed_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    imported = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name == "highspy":
            raise ImportError
        return imported(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    monkeypatch.setattr(second.sys, "stdin", io.StringIO("{}"))
    assert second._main() == second.NOT_INSTALLED


# -- short ways that are not there --------------------------------------------------------------------------------

CASE = harbor()
PLAN = solve(CASE.network, CASE.catalog, CASE.policy)


def changed(document: Document, **update: Any) -> Any:
    return type(document)(**{**document.stated(), **update})


def other_runs(change: Callable[[dict[str, Any]], object]) -> list[dict[str, Any]]:
    stated: list[dict[str, Any]] = json.loads(json.dumps(NETWORK["runs"]))
    change(stated[0])
    return stated


def other_modules(change: Callable[[dict[str, Any]], object]) -> list[dict[str, Any]]:
    stated: list[dict[str, Any]] = json.loads(json.dumps(CATALOG["modules"]))
    change(stated[0])
    return stated


NOT_TIGHTER: dict[str, tuple[str, dict[str, Any]]] = {
    "another currency": ("catalog", {"currency": "USD"}),
    "a module more": ("catalog", {"modules": [*CATALOG["modules"], {**CATALOG["modules"][0], "part": "NEW"}]}),
    "a module of other power": ("catalog", {"modules": other_modules(lambda module: module.update(power_w=0.5))}),
    "more in stock": ("catalog", {"modules": other_modules(lambda module: module.update(stock=None))}),
    "a run more": ("network", {"runs": [*NETWORK["runs"], {**NETWORK["runs"][0], "id": "F9"}]}),
    "another route": ("network", {"runs": other_runs(lambda run: run.update(routes=["duct-9"]))}),
    "a strand more": ("network", {"runs": other_runs(lambda run: run["fiber"].update(strands=8))}),
}


@pytest.mark.parametrize(("document", "update"), NOT_TIGHTER.values(), ids=NOT_TIGHTER)
def test_documents_that_allow_more_are_solved_anew(document: str, update: dict[str, Any]) -> None:
    base = {"network": CASE.network, "catalog": changed(CASE.catalog, modules=other_modules(lambda module: module.update(stock=50)))}
    plan = solve(**base)
    now = base | {document: changed(base[document], **update)}
    assert Proven(**base, policy=Policy(), plan=plan).tightened(**now, policy=Policy()) is None


NOT_KNOWN: dict[str, tuple[str, dict[str, Any]]] = {
    "a run elsewhere": ("network", {"runs": other_runs(lambda run: run.update(ends=["core", "light"]))}),
    "a module more": ("catalog", {"modules": [*CATALOG["modules"], {**CATALOG["modules"][0], "part": "NEW"}]}),
    "a price less": ("catalog", {"modules": other_modules(lambda module: module.pop("price"))}),
}


@pytest.mark.parametrize(("document", "update"), NOT_KNOWN.values(), ids=NOT_KNOWN)
def test_documents_that_differ_in_more_are_prepared_anew(document: str, update: dict[str, Any]) -> None:
    now = {"network": CASE.network, "catalog": CASE.catalog} | {document: changed(getattr(CASE, document), **update)}
    assert Known(CASE.network, CASE.catalog, CASE.policy).solved(now["network"], now["catalog"], CASE.policy) is None


def test_run_of_copper_offers_what_it_offered_however_long_it_is() -> None:
    short, long = (Run(id="K", ends=("a", "b"), copper={"category": "Cat6", "length_m": length_m}) for length_m in (20, 30))
    assert tightened._offers_no_more(long, short)


def test_plan_that_serves_other_links_does_not_stand() -> None:
    one, *others = PLAN.links
    renamed = PLAN.model_copy(update={"links": (one.model_copy(update={"id": "other"}), *others)})
    assert standing(renamed, PLAN, CASE.network, CASE.catalog, CASE.policy) is PLAN


def test_more_steps_than_are_tried_are_told_and_prove_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paths, "_MOST_STEPS", 2)
    plan = solve(CASE.network, CASE.catalog)
    assert plan.status == "feasible"
    assert "more paths than were tried exist for mast; state `over` to choose one" in plan.notes


# -- what is seldom stated ----------------------------------------------------------------------------------------


def test_fixed_optic_takes_what_it_leaves_open_from_the_part_that_it_names() -> None:
    stated = json.loads(json.dumps(NETWORK))
    stated["devices"][1]["ports"] = [{"id": "1", "kind": "fixed", "optic": {"part": "NO-LX"}}, {"id": "2", "kind": "cage", "form": "SFP", "rates": ["1G"]}]
    stated["links"] = [{"id": "quay", "ends": ["core", "quay/1"], "rate": "1G"}]
    (link,) = solve(Network(**stated), CASE.catalog).links
    assert [(end.fitting, end.module) for end in link.ends] == [("module", "SO-LX"), ("fixed", None)]
    assert {way.available_db for way in link.directions} == {6.0}  # 1000BASE-LX10: IEEE 802.3 Clause 59


def test_cords_that_are_too_few_for_all_serve_the_most_that_they_can() -> None:
    stated = json.loads(json.dumps(CATALOG))
    stated["cords"][0]["stock"] = 5
    plan = solve(CASE.network, Catalog(**stated))
    assert sum(end.cord == "CORD-OS2" for link in plan.links for end in link.ends) == 4


def test_receiver_that_would_be_damaged_is_told_before_it_is_joined() -> None:
    stated = json.loads(json.dumps(CATALOG))
    stated["modules"] = [module | ({"rx_damage_dbm": 1.0} if module["part"] == "NO-FAR" else {}) for module in stated["modules"] if module["part"] == "NO-FAR"]
    stated["attenuators"] = [{"part": "ATT-10", "mode": "single-mode", "connector": "LC", "loss_db": 10}]
    plan = solve(CASE.network, Catalog(**stated))
    assert any("may be damaged for good if it is joined without this loss" in note for link in plan.links for note in link.notes)


def test_grade_that_a_standard_has_no_loss_for_is_not_served_though_a_person_answers_for_the_reach() -> None:
    """100BASE-FX is published for 62.5/125 and for the better 50/125 fiber, not for 50/400/400."""
    cages = {"ports": [cage(rates=("100M",))]}
    links = [{"id": "L1", "ends": ["core", "gate"], "rate": "100M"}]
    documents = site(fiber("50/400/400", 300), [FX], core=cages, gate=cages, links=links, policy={"waivers": [{"rule": "reach", "link": "L1"}]})
    assert [refusal.kind for refusal in solve(*documents).unserved] == ["impossible"]


def test_light_whose_loss_no_table_has_is_told_as_unknown_over_several_grades() -> None:
    odd = {"tx_nm": [1000, 1100], "rx_nm": [1000, 1100], "reach_m": {"OM3": 500, "OM4": 500}, "mode": "multimode", "dispersion_ps_nm": None}
    runs = [{"id": "F2", "ends": ["p", "gate"], **fiber("OM4", 100)}]
    documents = site(fiber("OM3", 100) | {"ends": ["core", "p"]}, [ZX | odd], runs=runs, panels=[{"id": "p"}])
    (link,) = solve(*documents).links
    assert {(way.loss_max_db, way.margin_db) for way in link.directions} == {(None, None)}


def test_plan_that_was_cut_in_a_short_way_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def cut(*_: object) -> None:
        raise known.Cancelled

    solved = Known(CASE.network, CASE.catalog, CASE.policy)
    monkeypatch.setattr(known, "solved_from", cut)
    assert solved.solved(changed(CASE.network, runs=other_runs(lambda run: run["fiber"].update(length_m=950))), CASE.catalog, CASE.policy) is None
