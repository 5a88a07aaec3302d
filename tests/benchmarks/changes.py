"""Print what planning again after one change takes: ``python -m tests.benchmarks.changes`` from the root of the source tree.

A site is solved; then it is planned again for each of some changes of one thing, from its tables (`optiselect.study.Follower`). Of a line:
what is changed, how often, the mean and the greatest of the seconds of the processor, and what share the mean is of a solve of the whole by itself.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from typing import Any

from optiselect import Catalog, Network
from optiselect.solver.solve import solve_bare
from optiselect.study import Add, Case, Follower, Remove, Scale, Set, Shift, Variant
from optiselect.study.edits import Edit
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.run import machine
from tests.benchmarks.sites import site_network

OF_A_NETWORK = ("a length", "a price, raised", "a price, cut", "a link less", "a link more")
"""Kinds of change that are told together as well."""


def edits_of(case: Case, each: int) -> dict[str, list[list[Edit]]]:
    """So many changes of each kind, each of one thing at another place of the case."""
    fibers = [run for run in case.network.runs if run.fiber is not None]
    lengths, measured, spliced, cut = (_some(fibers[start:], each) for start in range(4))
    priced = [module.part for module in case.catalog.modules if module.price]
    links = _some([link for link in case.network.wanted if link.devices[0] != "core"], each)  # the core has no port to spare
    return {
        "a length": [[Scale(f"runs.{run.id}.fiber.length_m", 1.07)] for run in lengths],
        "a price, raised": [[Scale(f"parts.{part}.price", 1.05)] for part in _some(priced, each)],
        "a price, cut": [[Scale(f"parts.{part}.price", 0.95)] for part in _some(priced, each)],
        "a link less": [[Remove(f"links.{link.id}")] for link in links],
        "a link more": [_another_device(case, link.devices[0], number) for number, link in enumerate(links)],
        "a measured loss": [[Set(f"runs.{run.id}.fiber.measured_loss_db.1310", round(run.length_m * 0.0005 + 1, 2))] for run in measured],
        "splices": [[Shift(f"runs.{run.id}.fiber.splices", 2)] for run in spliced],
        "a run less": [[Remove(f"runs.{run.id}")] for run in cut],
        "a margin of all links": [[Set("policy.design_margin_db", round(3 + 0.01 * number, 2))] for number in range(1, each + 1)],
    }


def _some(several: Sequence[Any], count: int) -> Sequence[Any]:
    """So many of a list, from all over it."""
    return several[:: max(1, len(several) // count)][:count]


def _another_device(case: Case, near: str, number: int) -> list[Edit]:
    """A device with one cage at the end of a run of its own, and the link to it."""
    site = case.network.device_by_id[near].site
    cage = {"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"], "module_power_w": 1.5}
    fiber = {"grade": "OS2", "length_m": 300.0 * (number + 1), "strands": 4, "connectors": ["LC", "LC"], "polish": "UPC"}
    return [
        Add("devices", {"id": "another", "site": site, "ports": [cage]}),
        Add("runs", {"id": "another", "ends": [near, "another"], "fiber": fiber}),
        Add("links", {"id": "another", "ends": [near, "another"], "rate": "1G"}),
    ]


def measure(links: int, parts: int, each: int) -> None:
    case = Case(Network(**site_network(links)), Catalog(**site_catalog(parts)))
    follower = Follower.of(case)
    whole = []
    for _ in range(3):
        network = Network(**site_network(links))  # a hash or a table that a network keeps would be of use to the next solve
        began = time.process_time()
        solve_bare(network, case.catalog, case.policy)
        whole.append(time.process_time() - began)
    print(f"{links} x {parts}: a solve by itself takes {min(whole):.2f} s", flush=True)
    took: dict[str, list[float]] = {kind: [] for kind in edits_of(case, each)}
    for kind, several in edits_of(case, each).items():
        for edits in several:
            changed = Variant.named("changed", edits).applied_to(case)
            began = time.process_time()
            follower.plan_of(changed)
            took[kind].append(time.process_time() - began)
        tell(kind, took[kind], min(whole))
    tell("a length, price or link", [second for kind in OF_A_NETWORK for second in took[kind]], min(whole))


def tell(kind: str, seconds: Sequence[float], whole: float) -> None:
    mean = sum(seconds) / len(seconds)
    print(f"    {kind:<24} {len(seconds):3d} times  {mean:.3f} s, at most {max(seconds):.3f} s  {mean / whole:4.0%} of a solve", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="What planning again after one change takes.")
    parser.add_argument("--links", type=int, default=5000)
    parser.add_argument("--parts", type=int, default=40)
    parser.add_argument("--each", type=int, default=8, help="changes of each kind")
    asked = parser.parse_args()
    print(machine())
    measure(asked.links, asked.parts, asked.each)


if __name__ == "__main__":
    main()
