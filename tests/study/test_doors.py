"""What stops at the doors of a study, what is told of it, and what becomes of work on executors that fail."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from importlib.metadata import PackageNotFoundError
from pathlib import Path
from typing import Any

import pytest

import optiselect
from optiselect.errors import DocumentError, OptiselectError, UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Link, Network
from optiselect.solver.solve import solve_bare
from optiselect.study import Add, BuyOnly, Doubt, Remove, Set, Study, Variant, compare, dispatch, migration, sensitivity, store, study, worker, workers
from optiselect.study.answer import Answer, answer_of, failure
from optiselect.study.case import Case
from optiselect.study.comparison import Comparison, LinkChange, PartChange
from optiselect.study.front import Front, FrontPoint
from optiselect.study.sensitivity import BreakingPoint
from optiselect.study.worker import Shipment, answer_all
from tests.study.harbor import NETWORK, harbor

CASE = harbor()
PLAN = solve_bare(CASE.network, CASE.catalog, CASE.policy)


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (Add("zebras", {"id": "z"}), "name the list to add to: one of sites, "),
        (Add("links", {"ends": ["core", "mast"]}), "what is added needs the key id"),
        (BuyOnly("paint", ("red",)), "no part of a catalog has this key"),
        (Set("runs.F1", 3), "name a key of it, or use Remove and Add"),
        (Set("policy", 3), "name a key of the policy"),
        (Set("installed.core", "NO-LX"), "name a port as device/port"),
        (Set("zebras.z.stripes", 3), "begin with one of policy, installed, parts, sites"),
        (Set("runs", 3), "an id is due after the list"),
    ],
)
def test_edit_that_means_nothing_says_what_would_be_right(edit: Any, told: str) -> None:
    with pytest.raises(DocumentError, match=told):
        Variant(name="v", edits=(edit,)).applied_to(CASE)


def test_noun_is_added_as_it_is() -> None:
    link = Link(id="spare", ends=("core", "mast"))
    assert Variant(name="v", edits=(Add("links", link),)).applied_to(CASE).network.wanted[-1] == link


@pytest.mark.parametrize("edit", [Remove("installed.quay/1"), Remove("devices.quay"), Set("installed.quay/1", None)])
def test_module_leaves_the_inventory_with_its_place(edit: Any) -> None:
    case = Case(Network(**NETWORK, installed={"quay/1": "NO-LX"}), CASE.catalog, CASE.policy)
    assert dict(Variant(name="v", edits=(edit,)).applied_to(case).network.installed) == {}


def test_part_leaves_the_catalog_alone() -> None:
    left = Variant(name="v", edits=(Remove("modules.NO-SX"),)).applied_to(CASE)
    assert [module.part for module in left.catalog.modules] == ["NO-LX", "NO-FAR", "SO-LX", "SO-LONG"]
    assert left.network == CASE.network


def test_case_takes_a_graph_for_its_network() -> None:
    assert Case(CASE.network.to_graph(), CASE.catalog, CASE.policy) == CASE  # type: ignore[arg-type]


# -- what is told -------------------------------------------------------------------------------------------------


CHANGES = [
    (LinkChange("L1", "added", after="not served (no-option)"), "L1: asked for now, not served (no-option)"),
    (LinkChange("L1", "gained", after="1G over F1"), "L1: served now, 1G over F1"),
    (LinkChange("L1", "dropped"), "L1: not asked for any more"),
    (LinkChange("L1", "rate", before="1G", after="10G"), "L1: runs 10G in place of 1G"),
]


@pytest.mark.parametrize(("change", "told"), CHANGES)
def test_change_of_a_link_is_said(change: LinkChange, told: str) -> None:
    assert str(change) == told


def test_two_plans_that_are_one_are_the_same() -> None:
    same = compare(PLAN, PLAN)
    assert (same.text(), same._repr_html_()) == ("The same parts at the same ports.", "<pre>The same parts at the same ports.</pre>")


def test_part_that_was_in_place_is_no_purchase() -> None:
    part = PartChange("NO-SX", "module", 2, 4, 0, 0, 0.0, 0.0)
    assert Comparison(parts=(part, PartChange("NO-LX", "module", 4, 2, 4, 2, 160.0, 80.0))).text() == "To buy: 2 fewer NO-LX."


def test_comparison_as_frames() -> None:
    dearer = Variant.named("dearer", Set("modules.SO-LX.price", 90)).applied_to(CASE)
    found = compare(PLAN, solve_bare(dearer.network, dearer.catalog, dearer.policy))
    assert set(found.frame("parts").currency) == {"EUR"}
    assert [len(found.frame(table)) for table in ("links", "parts", "values")] == [len(found.links), len(found.parts), len(found.values)]
    with pytest.raises(UnknownNameError, match="a comparison has no table 'ports'"):
        found.frame("ports")  # type: ignore[arg-type]


def test_links_that_come_and_go_without_being_served_and_a_rate_that_is_another() -> None:
    refused = PLAN.model_copy(update={"links": PLAN.links[:1], "unserved": ()})
    asked = optiselect.solve(CASE.network, Catalog()).unserved[0]
    other = refused.model_copy(update={"links": (PLAN.links[0].model_copy(update={"rate": "100M"}),), "unserved": (asked.model_copy(update={"id": "far"}),)})
    assert [(change.link, change.what) for change in compare(refused, other).links] == [("camera", "rate"), ("far", "added")]
    assert [(change.link, change.what) for change in compare(other, refused).links] == [("camera", "rate"), ("far", "dropped")]
    nothing = refused.model_copy(update={"links": ()})
    assert [(change.link, change.what) for change in compare(nothing, refused).links] == [("camera", "added")]


def test_study_has_no_table_of_another_name() -> None:
    with pytest.raises(UnknownNameError, match="a study has no table 'ports'"):
        Study(CASE, []).run().frame("ports")  # type: ignore[arg-type]


def test_plain_text_of_a_migration_stays_text_in_a_notebook() -> None:
    found = migration(CASE)
    assert found._repr_html_().startswith("<pre>1. ")


def test_migration_to_what_is_in_place_changes_nothing() -> None:
    installed = {f"{end.device}/{end.port}": end.module for link in PLAN.links for end in link.ends}
    in_place = Case(Network(**NETWORK, installed=installed), CASE.catalog, CASE.policy)
    assert migration(in_place, PLAN).text() == "Nothing is to be changed."


def test_front_in_a_notebook_is_its_table() -> None:
    assert "<td>3</td>" in Front((FrontPoint(3, 160.0, PLAN, True),), "EUR")._repr_html_()


# -- how far figures may be off -----------------------------------------------------------------------------------

FAR = Doubt(place="runs.F7.fiber.length_m", limit=90_000, step=100, unit="m")


def test_breaking_point_in_words() -> None:
    reasons = ("one", "two", "three", "four", "five")
    assert BreakingPoint(FAR, 38_000, 90_000, None, "holds").text() == "runs.F7.fiber.length_m, now 38000 m: holds to 90000 m"
    assert BreakingPoint(FAR, 38_000, 60_000, 60_100, "breaks", reasons).text().splitlines() == [
        "runs.F7.fiber.length_m, now 38000 m: breaks at 60100 m",
        "  one",
        "  two",
        "  three",
        "  and 2 more reasons",
    ]


@pytest.mark.parametrize("window", [None, (1000.0, 1100.0)], ids=["unknown", "in no table"])
def test_loss_that_is_not_known_is_not_doubted(window: tuple[float, float] | None) -> None:
    lit = tuple(
        link.model_copy(update={"directions": tuple(way.model_copy(update={"wavelength_nm": window}) for way in link.directions)}) for link in PLAN.links
    )
    assert len(Doubt.losses(CASE, PLAN)) == 6
    assert Doubt.losses(CASE, PLAN.model_copy(update={"links": lit})) == ()


def test_figures_are_looked_at_in_threads_as_well() -> None:
    with ThreadPoolExecutor(2) as threads:
        found = sensitivity(CASE, [FAR], plan=PLAN, executor=threads, solve_again=False)
    assert (found.points[0].changes_at, found.points[0].comparison) == (60_100, None)
    assert "60100" in found._repr_html_().replace(",", "")


def test_rules_of_the_user_s_own_stay_in_the_process() -> None:
    case = harbor(rules=(lambda link: True,))
    with ProcessPoolExecutor(1) as processes, pytest.raises(OptiselectError, match="cross to no other process"):
        sensitivity(case, [FAR], plan=PLAN, executor=processes)


# -- answers that are kept ----------------------------------------------------------------------------------------


def test_answer_under_another_key_is_no_answer(tmp_path: Path) -> None:
    kept = store.Store(tmp_path)
    kept.write("a" * 64, answer_of(PLAN, None))
    next(tmp_path.iterdir()).rename(kept._path("b" * 64))
    assert kept.read("b" * 64) is None


def test_failure_is_not_kept(tmp_path: Path) -> None:
    store.Store(tmp_path).write("a" * 64, failure(ValueError("gone")))
    assert list(tmp_path.iterdir()) == []


def test_store_that_cannot_be_written_to_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store, "write_whole", full)
    with pytest.raises(OptiselectError, match="an answer cannot be written: No space left on device"):
        store.Store(tmp_path).write("a" * 64, answer_of(PLAN, None))


def test_library_that_is_not_installed_still_knows_its_version(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(_: str) -> str:
        raise PackageNotFoundError

    monkeypatch.setattr(study, "version", missing)
    assert study._version() == optiselect.__version__


def test_worker_keeps_few_bases() -> None:
    shipments = [Shipment.of(f"base {number}", CASE, None, crosses=True) for number in range(worker._MOST_KEPT + 2)]
    assert {shipment.opened() for shipment in shipments} == {(CASE, None)}
    assert len(worker._kept) == worker._MOST_KEPT


# -- executors that fail ------------------------------------------------------------------------------------------

SHIPMENT = Shipment.of("harbor", CASE, PLAN, crosses=False)
TASKS = [(name, Variant.named(name, {"policy.design_margin_db": margin})) for margin, name in enumerate(("a", "b", "c"))]


class Told(Executor):
    """An executor that does with each submission what it is told, and says nothing of its workers."""

    def __init__(self, *does: Callable[[Future[Any], Any], object]) -> None:
        self._does = list(does)
        self.futures: list[Future[Any]] = []

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.futures.append(Future())
        (self._does.pop(0) if len(self._does) > 1 else self._does[0])(self.futures[-1], lambda: fn(*args, **kwargs))
        return self.futures[-1]


def fails(future: Future[Any], _: Any) -> None:
    future.set_exception(RuntimeError("the connection was lost"))


def answers(future: Future[Any], work: Any) -> None:
    future.set_result(work())


def waits(future: Future[Any], _: Any) -> None:
    """Nothing comes."""


def breaks(future: Future[Any], _: Any) -> None:
    raise BrokenExecutor


def test_variant_that_comes_to_nothing_is_asked_once_more_and_then_lost() -> None:
    found = dict(dispatch.dispatched(Told(fails), SHIPMENT, TASKS))
    assert {name: answer.status for name, answer in found.items()} == dict.fromkeys("abc", "lost")
    assert "the connection was lost" in found["a"].error


def test_variant_that_comes_to_nothing_once_is_answered_then() -> None:
    found = dict(dispatch.dispatched(Told(fails, answers), SHIPMENT, TASKS))
    assert {name: answer.status for name, answer in found.items()} == dict.fromkeys("abc", "optimal")


def test_what_nobody_waits_for_any_more_is_called_off() -> None:
    executor = Told(answers, waits)
    answered = dispatch.dispatched(executor, SHIPMENT, TASKS)
    assert next(iter(answered))[0] == "a"
    answered.close()  # type: ignore[attr-defined]
    assert [future.cancelled() for future in executor.futures] == [False, *(True for _ in executor.futures[1:])]


class Dead:
    """A process that was killed."""

    exitcode = -9

    def kill(self) -> None:
        """Nothing is left to be killed."""


def test_work_of_an_executor_whose_process_died_without_a_word_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    executor = Told(waits)
    executor._processes = {7: Dead()}  # type: ignore[attr-defined]
    monkeypatch.setattr(workers, "_LOOK_S", 0.01)
    assert workers.ended(executor, {executor.submit(int)}) == set()


def test_executor_that_takes_nothing_leaves_its_work_to_children(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Case] = []

    def ended(network: Any, catalog: Any, policy: Any, *_: Any, bare: bool) -> None:
        asked.append(Case(network, catalog, policy))

    monkeypatch.setattr(dispatch, "solve_isolated", ended)
    found: dict[str, Answer] = dict(dispatch.dispatched(Told(breaks), SHIPMENT, TASKS))
    assert {name: answer.status for name, answer in found.items()} == dict.fromkeys("abc", "lost")
    assert {case.policy.design_margin_db for case in asked} == {0, 1, 2}


def test_answers_of_a_chunk_stand_in_its_order() -> None:
    assert [name for name, _ in answer_all(SHIPMENT, tuple(TASKS))] == ["a", "b", "c"]
