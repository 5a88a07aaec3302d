"""The demo site, planned once for all tests of the papers."""

from __future__ import annotations

from pathlib import Path

import pytest

from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.handover.dossier import Dossier, dossier
from optiselect.handover.hand_over import HandedOver, hand_over
from optiselect.solver.solve import solve_bare


@pytest.fixture(scope="session")
def terminal() -> Dossier:
    """The invented ferry terminal with its plan; why its links are refused is not looked into, since no paper rests on it."""
    network, catalog, policy = demo_network(), demo_catalog(), demo_policy()
    return dossier(solve_bare(network, catalog, policy), network, catalog, policy)


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the papers of the terminal are."""
    return tmp_path_factory.mktemp("papers") / "terminal"


@pytest.fixture(scope="session")
def written(terminal: Dossier, folder: Path) -> HandedOver:
    """The papers of the terminal, all of them."""
    return hand_over(terminal.plan, folder, terminal.network, terminal.catalog, terminal.policy)
