"""Print what a what-if study costs: ``python -m tests.benchmarks.sweeps`` from the root of the source tree.

A site of so many links, so many variants of it that each change one thing, on each kind of executor; a process each. Of a line:
`plain` is the time of one solve of the whole by itself, `variant` the time a variant took all in all (with several workers that of
all divided by their number), `of plain` the one as a share of the other; `MB` is the greatest memory of the parent after the first
tenth and at the end, so that growth shows. `overhead` is what the workers' time is more than the time that they spent on variants.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from tests.benchmarks.run import Row, apart, machine

KINDS = ("none", "threads", "processes", "loky", "dask")


def timed(task: Callable[..., Any], *given: Any) -> tuple[float, Any]:
    """Run a task where it is; its seconds and what it gave."""
    began = time.perf_counter()
    value = task(*given)
    return time.perf_counter() - began, value


class Timing(Executor):
    """Passes tasks on and adds up the seconds that workers spend on them."""

    def __init__(self, executor: Executor, workers: int) -> None:
        self._executor, self._max_workers = executor, workers
        self.seconds = 0.0

    def submit(self, task: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        outer: Future[Any] = Future()

        def pass_on(inner: Future[tuple[float, Any]]) -> None:
            error = inner.exception()
            if error is not None:
                outer.set_exception(error)
                return
            seconds, value = inner.result()
            self.seconds += seconds
            outer.set_result(value)

        from tests.benchmarks import sweeps  # by its own name: a worker cannot look into the module that was started

        self._executor.submit(sweeps.timed, task, *given).add_done_callback(pass_on)
        return outer


@contextmanager
def executor_of(kind: str, workers: int) -> Iterator[Executor | None]:
    """An executor of a kind with so many workers."""
    if kind == "none":
        yield None
    elif kind == "threads":
        with ThreadPoolExecutor(workers) as threads:
            yield threads
    elif kind == "processes":
        with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as processes:
            yield processes
    elif kind == "loky":
        import loky

        pool = loky.ProcessPoolExecutor(max_workers=workers)
        yield pool
        pool.shutdown(kill_workers=True)
    else:
        from distributed import Client, LocalCluster

        with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
            yield client.get_executor()


def one_change_each(case: Any, count: int) -> list[Any]:
    """So many variants, each of which changes one thing: a length, a measured loss, a price, strands, a run less, a margin."""
    from optiselect.study import Remove, Scale, Set, Shift, Variant

    fibers = [run for run in case.network.runs if run.fiber is not None]
    parts = [module.part for module in case.catalog.modules if module.price]
    edits = [
        (Scale(f"runs.{run.id}.fiber.length_m", 1.07) for run in cycle(fibers)),
        (Set(f"runs.{run.id}.fiber.measured_loss_db.1310", round(run.length_m * 0.0005 + 1, 2)) for run in cycle(fibers)),
        (Scale(f"parts.{part}.price", 1 + 0.01 * number) for number, part in enumerate(cycle(parts), 1)),
        (Shift(f"runs.{run.id}.fiber.splices", 2) for run in cycle(fibers)),
        (Remove(f"runs.{run.id}") for run in cycle(fibers)),
        (Set("policy.design_margin_db", round(3 + 0.01 * number, 2)) for number in range(1, 4_000)),
    ]
    return [Variant.named(f"v{number:04d}", next(source)) for number, source in enumerate(islice(cycle(edits), count))]


def measure(links: int, parts: int, count: int, kind: str, workers: int) -> Row:
    """Run the study, and solve the base by itself."""
    from optiselect.model.catalog import Catalog
    from optiselect.model.network import Network
    from optiselect.solver.solve import solve_bare
    from optiselect.study import Case, Study
    from tests.benchmarks.parts import site_catalog
    from tests.benchmarks.sites import site_network

    case = Case(Network(**site_network(links)), Catalog(**site_catalog(parts)))
    solve_bare(case.network, case.catalog, case.policy)
    began = time.perf_counter()
    solve_bare(case.network, case.catalog, case.policy)
    plain = time.perf_counter() - began
    began = time.perf_counter()
    study = Study(case, one_change_each(case, count))
    stated = time.perf_counter() - began
    memory: list[float] = []

    def note(event: Any) -> None:
        if event.done in (max(2, count // 10), count + 1):
            memory.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)

    with executor_of(kind, workers) as executor, tempfile.TemporaryDirectory() as folder:
        timing = None if executor is None else Timing(executor, workers)
        if executor is not None:
            executor.submit(int, "1").result()  # started before it is timed
        began = time.perf_counter()
        result = study.run(timing, store=Path(folder), on_progress=note)
        total = time.perf_counter() - began
        bytes_stored = sum(path.stat().st_size for path in Path(folder).iterdir())
    return {
        "plain": plain,
        "stated": stated,
        "total": total,
        "solved": len({id(outcome.answer) for outcome in result}),
        "without": len(result.without_plan),
        "changed": int((result.frame()["links_changed"] > 0).sum()),
        "memory": memory,
        "stored": bytes_stored / 1e6,
        "overhead": None if timing is None else total * workers / timing.seconds - 1,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description="What a what-if study costs.")
    parser.add_argument("--links", type=int, default=500)
    parser.add_argument("--parts", type=int, default=40)
    parser.add_argument("--variants", type=int, default=100)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--executor", nargs="+", default=list(KINDS), choices=KINDS)
    asked = parser.parse_args()
    print(machine())
    for kind in asked.executor:
        row = apart(measure, asked.links, asked.parts, asked.variants, kind, asked.workers, limit_s=3600)
        size = f"{asked.links} x {asked.parts}, {asked.variants} variants, {kind}"
        if "cut" in row:
            print(f"{size:<44} {row['cut']}", flush=True)
            continue
        workers = 1 if kind == "none" else asked.workers
        each = row["total"] / row["solved"]
        overhead = "" if row["overhead"] is None else f"  overhead {row['overhead'] * 100:.0f} %"
        print(
            f"{size:<44} stated {row['stated']:.2f} s  total {row['total']:7.2f} s  plain {row['plain']:.3f} s  variant {each * workers:.3f} s "
            f"({each * workers / row['plain'] * 100:.0f} % of plain)  MB {' to '.join(f'{value:.0f}' for value in row['memory'])}  "
            f"stored {row['stored']:.1f} MB  solved {row['solved']}, changed {row['changed']}, without a plan {row['without']}{overhead}",
            flush=True,
        )


if __name__ == "__main__":
    main()
