"""A study: an outcome for every variant, told against the base, in the order given."""

import pytest

from optiselect.errors import DocumentError, OptiselectError, UnknownNameError
from optiselect.solver.solve import solve_bare
from optiselect.study import BuyOnly, Remove, Set, Study, Variant, compare
from optiselect.study.follower import Follower
from tests.study.harbor import harbor

VARIANTS = [
    *Variant.removals(harbor()),
    Variant.named("north only", BuyOnly("supplier", ("North",))),
    Variant.named("as it is", []),
    Variant.named("also without F7", Remove("runs.F7"), removed="runs.F7"),
]


@pytest.fixture(scope="module")
def result():
    return Study(harbor(), VARIANTS, axes={"policy.design_margin_db": [0, 3, 6]}).run()


def test_outcomes_stand_in_the_order_given_after_the_base(result):
    assert [outcome.name for outcome in result][:2] == ["base", "without run F1"]
    assert [outcome.name for outcome in result][-3:] == [f"policy.design_margin_db={margin}" for margin in (0, 3, 6)]


def test_the_plan_of_every_variant_is_that_of_its_documents_by_themselves(result):
    cases = {outcome.name: outcome.variant.applied_to(harbor()) for outcome in result}

    assert {name: result[name].plan for name in cases} == {name: solve_bare(case.network, case.catalog, case.policy) for name, case in cases.items()}


def test_what_changed_is_told_against_the_base(result):
    assert all(outcome.comparison == compare(result.base.plan, outcome.plan) for outcome in result)


def test_equal_variants_are_solved_once(monkeypatch):
    solved = []
    monkeypatch.setattr(Follower, "plan_of", lambda _, case: solved.append(case) or solve_bare(case.network, case.catalog, case.policy))
    same = [Variant.named(name, {"policy.design_margin_db": margin}) for name, margin in [("a", 4), ("b", 4.0), ("c", 5), ("d", 3)]]
    result = Study(harbor(), same).run()

    assert [case.policy.design_margin_db for case in solved] == [3, 4, 5]
    assert result["a"].answer is result["b"].answer
    assert result["d"].answer is result.base.answer


@pytest.mark.parametrize("table", ["variants", "values", "links", "parts", "unserved"])
def test_tables_name_their_variant_and_give_units(result, table):
    frame = result.frame(table)

    assert len(frame)
    assert frame.columns[0] == "variant"
    assert set(frame["variant"]) <= {outcome.name for outcome in result}


def test_a_row_a_variant_has_its_settings_and_figures(result):
    row = result.frame().set_index("variant").loc["without route duct-2"]

    assert row["removed"] == "routes.duct-2"
    assert (row["served"], row["links_lost"]) == (2, 3)
    assert row["cost_more"] == row["cost"] - result.base.value("cost")


def test_a_lost_link_is_told_in_words(result):
    assert "3 links no longer served: light, mast, quay-2." in result.compare("base", "without route duct-2").text()


def test_faults_of_all_variants_are_one_error():
    faulty = {"a": Set("runs.F9.fiber.length_m", 1), "b": Set("policy.design_margin_db", -1), "fine": Set("policy.design_margin_db", 1), "base": []}
    with pytest.raises(DocumentError) as refused:
        Study(harbor(), faulty)

    assert [str(fault) for fault in refused.value.faults] == [
        "'base': this is the name of the case itself among the results; choose another",
        "'a' runs.F9.fiber.length_m: there is no run 'F9'",
        "'b' policy.design_margin_db: at least 0 is due here, not -1",
    ]


def test_a_name_that_stands_twice_is_refused():
    with pytest.raises(DocumentError, match="two variants have this name"):
        Study(harbor(), [Variant(name="a"), Variant(name="a")])


def _fails_at_nine(_, case):
    if case.policy.design_margin_db == 9:
        raise MemoryError("no room")
    return solve_bare(case.network, case.catalog, case.policy)


def test_a_variant_that_fails_is_an_outcome_and_the_others_go_on(monkeypatch):
    monkeypatch.setattr(Follower, "plan_of", _fails_at_nine)
    result = Study(harbor(), axes={"policy.design_margin_db": [9, 4]}).run()

    assert [outcome.status for outcome in result] == ["optimal", "failed", "optimal"]
    assert result.frame()["error"].tolist() == ["", "MemoryError: no room", ""]
    assert [outcome.name for outcome in result.without_plan] == ["policy.design_margin_db=9"]


def test_the_plan_of_a_failed_variant_is_refused_with_the_reason(monkeypatch):
    monkeypatch.setattr(Follower, "plan_of", _fails_at_nine)
    result = Study(harbor(), {"nine": {"policy.design_margin_db": 9}}).run()

    with pytest.raises(OptiselectError, match="variant 'nine' has no plan: MemoryError: no room"):
        result.compare("base", "nine")


def test_a_name_that_is_not_there_is_refused(result):
    with pytest.raises(UnknownNameError, match="the study has no variant 'none'"):
        result["none"]


def test_a_notebook_shows_the_variants_with_their_text_escaped():
    shown = Study(harbor(), {"<b>bold</b>": {"policy.design_margin_db": 4}}).run()._repr_html_()

    assert "&lt;b&gt;bold&lt;/b&gt;" in shown
    assert "<b>bold</b>" not in shown


def test_progress_is_told_for_every_variant_in_the_callers_thread():
    told = []
    Study(harbor(), axes={"policy.design_margin_db": [3, 4, 5]}).run(on_progress=told.append)

    assert [event.done for event in told] == [1, 2, 3, 4]
    assert {event.total for event in told} == {4}
    assert {event.variant for event in told} == {"base", *(f"policy.design_margin_db={margin}" for margin in (3, 4, 5))}
