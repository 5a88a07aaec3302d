"""Print what each paper costs: ``python -m tests.benchmarks.papers`` from the root of the source tree.

One line for each size: processor seconds (of the process, so that what else runs does not count), files, MB, greatest memory; below it each
paper as it is drawn, and each file with its MB. The first paper that asks for the fitted links pays for them. Pages by place, and
tables, are told together. Each size runs in a process of its own.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from tests.benchmarks.run import Row, apart, machine

_TOGETHER = ("pages", "tables")


def measure(links: int, parts: int, profile: str, seed: int) -> Row:
    """Solve a generated site, hand it over, and tell the processor seconds of each step."""
    from optiselect import Catalog, Network, solve
    from optiselect.handover import hand_over
    from tests.benchmarks.parts import site_catalog
    from tests.benchmarks.sites import site_network

    network, catalog = Network(**site_network(links, profile=profile, seed=seed)), Catalog(**site_catalog(parts, profile=profile, seed=seed))
    plan = solve(network, catalog)
    steps: dict[str, float] = {}
    last = [0.0]

    def done(step: str) -> None:
        now = time.process_time()
        steps[step] = steps.get(step, 0.0) + now - last[0]
        last[0] = now

    def told(step: str, made: Callable[..., Any], *given: Any) -> Any:
        answer = made(*given)
        done(step)
        return answer

    with tempfile.TemporaryDirectory() as folder:

        def write(path: Path, content: bytes, through: Callable[[Path, bytes], None] = hand_over.write_whole) -> None:
            through(path, content)
            done(str(path.parent.name if path.parent.name in _TOGETHER else path.name))

        for name, draw in hand_over.PAPERS.items():
            hand_over.PAPERS[name] = partial(told, f"draw {name}", draw)
        for name in ("dossier", "plan_sheets", "site_map_svg", "margins_svg", "place_pages"):
            if hasattr(hand_over, name):
                setattr(hand_over, name, partial(told, f"draw {name}", getattr(hand_over, name)))
        hand_over.write_whole = write
        began = last[0] = time.process_time()
        written = plan.hand_over(folder, network, catalog)
        done("plan.json")
        total = time.process_time() - began
        sizes: dict[str, float] = {}
        for path in written.files:
            name = path.parent.name if path.parent.name in _TOGETHER else path.name
            sizes[name] = sizes.get(name, 0.0) + path.stat().st_size / 1e6
    return {"total": total, "files": len(written.files), "size_mb": sum(sizes.values()), "steps": steps, "sizes": sizes}


def main() -> None:
    parser = argparse.ArgumentParser(description="What each paper of a plan costs.")
    parser.add_argument("--links", type=int, nargs="+", default=[500, 1500, 5000])
    parser.add_argument("--parts", type=int, default=40)
    parser.add_argument("--profile", default="usual")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=float, default=600.0, help="seconds for one size")
    parser.add_argument("--json", action="store_true", help="a line of JSON for each size")
    asked = parser.parse_args()
    print(machine())
    for links in asked.links:
        row = apart(measure, links, asked.parts, asked.profile, asked.seed, limit_s=asked.limit)
        if asked.json or "cut" in row:
            print(json.dumps({"links": links, **row}), flush=True)
            continue
        whole = f"{row['total']:7.2f} s  {row['files']} files, {row['size_mb']:.1f} MB  {row['memory_mb']:.0f} MB of memory, solving included"
        print(f"{links} x {asked.parts} {asked.profile:<12} {whole}")
        for step, seconds in row["steps"].items():
            size = f"{row['sizes'][step]:8.2f} MB" if step in row["sizes"] else ""
            print(f"    {step:<20} {seconds:7.2f} s {size}", flush=True)


if __name__ == "__main__":
    main()
