"""The plan of tighter documents without a search, against a search of them."""

from random import Random

import pytest

from optiselect.model.document import Document
from optiselect.solver.solve import solve_bare
from optiselect.solver.tightened import Proven
from tests.solver.families import case


def changed(document: Document, **update) -> Document:
    return type(document)(**{**{name: getattr(document, name) for name in document.model_fields_set}, **update})


def one_run(network, draw, change):
    """The network with one of its runs of fiber changed."""
    fibers = [run for run in network.runs if run.fiber is not None]
    if not fibers:
        return network
    run = draw.choice(fibers)
    stated = run.stated()
    change(stated["fiber"])
    return changed(network, runs=[type(run)(**stated) if other is run else other for other in network.runs])


def longer(fiber):
    fiber["length_m"] = fiber["length_m"] * 1.4 + 120


def shorter(fiber):
    fiber["length_m"] = fiber["length_m"] / 2


def fewer_strands(fiber):
    fiber["strands_in_use"] = min(fiber["strands"], fiber.get("strands_in_use", 0) + 1)


def measured(fiber):
    fiber["measured_loss_db"] = {"1310": 2.5, "850": 1.1, "1550": 2.0}


def a_run_less(network, draw):
    """The network without one of its runs that no link is stated to go over."""
    free = [run for run in network.runs if all(run.id not in (link.over or ()) for link in network.wanted)]
    gone = draw.choice(free) if free else None
    return changed(network, runs=[run for run in network.runs if run is not gone])


def dearer(catalog, draw):
    part = draw.choice(catalog.modules).part
    return changed(catalog, modules=[item.model_copy(update={"price": (item.price or 0) + 7}) if item.part == part else item for item in catalog.modules])


CHANGES = {
    "longer": lambda network, catalog, policy, draw: (one_run(network, draw, longer), catalog, policy),
    "shorter": lambda network, catalog, policy, draw: (one_run(network, draw, shorter), catalog, policy),
    "fewer strands": lambda network, catalog, policy, draw: (one_run(network, draw, fewer_strands), catalog, policy),
    "a run less": lambda network, catalog, policy, draw: (a_run_less(network, draw), catalog, policy),
    "measured": lambda network, catalog, policy, draw: (one_run(network, draw, measured), catalog, policy),
    "dearer": lambda network, catalog, policy, draw: (network, dearer(catalog, draw), policy),
    "more margin": lambda network, catalog, policy, draw: (
        network,
        catalog,
        policy.model_copy(update={"design_margin_db": policy.design_margin_db + draw.choice([0.5, 4])}),
    ),
    "less margin": lambda network, catalog, policy, draw: (network, catalog, policy.model_copy(update={"design_margin_db": 0.0})),
    "no converters": lambda network, catalog, policy, draw: (network, catalog, policy.model_copy(update={"allow_converters": False})),
    "a part less": lambda network, catalog, policy, draw: (
        network,
        catalog,
        policy.model_copy(update={"exclude_parts": (*policy.exclude_parts, draw.choice(catalog.modules).part)}),
    ),
}
ALLOWS_MORE = {"less margin"}
"""Of a change that may allow more nothing follows without a search."""
SEEDS = range(0, 102)


def told(plan):
    values = [(value.name, round(value.value, 4), round(value.bound, 4)) for value in plan.objective]
    return plan.status, values, [(entry.id, entry.kind, entry.request.get("rate")) for entry in plan.unserved]


def figures(plan):
    return [(link.id, link.rate, [(way.loss_max_db, way.margin_db) for way in link.directions]) for link in plan.links]


@pytest.mark.parametrize("name", CHANGES)
def test_what_follows_without_a_search_is_what_a_search_finds(name):
    followed = []
    for seed in SEEDS:
        documents = case(seed)
        proven = Proven(*documents, solve_bare(*documents))
        after = CHANGES[name](*documents, Random(seed))
        plan = proven.tightened(*after)
        if plan is not None:
            assert (seed, told(plan)) == (seed, told(solve_bare(*after)))
            followed.append(seed)
    assert bool(followed) == (name not in ALLOWS_MORE)


def test_its_figures_are_those_of_the_new_documents():
    documents = case(13)
    after = (one_run(documents[0], Random(13), longer), *documents[1:])
    plan, searched = Proven(*documents, solve_bare(*documents)).tightened(*after), solve_bare(*after)
    assert plan is not None
    assert figures(plan) == figures(searched) != figures(solve_bare(*documents))
    assert plan.hashes == searched.hashes
