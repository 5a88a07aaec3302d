"""One plan, byte for byte: whatever seed Python hashes with, and in whatever order the documents list things."""

import json
import os
import subprocess
import sys
from functools import cache
from random import Random
from typing import Any

import pytest

from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.solver.solve import solve
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.sites import site_network

ANY_ORDER = ("sites", "devices", "panels", "runs", "links", "modules", "converters", "cords", "attenuators")
SOLVE = """
import sys, json
from optiselect import Catalog, Network, Policy, solve
from tests.solver.test_same_plan import written
network, catalog, policy = json.load(sys.stdin)
print(written(solve(Network(**network), Catalog(**catalog), Policy(**policy))))
"""


def as_stated(document: Document) -> dict[str, Any]:
    return document.model_dump(mode="json", exclude_unset=True, by_alias=True)


@cache
def documents(site: str) -> str:
    """Network, catalog and policy as one JSON text."""
    sites = {
        "demo": lambda: [as_stated(demo_network()), as_stated(demo_catalog()), as_stated(demo_policy())],
        "tight": lambda: [site_network(24, profile="tight", seed=5), site_catalog(30, profile="tight", seed=5), {}],
        "ring": lambda: [site_network(24, profile="ring", seed=6), site_catalog(30, profile="ring", seed=6), {"spares": {}}],
    }
    return json.dumps(sites[site]())


def written(plan: Document) -> str:
    """The bytes of a plan."""
    return json.dumps(plan.model_dump(mode="json", by_alias=True))


@cache
def plan_of(site: str) -> str:
    network, catalog, policy = json.loads(documents(site))
    return written(solve(Network(**network), Catalog(**catalog), Policy(**policy)))


def shuffled(document: dict[str, Any], draw: Random) -> dict[str, Any]:
    """The same document with its lists, and its keys, in another order."""
    rows = {key: draw.sample(value, len(value)) if key in ANY_ORDER else value for key, value in document.items()}
    return {key: rows[key] for key in draw.sample(list(rows), len(rows))}


@pytest.mark.parametrize("seed", ["0", "1", "random"])
@pytest.mark.parametrize("site", ["demo", "tight", "ring"])
def test_hash_seeds_change_no_byte(site, seed):
    environment = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)}
    again = subprocess.run([sys.executable, "-W", "error", "-c", SOLVE], input=documents(site), capture_output=True, text=True, env=environment, check=True)
    assert again.stdout.strip() == plan_of(site)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("site", ["demo", "tight", "ring"])
def test_shuffled_documents_change_no_byte(site, seed):
    draw = Random(seed)
    network, catalog, policy = (shuffled(document, draw) for document in json.loads(documents(site)))
    assert written(solve(Network(**network), Catalog(**catalog), Policy(**policy))) == plan_of(site)
