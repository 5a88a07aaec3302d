"""Print how the library grows: ``python -m tests.benchmarks.run`` from the root of the source tree.

One line for each size: seconds to load the two JSON documents, to list the options, to choose, to check; the total after
loading; greatest memory; signatures (different links, as the library tells them apart); what was proven. Each case runs in a
process of its own, so that memory is its own. Ratios: load to a bare ``json.load``; total to the load, and to the floor, which is the
load with the network as a networkx graph; total to the two models written by hand (`by_hand`), which are capped and fed from a plain
listing (`listing`) that has a cap of its own.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import importlib.metadata
import json
import multiprocessing
import os
import platform
import re
import resource
import tempfile
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

Row = dict[str, Any]
CAP_S = 60.0
PACKAGES = ("ortools", "highspy", "python-constraint2", "pydantic", "numpy")


def measure_library(folder: str, confirm: str) -> Row:
    """Load the documents of a folder, solve, and tell the seconds of each stage."""
    from optiselect import Catalog, Network, Policy, solve
    from optiselect.solver.progress import Progress

    began = time.perf_counter()
    for name in ("network", "catalog"):
        with (Path(folder) / f"{name}.json").open() as file:
            json.load(file)
    bare = time.perf_counter() - began
    began = time.perf_counter()
    network, catalog = Network.load(Path(folder) / "network.json"), Catalog.load(Path(folder) / "catalog.json")
    load = time.perf_counter() - began

    marks: dict[str, float] = {}

    def note(event: Progress) -> None:
        marks.setdefault(event.stage, event.elapsed_s)

    began = time.perf_counter()
    importlib.import_module("ortools.sat.python.cp_model_helper")  # once a process, so it is told apart from the sizes
    importing = time.perf_counter() - began

    began = time.perf_counter()
    plan = solve(network, catalog, Policy(confirm=confirm, time_limit_s=600), on_progress=note)
    total, memory_mb = time.perf_counter() - began, _memory_mb()
    plan.save(Path(folder) / "plan.json")
    importlib.import_module("networkx")
    began = time.perf_counter()
    network.to_graph()
    graph = time.perf_counter() - began
    choice, check = marks.get("choice", total), marks.get("check", total)
    return {
        "load": load,
        "bare": bare,
        "graph": graph,
        "importing": importing,
        "options": choice,
        "choice": check - choice,
        "check": total - check,
        "total": total,
        "memory_mb": memory_mb,
        "signatures": signatures(network, catalog),
        "status": plan.status,
        "unserved": len(plan.unserved),
        "values": [value.value for value in plan.objective],
        "names": [value.name for value in plan.objective],
        "proven": sum(value.proven for value in plan.objective),
    }


def signatures(network: Any, catalog: Any) -> int:
    """How many groups of links with equal options the library found."""
    from optiselect import Policy
    from optiselect.solver.prepare import Preparation
    from optiselect.solver.progress import Watch

    preparation = Preparation(network, catalog, Policy(), Watch(None, None, 600.0, 1000.0))
    preparation.run()
    found = preparation.counting(preparation.may_run_short, may_stop=False)
    return len({id(options.options) for options in found.options.values()})


def measure_papers(folder: str, confirm: str) -> Row:
    """Hand over the plan that the library left in a folder: every paper in every form."""
    from optiselect import Catalog, Network, Plan, Policy

    network, catalog, plan = (kind.load(Path(folder) / f"{kind.what}.json") for kind in (Network, Catalog, Plan))
    importlib.import_module("optiselect.handover.hand_over")
    began = time.perf_counter()
    written = plan.hand_over(Path(folder) / "papers", network, catalog, Policy(confirm=confirm, time_limit_s=600))
    total = time.perf_counter() - began
    return {"total": total, "files": len(written.files), "size_mb": sum(path.stat().st_size for path in written.files) / 1e6}


def measure_listing(folder: str, cap_s: float) -> Row:
    """List the options by plain loops and leave them in the folder."""
    import pickle

    from optiselect import Catalog, Network, Policy
    from tests.benchmarks.listing import OutOfTime, list_choices

    network, catalog = Network.load(Path(folder) / "network.json"), Catalog.load(Path(folder) / "catalog.json")
    began = time.perf_counter()
    try:
        listed = list_choices(network, catalog, Policy(), cap_s)
    except OutOfTime as told:
        return {"total": time.perf_counter() - began, "cut": str(told)}
    total = time.perf_counter() - began
    (Path(folder) / "listed.pickle").write_bytes(pickle.dumps((network, listed)))
    return {"total": total, "options": sum(map(len, listed.values()))}


def measure_model(folder: str, name: str, cap_s: float) -> Row:
    """Build and solve one of the models that are written by hand."""
    import pickle

    from tests.benchmarks.by_hand import MODELS, solve_in_order

    network, listed = pickle.loads((Path(folder) / "listed.pickle").read_bytes())
    began = time.monotonic()
    model = MODELS[name](network, listed)
    told = solve_in_order(model, began + cap_s)
    return {"total": time.monotonic() - began, "values": told.values, "proven": told.proven}


def apart(task: Callable[..., Row], *given: Any, limit_s: float) -> Row:
    """Run a measurement in a process of its own, which is ended at the limit; adds its greatest memory in MB."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(there, task, given))
    process.start()
    there.close()
    try:
        answer: Row = here.recv() if here.poll(limit_s) else {"cut": f"nothing after {limit_s:.0f} s"}
    except EOFError:
        answer = {"cut": "the process died"}
    if process.is_alive():
        process.join(2)
        process.kill()
    process.join()
    return answer


def _answer(there: Connection, task: Callable[..., Row], given: tuple[Any, ...]) -> None:
    with contextlib.ExitStack() as stack:
        sink = stack.enter_context(Path(os.devnull).open("w"))
        os.dup2(sink.fileno(), 1)  # a solver's banner is not part of the table
        try:
            row = task(*given)
        except Exception as error:  # what went wrong is a line of the table
            row = {"cut": f"{type(error).__name__}: {str(error)[:160]}"}
    there.send({"memory_mb": _memory_mb()} | row)


def _memory_mb() -> float:
    """The greatest memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def machine() -> str:
    """The machine, by figures and not by a maker's name, and the versions, in one line."""
    figures = [f"{os.cpu_count()} x {platform.machine()}"]
    with contextlib.suppress(OSError, KeyError):
        stated = dict(re.findall(r"^([^\t:]+)\s*: (.+)$", Path("/proc/cpuinfo").read_text(), re.MULTILINE))
        figures += [f"{float(stated['cpu MHz']) / 1000:.2f} GHz", f"{stated['cache size']} cache"]
        figures.append(f"{os.sysconf('SC_PHYS_PAGES') * os.sysconf('SC_PAGE_SIZE') / 2**30:.0f} GiB")
    figures += [f"load {os.getloadavg()[0]:.1f}", platform.system(), f"Python {platform.python_version()}"]
    return ", ".join([*figures, *(f"{name} {importlib.metadata.version(name)}" for name in PACKAGES)])


def case(links: int, parts: int, profile: str, seed: int, confirm: str, limit_s: float, *, times: int, by_hand: bool, papers: bool) -> None:
    from tests.benchmarks.parts import site_catalog
    from tests.benchmarks.sites import site_network

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "network.json").write_text(json.dumps(site_network(links, profile=profile, seed=seed)))
        (Path(folder) / "catalog.json").write_text(json.dumps(site_catalog(parts, profile=profile, seed=seed)))
        several = [apart(measure_library, folder, confirm, limit_s=limit_s) for _ in range(times)]
        ours = min(several, key=lambda row: row.get("total", float("inf")))
        print(line(f"{links} x {parts} {profile}", ours), flush=True)
        if papers and "cut" not in ours:
            print(f"    {'papers':<16} {said(apart(measure_papers, folder, confirm, limit_s=limit_s))}", flush=True)
        if not by_hand:
            return
        listing = apart(measure_listing, folder, CAP_S, limit_s=CAP_S + 30)
        print(f"    {'plain listing':<16} {said(listing)}", flush=True)
        if "cut" in listing:
            return
        for name in ("CP-SAT by hand", "HiGHS by hand"):
            theirs = apart(measure_model, folder, name, CAP_S, limit_s=CAP_S + 30)
            print(f"    {name:<16} {said(theirs)}{ratio(listing, theirs, ours)}{agreement(theirs, ours)}", flush=True)


def line(size: str, row: Row) -> str:
    """The line of one size."""
    if "cut" in row:
        return f"{size:<24} {row['cut']}  {row['memory_mb']:.0f} MB" if "memory_mb" in row else f"{size:<24} {row['cut']}"
    seconds = "  ".join(f"{key} {row[key]:7.2f}" for key in ("load", "options", "choice", "check", "total"))
    values = ", ".join(f"{name} {value:g}" for name, value in zip(row["names"], row["values"], strict=True))
    proven = f"{row['proven']}/{len(row['values'])} proven"
    return (
        f"{size:<24} {seconds} s  {row['memory_mb']:5.0f} MB  {row['signatures']:5d} signatures  {row['status']}, {proven}"
        f"  load/json {row['load'] / max(row['bare'], 1e-6):.0f}, total/load {row['total'] / row['load']:.1f}"
        f", total/floor {row['total'] / (row['load'] + row['graph']):.1f}, import {row['importing']:.2f} s\n"
        f"    {values}; unserved {row['unserved']}"
    )


def said(row: Row) -> str:
    """What a model written by hand reached."""
    memory = f"{row['memory_mb']:5.0f} MB" if "memory_mb" in row else ""
    if "cut" in row:
        return f"{row['cut']}  {memory}"
    if "files" in row:
        return f"{row['total']:7.2f} s  {memory}  {row['files']} files, {row['size_mb']:.0f} MB"
    reached = f"{row['options']} options" if "options" in row else f"{row['proven']}/4 proven, values {row['values']}"
    return f"{row['total']:7.2f} s  {memory}  {reached}"


def ratio(listing: Row, theirs: Row, ours: Row) -> str:
    """How many times longer the listing and the model take than the library."""
    if "cut" in theirs or "cut" in ours:
        return ""
    return f"  takes {(listing['total'] + theirs['total']) / ours['total']:.0f} times as long"


def agreement(theirs: Row, ours: Row) -> str:
    """Whether proven values are those of the library (a cost by hand is in cents)."""
    if "cut" in theirs or "cut" in ours or theirs["proven"] < 4 or ours["status"] != "optimal":
        return ""
    found = dict(zip(ours["names"], ours["values"], strict=True))
    same = [-theirs["values"][0], theirs["values"][1], theirs["values"][2] / 100, theirs["values"][3]] == [
        found[name] for name in ("links", "part_numbers", "cost", "strands")
    ]
    return "  same optimum" if same else "  OTHER OPTIMUM"


def main() -> None:
    parser = argparse.ArgumentParser(description="How the library grows with links and parts.")
    parser.add_argument("--links", type=int, nargs="+", default=[50, 500, 5000])
    parser.add_argument("--parts", type=int, nargs="+", default=[40, 400])
    parser.add_argument("--profile", nargs="+", default=["usual"])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--confirm", default="none")
    parser.add_argument("--limit", type=float, default=600.0, help="seconds for the library on one size")
    parser.add_argument("--times", type=int, default=1, help="plan each size so often and tell the quickest: for a machine that others use")
    parser.add_argument("--no-papers", action="store_true", help="do not hand over the plan")
    parser.add_argument("--by-hand", action="store_true", help="also the two models written by hand")
    asked = parser.parse_args()
    print(machine())
    for profile in asked.profile:
        for parts in asked.parts:
            for links in asked.links:
                how = {"times": asked.times, "by_hand": asked.by_hand, "papers": not asked.no_papers}
                case(links, parts, profile, asked.seed, asked.confirm, asked.limit, **how)


if __name__ == "__main__":
    main()
