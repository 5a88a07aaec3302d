"""The decomposition loses no optimum: with clusters listed, and with every resource counted in the model instead."""

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver import clusters, rounds
from optiselect.solver.scarce import Scarce
from optiselect.solver.solve import solve
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

PROFILES = ["usual", "single-strand", "tight", "hard", "ring"]
POLICIES = {"plain": {}, "spares": {"spares": {"service_level": 0.95, "restock_days": 60}}, "modules first": {"objective": ["links", "modules", "cost"]}}


@pytest.mark.parametrize("policy", POLICIES)
@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("seed", [1, 2])
def test_clusters_and_rounds_lose_no_optimum(profile: str, policy: str, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    network, catalog = Network(**site_network(14, profile=profile, seed=seed)), Catalog(**site_catalog(24, profile=profile, seed=seed))
    wish = Policy(**POLICIES[policy])
    found = solve(network, catalog, wish)
    monkeypatch.setattr(clusters, "MOST_WAYS", 0)
    monkeypatch.setattr(rounds, "MOST_ROUNDS", 0)
    whole = solve(network, catalog, wish)
    assert [(stage.name, stage.value, stage.bound) for stage in found.objective] == [(stage.name, stage.value, stage.bound) for stage in whole.objective]
    assert found.status == whole.status == "optimal"


def test_nothing_is_counted_that_cannot_run_short() -> None:
    assert not Scarce().counts(("strands", "F1"))
    assert Scarce().joined([("strands", "F1")]).counts(("strands", "F1"))
