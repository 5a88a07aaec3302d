"""Print how the library does when something that joins the whole network runs short: ``python -m tests.benchmarks.shortage``.

A site is planned; then the parts that its plan uses most are in stock with a share of the units that it uses, or the devices that
feed most get a share of the power that its modules draw, and it is planned again.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from typing import Any

from optiselect import Catalog, Network, Plan, Policy, solve
from tests.benchmarks.parts import site_catalog
from tests.benchmarks.run import machine
from tests.benchmarks.sites import site_network


def of_stock(parts: dict[str, Any], plan: Plan, several: int, share: float) -> None:
    """State the stock of the modules that a plan uses most."""
    used = Counter({line.part: line.used for line in plan.parts if line.kind == "module"})
    short = dict(used.most_common(several))
    for module in parts["modules"]:
        if module["part"] in short:
            module["stock"] = int(short[module["part"]] * share)


def of_power(site: dict[str, Any], catalog: Catalog, plan: Plan, several: int, share: float) -> None:
    """State the power for all modules of the devices whose modules draw most."""
    drawn: Counter[str] = Counter()
    for link in plan.links:
        for end in link.ends:
            if end.module is not None:
                drawn[end.device] += round((catalog.module_by_part[end.module].power_w or 0) * 1000)
    short = dict(drawn.most_common(several))
    for device in site["devices"]:
        if device["id"] in short:
            device["module_power_w"] = round(short[device["id"]] * share / 1000, 2)


def told(name: str, network: Network, catalog: Catalog, limit_s: float) -> Plan:
    """Plan, and print how long it took and what is proven."""
    began = time.perf_counter()
    plan = solve(network, catalog, Policy(time_limit_s=limit_s))
    values = ", ".join(f"{value.name} {value.value:g} (bound {value.bound:g})" for value in plan.objective)
    print(f"{name:<32} {time.perf_counter() - began:7.2f} s  {plan.status}  {values}; unserved {len(plan.unserved)}", flush=True)
    return plan


def main() -> None:
    parser = argparse.ArgumentParser(description="What runs short for a whole network.")
    parser.add_argument("--links", type=int, nargs="+", default=[500, 1500, 5000])
    parser.add_argument("--parts", type=int, default=40)
    parser.add_argument("--stock", type=int, default=1, help="so many parts are in short stock")
    parser.add_argument("--power", type=int, default=0, help="so many devices have too little power")
    parser.add_argument("--share", type=float, default=0.95)
    parser.add_argument("--limit", type=float, default=60.0)
    asked = parser.parse_args()
    print(machine())
    for links in asked.links:
        site, parts = site_network(links), site_catalog(asked.parts)
        catalog = Catalog(**parts)
        plan = told(f"{links} x {asked.parts}", Network(**site), catalog, asked.limit)
        of_stock(parts, plan, asked.stock, asked.share)
        of_power(site, catalog, plan, asked.power, asked.share)
        told(f"  {asked.stock} parts, {asked.power} devices short", Network(**site), Catalog(**parts), asked.limit)


if __name__ == "__main__":
    main()
