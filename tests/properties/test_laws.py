"""Laws between plans: what a change of the documents may do to the best plan, and what it may not. Nothing is known of the plans themselves.

Each law is held on small networks of every family that it speaks of; a case that breaks one is told by its number (`Case.numbered`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import count, islice
from random import Random
from typing import Any

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.terms import WAIVABLE
from tests.properties.cases import PART_KINDS, Case, as_written, impossible, judged, unchanged, values
from tests.properties.retellings import from_the_other_end, of_swapped_roles, renamed, shuffled, spliced, twice, with_connections_stated

CASES_A_LAW = 20
SPREAD = 400
"""Cases are drawn from so many, by the name of the law."""
Claim = tuple[Any, Any]
"""What is said of a case, and what should be said."""


@dataclass(frozen=True)
class Law:
    """A law, and the cases that it speaks of."""

    claim: Callable[[Case], Claim]
    speaks_of: Callable[[Case], bool]

    def cases(self) -> dict[int, Case]:
        draw = Random(self.claim.__name__)
        numbered = ((number, Case.numbered(number)) for number in (draw.randrange(SPREAD) for _ in count()))
        return dict(islice(((number, case) for number, case in numbered if self.speaks_of(case)), CASES_A_LAW))


LAWS: dict[str, Law] = {}


def law(speaks_of: Callable[[Case], bool] = lambda case: True) -> Callable[[Callable[[Case], Claim]], Callable[[Case], Claim]]:
    """Make a law of a function that changes a case."""

    def made(claim: Callable[[Case], Claim]) -> Callable[[Case], Claim]:
        LAWS[claim.__name__.replace("_", " ")] = Law(claim, speaks_of)
        return claim

    return made


def no_worse(after: tuple[float, ...], before: tuple[float, ...]) -> Claim:
    """Objectives in order, that may be less and not more."""
    return min(after, before), after


# -- the same site, told otherwise ---------------------------------------------------------------------------------


@law()
def the_order_of_lists_decides_nothing(case: Case) -> Claim:
    """A list of devices is a set that had to be written in some order."""
    return unchanged(shuffled(case, Random(1)).plan()), unchanged(case.plan())


@law()
def names_decide_nothing_but_which_of_equals_is_taken(case: Case) -> Claim:
    """No rule reads a name; the names only break ties."""
    after = renamed(case, lambda name: f"{Random(name).randrange(1000)}-{name}", lambda part: part[::-1] + "-new").plan()
    return values(after), values(case.plan())


@law()
def a_link_and_a_run_have_no_direction(case: Case) -> Claim:
    """Both directions of light are checked, whichever end is written first."""
    return values(from_the_other_end(case).plan()), values(case.plan())


def of_standard_light(case: Case) -> bool:
    """Roles are a matter of single-strand pairs, and only where no part states powers of its own are both ends' powers those of one pair."""
    return any((optic.get("standard") or "")[-2:] in ("-D", "-U") for optic in case.optics) and not any(
        optic.get("tx_dbm") or optic.get("rx_dbm") for optic in case.optics
    )


@law(of_standard_light)
def downstream_and_upstream_may_change_places_throughout(case: Case) -> Claim:
    """Of a pair each end gets the other's light: with every D a U and every U a D, each link has the same two directions."""
    return values(of_swapped_roles(case).plan()), values(case.plan())


@law(lambda case: bool(case.fibers))
def a_splice_without_loss_is_no_splice(case: Case) -> Claim:
    """Length adds up, and a closure that loses nothing changes nothing; only strands are counted in each half."""
    case = with_connections_stated(case)
    before, after = values(case.plan()), values(spliced(case).plan())
    if "strands" in before:
        before["strands"] *= 2
    return after, before


def without_what_is_shared(case: Case) -> Case:
    """The same without stock and spares, which two sites would share."""
    case = case.copy()
    for row in case.parts:
        row["stock"] = None
    case.policy["spares"] = None
    return case


@law()
def two_sites_need_twice_as_much_of_the_same_parts(case: Case) -> Claim:
    """Sites that share nothing are planned as each would be alone; what serves one best serves both, so the part numbers are the same."""
    case = without_what_is_shared(case)
    once, both = values(case.plan()), values(twice(case).plan())
    return both, {name: value if name == "part_numbers" else 2 * value for name, value in once.items()}


@law()
def two_equal_links_weigh_as_much_as_one_of_double_weight(case: Case) -> Claim:
    """Merging each link with its twin of the other site into one of both weights serves the same weight."""
    case = without_what_is_shared(case)
    merged = case.copy()
    for link in merged.network["links"]:
        link["weight"] = 2 * link.get("weight", 1)
    return values(merged.plan())["links"], values(twice(case).plan())["links"]


# -- prices ---------------------------------------------------------------------------------------------------------


@law()
def another_currency_changes_prices_and_nothing_else(case: Case) -> Claim:
    """What is cheaper stays cheaper when every price is four times as high."""
    dearer = case.copy()
    for row in dearer.parts:
        row["price"] = None if row.get("price") is None else 4 * row["price"]
    before, after = case.plan(), dearer.plan()
    return (after.links, values(after)), (before.links, {name: 4 * value if name == "cost" else value for name, value in values(before).items()})


# -- more to choose from ----------------------------------------------------------------------------------------------


@law()
def a_module_that_no_cage_takes_changes_nothing(case: Case) -> Claim:
    """However cheap it is, it does not go in."""
    more = case.copy()
    more.catalog["modules"].append({"part": "A-unfit", "standard": "100GBASE-LR4", "form": "QSFP28", "connector": "LC", "price": 0, "power_w": 0.1})
    return unchanged(more.plan()), unchanged(case.plan())


@law()
def a_dearer_copy_of_a_module_changes_no_value(case: Case) -> Claim:
    """Put the original in the place of every copy: nothing gets worse. (The copies of what is short would help, so they are out of stock.)"""
    more = case.copy()
    copies = [row | {"part": f"{row['part']}-copy", "price": (row.get("price") or 0) + 1} for row in more.catalog["modules"]]
    excluded = more.policy.get("exclude_parts", [])
    more.catalog["modules"] += [row for row in copies if row.get("stock") is None and row["part"].removesuffix("-copy") not in excluded]
    return values(more.plan()), values(case.plan())


@law()
def a_run_that_leads_nowhere_changes_nothing(case: Case) -> Claim:
    """Two devices that no link asks for, and the fiber between them."""
    more = case.copy()
    more.network["devices"] += [{"id": f"idle-{side}", "ports": [{"ids": "1-4", "kind": "cage", "form": "SFP", "rates": ["1G"]}]} for side in "ab"]
    more.network["runs"].append({"id": "R-idle", "ends": ["idle-a", "idle-b"], "fiber": {"grade": "OS2", "length_m": 10, "strands": 2}})
    return unchanged(more.plan()), unchanged(case.plan())


@law()
def a_link_that_cannot_be_served_takes_nothing_from_the_others(case: Case) -> Claim:
    """It is told, and the rest is planned as before."""
    more = case.copy()
    more.network["devices"].append({"id": "island", "site": "hall", "ports": [{"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"]}]})
    more.network["links"].append({"id": "to-island", "ends": ["a", "island"], "rate": "1G", "weight": 9})
    before, after = case.plan(), more.plan()
    return (values(after), impossible(after)), (values(before), impossible(before) | {"to-island"})


@law()
def two_catalogs_add_up_to_one(case: Case) -> Claim:
    """A part is the same in whichever list it stands."""
    lists = [Catalog(**{kind: case.catalog.get(kind, [])[start::2] for kind in PART_KINDS}) for start in (0, 1)]
    added = case.copy()
    added.catalog = as_written(Catalog.merge(lists))
    return unchanged(added.plan()), unchanged(case.plan())


# -- rules that bind less -----------------------------------------------------------------------------------------------


def of_stated_rates(case: Case) -> bool:
    """A link of no stated rate runs as fast as it can, so that a rule which binds less may make it run faster, and the plan dearer."""
    return all(link.get("rate") for link in case.network["links"])


@law(of_stated_rates)
def what_a_person_answers_for_makes_no_plan_worse(case: Case) -> Claim:
    """Every plan that keeps a rule is still there when the rule is waived."""
    waived = case.copy()
    waived.policy["waivers"] = [{"rule": rule, "link": link["id"]} for rule in WAIVABLE for link in case.network["links"]]
    return no_worse(judged(waived.plan()), judged(case.plan()))


@law(of_stated_rates)
def a_smaller_margin_makes_no_plan_worse(case: Case) -> Claim:
    """What holds with 3 dB in reserve holds with 1 dB."""
    smaller = case.copy()
    smaller.policy["design_margin_db"] = 1
    return no_worse(judged(smaller.plan()), judged(case.plan()))


@law(of_stated_rates)
def what_is_allowed_besides_makes_no_plan_worse(case: Case) -> Claim:
    """Hybrid cords, attenuators, converters, other laser classes and the last strands may be used and need not be."""
    freer = case.copy()
    freer.policy |= {"allow_hybrid_cords": True, "allow_attenuators": True, "allow_converters": True, "laser_classes": ["1", "1M"], "reserve_strands": 0}
    return no_worse(judged(freer.plan()), judged(case.plan()))


@law(of_stated_rates)
def cooler_cabinets_make_no_plan_worse(case: Case) -> Claim:
    """A module that stands the rise of 15 K stands no rise."""
    cooler = case.copy()
    cooler.policy["temperature_rise_c"] = 0
    return no_worse(judged(cooler.plan()), judged(case.plan()))


@law(of_stated_rates)
def more_strands_make_no_plan_worse(case: Case) -> Claim:
    """Nobody has to use them."""
    richer = case.copy()
    for run in richer.fibers:
        run["fiber"]["strands"] += 2
    return no_worse(judged(richer.plan()), judged(case.plan()))


# -- a plan is one of the things that can be asked for ----------------------------------------------------------------


@law()
def what_was_chosen_may_be_asked_for(case: Case) -> Claim:
    """A link that states the rate, the runs and the ports that it got anyway gets a plan that is as good."""
    plan = case.plan()
    asked = case.copy()
    got = {link.id: link for link in plan.links}
    for link in (link for link in asked.network["links"] if link["id"] in got):
        chosen = got[link["id"]]
        link |= {"rate": chosen.rate, "over": list(chosen.over), "ends": [f"{end.device}/{end.port}" for end in chosen.ends]}
    return values(asked.plan()), values(plan)


@law()
def what_was_not_chosen_is_not_missed(case: Case) -> Claim:
    """Modules that the best plan does not use could as well not be sold, as long as none of them sets the rate of a link."""
    plan = case.plan()
    less = case.copy()
    used = {line.part for line in plan.parts} | set(case.network.get("installed", {}).values())
    rates = {link.id: link.rate for link in plan.links}
    less.catalog["modules"] = [row for row in less.catalog["modules"] if row["part"] in used]
    for link in less.network["links"]:
        link["rate"] = rates.get(link["id"], link.get("rate") or "1G")
    return values(less.plan()), values(plan)


@law(lambda case: case.policy.get("keep_installed", "no") == "no" and not case.policy.get("spares"))
def a_plan_that_is_built_and_must_stay_costs_its_cords_only(case: Case) -> Claim:
    """With its modules in their cages, the plan is still the best, and none of them is bought again."""
    case = without_what_is_shared(case)
    case.policy["objective"] = ["links", "part_numbers", "cost"]
    plan = case.plan()
    built = case.copy()
    ends = [end for link in plan.links for end in link.ends]
    built.network["installed"] = {f"{end.device}/{end.port}": end.module for end in ends if end.module and not end.converter}
    built.policy["keep_installed"] = "must"
    price = {row["part"]: row.get("price") or 0 for row in case.parts}
    due = values(plan)
    due["cost"] -= sum(price[part] for part in built.network["installed"].values())
    return values(built.plan()), due


@pytest.mark.parametrize("name", LAWS)
def test_law_holds(name: str) -> None:
    claims = {number: LAWS[name].claim(case) for number, case in LAWS[name].cases().items()}
    assert {number: said for number, (said, _) in claims.items()} == {number: due for number, (_, due) in claims.items()}
