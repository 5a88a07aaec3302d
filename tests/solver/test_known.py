"""The plan of documents that differ little from a solved case, against a solve of them by itself: the same, whole."""

import threading
from random import Random

import pytest

from optiselect.errors import PlanCheckError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Device, Network
from optiselect.model.policy import Policy
from optiselect.solver.known import Known
from optiselect.solver.solve import solve_bare
from optiselect.solver.tightened import worked_out
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network
from tests.solver.families import case
from tests.solver.test_tightened import a_run_less, changed, fewer_strands, longer, measured, one_run, shorter


def a_link_less(network, draw):
    """The network without one of its links."""
    kept = [link for link in network.wanted if link is not draw.choice(network.wanted)]
    names = {link.id for link in kept}
    return changed(network, links=[link.model_copy(update={"diverse_from": tuple(sorted(set(link.diverse_from) & names))}) for link in kept])


def a_link_of_another_weight(network, draw):
    """The network where one link counts more."""
    one = draw.choice(network.wanted)
    return changed(network, links=[link.model_copy(update={"weight": link.weight + 3}) if link is one else link for link in network.wanted])


def between_devices(network):
    """The runs that end at no panel."""
    return [run for run in network.runs if not {*run.ends} & network.panel_by_id.keys()]


def another(run, draw):
    """A run of the same cable and another length."""
    cable = {"fiber": run.fiber.model_copy(update={"length_m": draw.uniform(20, 2000)})} if run.fiber else {"copper": run.copper}
    return run.model_copy(update={"id": "another", "routes": (), **cable})


def a_run_more(network, draw):
    """The network with one run more between two devices."""
    runs = between_devices(network)
    return changed(network, runs=[another(draw.choice(runs), draw), *network.runs]) if runs else network


def a_link_more(network, draw):
    """The same with one link more there."""
    after = a_run_more(network, draw)
    wanted = draw.choice(network.wanted).model_copy(update={"id": "m", "ends": after.runs[0].ends, "over": None, "diverse_from": ()})
    return changed(after, links=[*network.wanted, wanted]) if after is not network else network


def a_device_more(network, draw):
    """The network with one device more, like one that is there, on a run and a link of its own."""
    runs = [run for run in between_devices(network) if not any({*run.ends} & {*link.devices} and link.over for link in network.wanted)]
    if not runs:
        return network
    run = another(draw.choice(runs), draw)
    device = network.device_by_id[run.ends[1]].model_copy(update={"id": draw.choice(["0", "zz"])})
    link = draw.choice(network.wanted).model_copy(update={"id": "m", "ends": (run.ends[0], device.id), "over": None, "diverse_from": ()})
    runs = [*network.runs, run.model_copy(update={"ends": link.ends})]
    return changed(network, devices=[*network.devices, device], runs=runs, links=[*network.wanted, link])


def a_device_less(network, draw):
    """The network without one of its devices, its runs and its links."""
    plain = [device for device in network.devices if not any(port.startswith(f"{device.id}/") for port in network.installed)]
    gone = draw.choice(plain).id if plain else None
    links = [link for link in network.wanted if gone not in link.devices]
    names, runs = {link.id for link in links}, [run for run in network.runs if gone not in run.ends]
    kept = {run.id for run in runs}
    if not links or any(not kept.issuperset(link.over or ()) for link in links):
        return network
    links = [link.model_copy(update={"diverse_from": tuple(sorted(set(link.diverse_from) & names))}) for link in links]
    return changed(network, devices=[device for device in network.devices if device.id != gone], runs=runs, links=links)


CHANGES = {
    "longer": lambda network, draw: one_run(network, draw, longer),
    "shorter": lambda network, draw: one_run(network, draw, shorter),
    "fewer strands": lambda network, draw: one_run(network, draw, fewer_strands),
    "measured": lambda network, draw: one_run(network, draw, measured),
    "a run less": a_run_less,
    "a link less": a_link_less,
    "another weight": a_link_of_another_weight,
    "a run more": a_run_more,
    "a link more": a_link_more,
    "a device more": a_device_more,
    "a device less": a_device_less,
    "nothing": lambda network, draw: network,
}
SEEDS = range(0, 85)


def site(profile):
    """A generated site of sixty links, with its catalog."""
    network, catalog = site_network(60, profile=profile, seed=2), site_catalog(60, profile=profile, seed=2)
    stated = [{key: value for key, value in document.items() if key != "format"} for document in (network, catalog)]
    return Network(**stated[0]), Catalog(**stated[1]), Policy()


@pytest.mark.parametrize("name", CHANGES)
def test_what_follows_from_a_small_case_is_what_a_solve_gives(name):
    followed = []
    for seed in SEEDS:
        network, catalog, policy = case(seed)
        after = CHANGES[name](network, Random(seed))
        plan = Known(network, catalog, policy).solved(after, catalog, policy)
        if plan is not None:
            assert (seed, plan) == (seed, solve_bare(after, catalog, policy))
            followed.append(seed)
    assert len(followed) > len(SEEDS) / 3


@pytest.mark.parametrize("profile", ["usual", "tight", "ring", "hard"])
def test_what_follows_from_a_site_is_what_a_solve_gives_whatever_was_asked_before(profile):
    network, catalog, policy = site(profile)
    known = Known(network, catalog, policy)
    for seed, name in enumerate(["longer", "a link less", "a link more", "longer", "measured", "a device more", "a run less", "another weight"]):
        after = CHANGES[name](network, Random(seed))
        plan = known.solved(after, catalog, policy)
        assert plan is None or plan == solve_bare(after, catalog, policy)


@pytest.mark.parametrize("seed", range(0, 60, 4))
def test_what_a_solved_case_has_worked_out_is_what_is_worked_out_anew(seed):
    known = Known(*case(seed))
    assert known.worked == worked_out(*case(seed), known.plan)


def test_threads_may_ask_at_once():
    network, catalog, policy = site("tight")
    known = Known(network, catalog, policy)
    asked = [CHANGES["longer"](network, Random(seed)) for seed in range(6)]
    plans = {}
    threads = [threading.Thread(target=lambda at=at: plans.update({at: known.solved(asked[at], catalog, policy)})) for at in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert plans == {at: known.solved(asked[at], catalog, policy) for at in range(6)}


def repriced(catalog, draw, by):
    """The catalog where one module has another price."""
    one = draw.choice([module for module in catalog.modules if module.price is not None])
    return changed(
        catalog, modules=[module.model_copy(update={"price": round(module.price * by, 2)}) if module is one else module for module in catalog.modules]
    )


@pytest.mark.parametrize("by", [0.2, 0.97, 1.03, 5])
def test_what_follows_from_another_price_is_what_a_solve_gives(by):
    followed = []
    for seed in SEEDS:
        network, catalog, policy = case(seed)
        after = repriced(catalog, Random(seed), by)
        plan = Known(network, catalog, policy).solved(network, after, policy)
        if plan is not None:
            assert (seed, plan) == (seed, solve_bare(network, after, policy))
            followed.append(seed)
    assert len(followed) > len(SEEDS) / 3


@pytest.mark.parametrize("profile", ["usual", "tight", "ring", "hard"])
def test_one_price_after_another_and_a_run_beside_it(profile):
    network, catalog, policy = site(profile)
    known = Known(network, catalog, policy)
    followed = 0
    for seed in range(8):
        after = CHANGES["longer"](network, Random(seed)) if seed % 3 == 2 else network
        prices = repriced(catalog, Random(seed), [0.6, 0.99, 1.01, 1.6][seed % 4])
        plan = known.solved(after, prices, policy)
        if plan is not None:
            assert plan == solve_bare(after, prices, policy)
            followed += 1
    assert followed


@pytest.fixture
def stood(monkeypatch):
    """Whether the plan stood at each of the prices that were asked for."""
    told, asked = [], Known._is_the_same_at_these_prices
    monkeypatch.setattr(Known, "_is_the_same_at_these_prices", lambda known, following: told.append(asked(known, following)) or told[-1])
    return told


@pytest.mark.parametrize("by", [0.05, 0.95, 20])
def test_plan_stands_at_prices_at_which_nothing_looked_and_a_solve_gives_it_too(by, stood):
    at_prices = []
    for seed in range(0, 400, 7):
        network, catalog, policy = case(seed)
        known = Known(network, catalog, policy)
        for one in catalog.modules:
            after = changed(catalog, modules=[item.model_copy(update={"price": (item.price or 1) * by}) if item is one else item for item in catalog.modules])
            stood.clear()
            plan = known.solved(network, after, policy)
            if stood == [True]:
                at_prices.append((seed, one.part))
                assert (seed, one.part, plan) == (seed, one.part, solve_bare(network, after, policy))
    assert len(at_prices) > 40
    assert len({seed for seed, _ in at_prices}) > 10


@pytest.mark.parametrize("profile", ["usual", "single-strand", "tight", "ring", "hard"])
def test_plan_of_a_site_stands_at_prices_at_which_nothing_looked(profile, stood):
    network, catalog, policy = site(profile)
    known = Known(network, catalog, policy)
    for one in catalog.modules:
        after = changed(catalog, modules=[item.model_copy(update={"price": round(item.price * 0.9, 2)}) if item is one else item for item in catalog.modules])
        stood.append(None)
        plan = known.solved(network, after, policy)
        if stood[-1]:
            assert plan == solve_bare(network, after, policy)
            assert one.part not in {line.part for line in known.plan.parts}
    assert stood.count(True) >= 3


def test_plan_does_not_stand_where_somebody_else_is_to_prove_it_or_a_run_differs_too(stood):
    network, catalog, policy = site("usual")
    known = Known(network, catalog, policy)
    unused = next(module for module in catalog.modules if module.part not in known._solved.priced)
    cheaper = changed(catalog, modules=[item.model_copy(update={"price": item.price * 0.99}) if item is unused else item for item in catalog.modules])
    known.solved(network, cheaper, policy)
    known.solved(one_run(network, Random(1), longer), cheaper, policy)
    asked = policy.model_copy(update={"confirm": "second-configuration"})
    Known(network, catalog, asked).solved(network, cheaper, asked)
    assert stood == [True, False, False]


def test_plan_that_stands_is_checked_as_any_other(stood):
    network, catalog, policy = site("usual")
    known = Known(network, catalog, policy)
    unused = next(module for module in catalog.modules if module.part not in known._solved.priced)
    dearer = changed(catalog, modules=[item.model_copy(update={"price": item.price * 1.01}) if item is unused else item for item in catalog.modules])
    assert known.solved(network, dearer, policy) is not None
    known._solved.used[known.plan.parts[0].part] += 1  # as a fault of this library would count it
    with pytest.raises(PlanCheckError, match="cost: the plan says"):
        known.solved(network, dearer, policy)
    assert stood == [True, True]


CASE = case(3)
SOLDERED = Device(id="z", site="hall", ports=({"id": "1", "kind": "fixed", "optic": {"standard": "10GBASE-ER"}},))


@pytest.mark.parametrize(
    "after",
    [
        (CASE[0], CASE[1], CASE[2].model_copy(update={"design_margin_db": 1.0})),
        (CASE[0], changed(CASE[1], name="another"), CASE[2]),
        (changed(CASE[0], devices=[CASE[0].devices[0].model_copy(update={"accepts": ("aster",)}), *CASE[0].devices[1:]]), *CASE[1:]),
        (changed(CASE[0], sites=[site.model_copy(update={"outdoor": True}) for site in CASE[0].sites]), *CASE[1:]),
        (changed(CASE[0], devices=[*CASE[0].devices, SOLDERED]), *CASE[1:]),
        (changed(CASE[0], runs=[*CASE[0].runs, CASE[0].runs[0].model_copy(update={"id": "another", "ends": ("p", CASE[0].devices[0].id)})]), *CASE[1:]),
    ],
    ids=["another policy", "another catalog", "a device changed", "a site changed", "another fixed optic", "a run more at a panel"],
)
def test_nothing_follows_where_too_much_differs(after):
    assert Known(*CASE).solved(*after) is None


def test_nothing_follows_where_cords_are_counted_and_there_are_fewer_links():
    network, catalog, policy = site("usual")
    cords = [cord.model_copy(update={"stock": 500}) for cord in catalog.cords]
    catalog = catalog.model_copy(update={"cords": tuple(cords)})
    known = Known(network, catalog, policy)
    assert known.solved(changed(network, links=network.wanted[1:]), catalog, policy) is None
    assert known.solved(one_run(network, Random(1), longer), catalog, policy) is not None
