"""Put small faults into the library and see whether its tests notice; by hand, `python -m tests.mutation.run --every 5`.

The tests are collected once, and run once as they are: they must pass, and the quick ones are asked first. Each fault is put into a fork of
that process, which runs them until one fails. The test that noticed a fault is the first to be asked of the next, which is mostly one of the
same lines. A fault that no test notices is printed; those that cannot matter are in `survivors.yaml`, each with its reason, and count as
neither noticed nor missed.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import signal
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
import yaml

from tests.mutation.mutants import Mutant, mutants_of, put_in

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SUITES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "optics": (("optics/*.py",), ("tests/optics", "tests/published", "tests/rules/test_light.py", "tests/rules/test_distance.py")),
    "rules": (("rules/*.py",), ("tests/rules", "tests/published", "tests/solver/test_audit.py", "tests/handover/test_wording.py")),
    "checker": (
        ("solver/audit.py", "solver/alike.py", "solver/appraise.py", "solver/named.py"),
        (
            "tests/solver/test_audit.py",
            "tests/solver/test_appraise.py",
            "tests/solver/test_edited_plans.py",
            "tests/solver/test_alike.py",
            "tests/solver/test_outermost.py",
            "tests/solver/test_demo.py",
        ),
    ),
    "choice": (
        tuple(f"solver/{name}.py" for name in ("short_stock", "same_parts", "let_go", "charged", "chosen", "port_places")),
        (
            "tests/solver/test_short_stock_enumerated.py",
            "tests/solver/test_short_stock.py",
            "tests/solver/test_answers.py",
            "tests/solver/test_same_parts.py",
            "tests/solver/test_port_places.py",
            "tests/solver/test_let_go_by_hand.py",
            "tests/solver/test_let_go.py",
            "tests/solver/test_cut_short.py",
        ),
    ),
    "clusters": (
        tuple(f"solver/{name}.py" for name in ("joined", "clusters", "joint", "lines")),
        ("tests/solver/test_joint.py", "tests/solver/test_joined.py", "tests/solver/test_dominance.py", "tests/solver/test_clusters.py"),
    ),
    "following": (
        tuple(f"solver/{name}.py" for name in ("known", "revised", "links_at", "checked", "assemble", "ports")),
        (
            "tests/solver/test_links_at.py",
            "tests/solver/test_checked.py",
            "tests/solver/test_notes.py",
            "tests/solver/test_known.py",
            "tests/solver/test_revised.py",
            "tests/solver/test_demo.py",
            "tests/golden/test_golden_documents.py",
        ),
    ),
    "engine": (
        ("solver/cpsat_model.py", "solver/cpsat.py"),
        ("tests/solver/test_cpsat_model.py", "tests/solver/test_cpsat.py"),
    ),
    "lists": (
        tuple(f"solver/{name}.py" for name in ("by_part_lists", "part_lists", "part_list_walk", "possible_parts", "share_tables", "shares", "dominance")),
        (
            "tests/solver/test_part_lists.py",
            "tests/solver/test_part_lists_cut.py",
            "tests/solver/test_dominance.py",
            "tests/solver/test_clusters.py",
            "tests/solver/test_short_stock.py",
        ),
    ),
}
"""What is changed, and by which tests it should be noticed."""
NOT_CODE = ("rules/examples.py", "/__init__.py")
LEAST_SECONDS, TIMES = 45.0, 3.0
"""Of the processor, not of the clock: a busy machine must not end a fork whose tests have noticed nothing yet; nor may tests that are many."""
SLOW = "not many_links_and_pairs_at_once and not usual-4 and not single-strand-4"
"""Tests that compare bulk figures with single ones, or lists with all lists, at length, are for what they compare."""


class Trial:
    """A pytest plugin that, instead of running the tests once, runs them once for each mutant."""

    def __init__(self, mutants: list[Mutant]) -> None:
        self.mutants = mutants
        self.survived: list[Mutant] = []
        self.outcomes: Counter[str] = Counter()
        self.gone: set[str] = set()
        """What `survivors.yaml` explains though the code has no such place any more."""
        self._seconds = LEAST_SECONDS

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Fork once for the code as it is, then for each mutant."""
        took = self._as_it_is(session)
        self._seconds = max(LEAST_SECONDS, TIMES * sum(took))
        order = sorted(range(len(took)), key=took.__getitem__)
        session.items[:] = [session.items[index] for index in order]
        for mutant in self.mutants:
            outcome = self._tried(session, mutant)
            self.outcomes[outcome] += 1
            if outcome == "survived":
                self.survived.append(mutant)
                sys.stderr.write(f"{mutant}\n")
                sys.stderr.flush()
        return True

    def _as_it_is(self, session: pytest.Session) -> list[float]:
        """The seconds of the processor that each test takes.

        Raises:
            pytest.UsageError: where one fails though nothing was changed.
        """
        told, tell = os.pipe()
        child = os.fork()
        if not child:
            try:
                os.write(tell, json.dumps([round(self._took(session, index), 3) for index in range(len(session.items))]).encode())
            finally:
                os._exit(1 if session.testsfailed else 0)
        os.close(tell)
        with os.fdopen(told) as said:
            took: list[float] = json.load(said)
        if os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]):
            raise pytest.UsageError("a test fails though nothing was changed")
        return took

    def _took(self, session: pytest.Session, index: int) -> float:
        began = time.process_time()
        _run(session, index)
        return time.process_time() - began

    def _tried(self, session: pytest.Session, mutant: Mutant) -> str:
        told, tell = os.pipe()
        child = os.fork()
        if not child:
            signal.setitimer(signal.ITIMER_PROF, self._seconds)
            try:
                os._exit(self._noticed(session, mutant, tell))
            finally:
                os._exit(3)
        os.close(tell)
        with os.fdopen(told) as said:
            noticed_by = said.read()
        _, status = os.waitpid(child, 0)
        code = os.waitstatus_to_exitcode(status)
        if noticed_by:
            session.items.insert(0, session.items.pop(int(noticed_by)))
        return {0: "survived", 2: "not reached", 3: "not put in"}.get(code, "noticed")  # a fork that hangs or dies is noticed as well

    def _noticed(self, session: pytest.Session, mutant: Mutant, tell: int) -> int:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        if not put_in(mutant):
            return 2
        for index in range(len(session.items)):
            _run(session, index)
            if session.testsfailed:
                os.write(tell, str(index).encode())
                return 1
        return 0


def _run(session: pytest.Session, index: int) -> None:
    """One test, with nothing of what the rest have in common put away."""
    item, following = session.items[index], session.items[index + 1] if index + 1 < len(session.items) else None
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)


def tried(suite: str, every: int, start: int, only: str, known: set[str], again: str | None) -> Trial:
    """One suite, with every so manieth mutant; `again`: only those that an earlier run printed."""
    patterns, tests = SUITES[suite]
    paths = [path for pattern in patterns for path in sorted((ROOT / "optiselect").glob(pattern)) if not path.as_posix().endswith(NOT_CODE)]
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in paths]
    modules = [importlib.import_module(name) for name in names if only in name]
    every_one = [mutant for module in modules for mutant in mutants_of(module)]
    mutants = [mutant for mutant in every_one if mutant.name not in known][start::every]
    if again is not None:
        survived = {line.partition(": ")[2] for line in again.splitlines()}
        mutants = [mutant for mutant in mutants if mutant.name in survived]
    trial = Trial(mutants)
    trial.gone = {name for name in known if name.split()[0] in {module.__name__ for module in modules}} - {mutant.name for mutant in every_one}
    arguments = [path for path in tests if (ROOT / path).exists()]
    pytest.main(
        ["-o", "addopts=--import-mode=importlib", "-p", "no:terminal", "-p", "no:cacheprovider", "-p", "no:xdist", "-k", SLOW, *arguments], plugins=[trial]
    )
    return trial


def main() -> None:
    """Try the suites that are asked for and print what survived and the score."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("suites", nargs="*", default=list(SUITES))
    options.add_argument("--every", type=int, default=1, help="try every so manieth mutant")
    options.add_argument("--start", type=int, default=0)
    options.add_argument("--only", default="", help="modules whose name holds this")
    options.add_argument("--again", type=Path, help="what an earlier run printed: try only the faults that no test noticed then")
    asked = options.parse_args()
    again = asked.again.read_text(encoding="utf-8") if asked.again is not None else None
    known = {entry["mutant"] for entry in yaml.safe_load((HERE / "survivors.yaml").read_text(encoding="utf-8")) or ()}
    for suite in asked.suites:
        trial = tried(suite, asked.every, asked.start, asked.only, known, again)
        noticed, survived = trial.outcomes["noticed"], trial.outcomes["survived"]
        score = 100 * noticed / max(noticed + survived, 1)
        rest = f"{trial.outcomes['not reached']} not reached, {trial.outcomes['not put in']} not put in"
        sys.stderr.writelines(f"no longer there: {name}\n" for name in sorted(trial.gone))
        sys.stderr.write(f"{suite}: {noticed} of {noticed + survived} noticed, {score:.1f} %; {rest}\n")


if __name__ == "__main__":
    main()
