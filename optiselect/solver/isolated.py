"""A solve in a child process that is killed when it does not keep its limits: for servers, where one job must not end another.

Only documents cross the border, as JSON lines: in go network, catalog and policy, then a line when the caller cancels; out
come progress events, a first plan before anything is searched, then the plan, or an error of ours. Of a child that crashes
or is killed the first plan is left, which was checked and says that nothing is proven.
"""

from __future__ import annotations

import contextlib
import gc
import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import IO, Any

from optiselect import errors
from optiselect.errors import OptiselectError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.progress import OWN_PROCESS, CancelSignal, Progress

GRACE_S = 2.0
"""How long after its time limit a child may still hand over its plan before it is killed."""
ENDED_EARLY = "the solve was ended from outside before it was done; this is the last plan that was checked"
"""The note of a plan that is left of a child which did not come to its end."""
_POLL_S = 0.05
_MEMORY = Path("/proc/self/statm")


def solve_isolated(
    network: Network,
    catalog: Catalog,
    policy: Policy,
    on_progress: Callable[[Progress], object] | None,
    cancel: CancelSignal | Callable[[], bool] | None,
    *,
    bare: bool = False,
    memory_limit_mb: float | None = None,
) -> Plan | None:
    """Solve in a child process; None when it was killed or ended without a plan.

    `bare`: as `solve_bare`, without the reasons, and without a plan before the search.

    Raises:
        OptiselectError: when the policy carries rules of the user's own, which cannot cross to another process, or when this system keeps no
            limit of memory; what the child raises, too.
    """
    if policy.rules:
        raise OptiselectError("rules of your own are Python and cannot cross to another process; solve without isolate")
    if memory_limit_mb is not None and not _MEMORY.exists():
        raise OptiselectError("this system keeps no limit of memory for one process (Linux does); solve without memory_limit_mb")
    child = subprocess.Popen([sys.executable, "-m", "optiselect.solver.isolated"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert child.stdin and child.stdout  # both are pipes
    given = threading.Event()
    watchdog = threading.Thread(target=_watch, args=(child, child.stdin, given, policy.time_limit_s + GRACE_S, cancel), daemon=True)
    last: dict[str, Any] = {}
    stated = [document.model_dump(mode="json", exclude_unset=True, by_alias=True) for document in (network, catalog, policy)]
    try:
        watchdog.start()
        _send(child.stdin, [*stated, bare, memory_limit_mb])
        given.set()
        for line in child.stdout:
            said = json.loads(line)
            if "error" in said:
                raise _error(*said["error"])
            if "plan" in said:
                last = said
            elif on_progress is not None:
                on_progress(Progress(**said["progress"]))
    except (BrokenPipeError, json.JSONDecodeError):
        pass  # the child ended in the middle of a line; what it had handed over before stands
    finally:
        child.kill()
        child.wait()
        watchdog.join()
        for pipe in (child.stdout, child.stdin):
            with contextlib.suppress(BrokenPipeError):
                pipe.close()
    if not last:
        return None
    plan = Plan(**last["plan"])
    return plan if last["done"] else plan.model_copy(update={"notes": (*plan.notes, ENDED_EARLY)})


def _error(name: str, given: list[Any]) -> OptiselectError:
    """An error of ours, as the child raised it."""
    kind = getattr(errors, name, OptiselectError)
    return kind(*given) if isinstance(kind, type) and issubclass(kind, OptiselectError) else OptiselectError(*given)


def _send(to: IO[str], value: Any) -> None:
    to.write(json.dumps(value) + "\n")
    to.flush()


def _watch(child: subprocess.Popen[str], to: IO[str], given: threading.Event, limit_s: float, cancel: CancelSignal | Callable[[], bool] | None) -> None:
    """Pass the caller's cancel on, once the documents are `given`, and kill the child at the limit."""
    waited, told = 0.0, False
    while child.poll() is None:
        try:
            child.wait(_POLL_S)
        except subprocess.TimeoutExpired:
            waited += _POLL_S
        if not told and given.is_set() and cancel is not None and (cancel() if callable(cancel) else cancel.is_set()):
            told = True
            limit_s = min(limit_s, waited + GRACE_S)
            try:
                _send(to, "cancel")
            except (BrokenPipeError, ValueError):
                return
        if waited >= limit_s:
            child.kill()
            return


def _child(given: Iterator[str], out: IO[str]) -> None:
    """The other side: read the documents, solve, tell."""
    *stated, bare, memory_limit_mb = json.loads(next(given))
    stop = threading.Event()

    def listen() -> None:
        if any(True for _ in given):
            stop.set()

    threading.Thread(target=listen, daemon=True).start()
    try:
        if memory_limit_mb is not None:
            _keep_within(memory_limit_mb)
        _solve(Network(**stated[0]), Catalog(**stated[1]), Policy(**stated[2]), stop, out, bare=bare)
    except OptiselectError as error:
        arguments = error.__reduce__()[1]
        _send(out, {"error": [type(error).__name__, json.loads(json.dumps(arguments, default=str))]})
    except MemoryError:
        sys.exit(1)  # the parent has the plan that was handed over before


def _solve(network: Network, catalog: Catalog, policy: Policy, stop: threading.Event, out: IO[str], *, bare: bool) -> None:
    from optiselect.explain.refusals import explained  # as in `solve`: the reasons come last, from a layer above
    from optiselect.solver.solve import solve_bare

    def hand_over(plan: Plan, *, done: bool = False) -> None:
        _send(out, {"plan": plan.model_dump(mode="json", by_alias=True), "done": done})

    def tell(event: Progress) -> None:
        _send(out, {"progress": asdict(event)})

    def hand_over_first(plan: Plan) -> None:
        hand_over(explained(plan, network, catalog, policy, lambda: True))

    plan = solve_bare(network, catalog, policy, cancel=stop, on_progress=tell, on_first_plan=None if bare else hand_over_first)
    hand_over(plan, done=True)
    if not bare and plan.unserved:  # a child that is killed over the reasons has handed the plan over already
        hand_over(explained(plan, network, catalog, policy), done=True)


def _keep_within(limit_mb: float) -> None:
    """Let this process grow so far that it takes no more memory than this; what its libraries only reserve is not counted."""
    import resource

    from ortools.sat.python import cp_model_helper  # noqa: F401 - loaded before, so that what it reserves is known

    size, resident = (int(pages) * resource.getpagesize() for pages in _MEMORY.read_text(encoding="ascii").split()[:2])
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = size + max(0, int(limit_mb * 1024 * 1024) - resident)
    most = most if hard == resource.RLIM_INFINITY else min(most, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


if __name__ == "__main__":
    gc.set_threshold(*OWN_PROCESS)
    _child(iter(sys.stdin), sys.stdout)
