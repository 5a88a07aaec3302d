"""Print what planning again after one change takes: ``python -m tests.benchmarks.changes`` from the root of the source tree.

A site is solved; then it is planned again for each of some changes of one thing, from its tables (`optiselect.study.Follower`). Of a line: the
kind of change, how many there were, the mean of the seconds of the processor, and what share that is of a solve of the whole by itself.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict

from optiselect import Catalog, Network
from optiselect.solver.solve import solve_bare
from optiselect.study import Case, Follower
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.run import machine
from tests.benchmarks.sites import site_network
from tests.benchmarks.sweeps import one_change_each


def measure(links: int, parts: int, changes: int) -> None:
    case = Case(Network(**site_network(links)), Catalog(**site_catalog(parts)))
    follower = Follower.of(case)
    whole = []
    for _ in range(3):
        network = Network(**site_network(links))  # a hash or a table that a network keeps would be of use to the next solve
        began = time.process_time()
        solve_bare(network, case.catalog, case.policy)
        whole.append(time.process_time() - began)
    plain = min(whole)
    print(f"{links} x {parts:<18} a solve by itself {plain:.2f} s", flush=True)
    took: dict[str, list[float]] = defaultdict(list)
    for variant in one_change_each(case, changes):
        changed = variant.applied_to(case)
        began = time.process_time()
        follower.plan_of(changed)
        took[type(variant.edits[0]).__name__].append(time.process_time() - began)
    for kind, seconds in sorted(took.items()):
        mean = sum(seconds) / len(seconds)
        print(f"    {kind:<20} {len(seconds):3d} times  {mean:.3f} s  {mean / plain:4.0%} of a solve", flush=True)
    every = [second for seconds in took.values() for second in seconds]
    print(f"    {'all':<20} {len(every):3d} times  {sum(every) / len(every):.3f} s  {sum(every) / len(every) / plain:4.0%} of a solve", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="What planning again after one change takes.")
    parser.add_argument("--links", type=int, default=5000)
    parser.add_argument("--parts", type=int, default=40)
    parser.add_argument("--changes", type=int, default=20)
    asked = parser.parse_args()
    print(machine())
    measure(asked.links, asked.parts, asked.changes)


if __name__ == "__main__":
    main()
