"""A study: one case and its variants, solved on any executor, each to an outcome."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from optiselect.errors import DocumentError, Fault, OptiselectError
from optiselect.model.fingerprint import hash_of
from optiselect.study.answer import Answer, Status, answer_of
from optiselect.study.case import Case
from optiselect.study.dispatch import dispatched
from optiselect.study.result import Outcome, StudyResult
from optiselect.study.store import Store
from optiselect.study.variants import BASE, Edits, Variant, faults_of_variants, variants_of
from optiselect.study.worker import Shipment
from optiselect.study.workers import crosses


@dataclass(frozen=True)
class StudyProgress:
    """One variant is done.

    Attributes:
        done, total: variants that are done and variants in all, the base among them.
        variant: its name; status: of its outcome.
        elapsed_s: seconds since the run began.
    """

    done: int
    total: int
    variant: str
    status: Status
    elapsed_s: float


class Study:
    """What if: a case, and the same case with edits.

    Args:
        base: network, catalog and policy to start from.
        variants: `Variant`s, or edits by name (``{"3 dB in reserve": {"policy.repair_allowance_db": 3}}``).
        axes: a product of axes, added to the variants (see `Variant.product`).

    Raises:
        DocumentError: when a variant cannot be applied to the base; it lists the faults of all variants.
    """

    def __init__(
        self,
        base: Case,
        variants: Iterable[Variant] | Mapping[str, Edits] = (),
        *,
        axes: Mapping[str, Sequence[Any] | Mapping[str, Edits]] | None = None,
    ) -> None:
        self.base = base
        self.variants = (*variants_of(variants), *(Variant.product(axes) if axes else ()))
        faults = list(faults_of_variants(self.variants))
        known = base.texts()
        self._base_hashes = base.hashes(known)
        self._hashes: list[Mapping[str, str]] = []
        for variant in self.variants:
            try:
                self._hashes.append(variant.applied_to(base).hashes(known))
            except DocumentError as error:
                faults += [Fault(f"{variant.name!r} {fault.path}", fault.message) for fault in error.faults]
        if faults:
            raise DocumentError(faults, "study")

    def run(
        self,
        executor: Executor | None = None,
        *,
        store: str | Path | None = None,
        on_progress: Callable[[StudyProgress], object] | None = None,
    ) -> StudyResult:
        """Solve the base and every variant.

        Args:
            executor: any executor of `concurrent.futures`: threads, processes, or a cluster that offers one. It is neither resized nor shut
                down here, but for a pool that waits for a process which was killed: what that had not answered is solved in processes of
                our own. None: one variant after another in this thread.
            store: a folder that keeps every answer as soon as it is there; a second run solves only what is missing.
            on_progress: called in this thread for each variant that is done.

        Returns:
            An outcome for every variant in the order given, the base first; a variant that fails is an outcome too. Equal variants are
            solved once. The result does not depend on the executor.

        Raises:
            OptiselectError: when rules of the user's own would have to cross to another process or into a store, or the store cannot be written.
        """
        self._refuse_own_rules(executor, store)
        began = time.monotonic()
        kept = Store(store) if store is not None else None
        total = len(self.variants) + 1
        done = 0

        def tell(names: Sequence[str], answer: Answer) -> None:
            nonlocal done
            for name in names:
                done += 1
                if on_progress is not None:
                    on_progress(StudyProgress(done, total, name, answer.status, time.monotonic() - began))

        base_key = _key(self._base_hashes)
        base_answer = kept.read(base_key) if kept else None
        if base_answer is None:
            base_answer = self._base_answer(executor)
            if kept:
                kept.write(base_key, base_answer)
        base_plan = base_answer.plan(None)
        beside = hash_of(base_plan) if base_plan is not None else ""
        keys = [base_key if hashes == self._base_hashes else _key(hashes, beside) for hashes in self._hashes]
        names: dict[str, list[str]] = {base_key: [BASE]}
        first: dict[str, Variant] = {}
        for key, variant in zip(keys, self.variants, strict=True):
            names.setdefault(key, []).append(variant.name)
            first.setdefault(key, variant)
        answers = {base_key: base_answer}
        tell(names[base_key], base_answer)
        for key in [key for key in first if key != base_key]:
            found = kept.read(key) if kept else None
            if found is not None:
                answers[key] = found
                tell(names[key], found)
        tasks = [(key, variant) for key, variant in first.items() if key not in answers]
        shipment = Shipment.of(_key(self._base_hashes, beside), self.base, base_plan, crosses=crosses(executor))
        for key, answer in dispatched(executor, shipment, tasks) if tasks else ():
            answers[key] = answer
            if kept:
                kept.write(key, answer)
            tell(names[key], answer)
        outcomes = [Outcome(Variant(name=BASE), base_answer, base_plan)]
        outcomes += [Outcome(variant, answers[key], base_plan) for key, variant in zip(keys, self.variants, strict=True)]
        return StudyResult(tuple(outcomes), self.base.catalog.currency)

    def _base_answer(self, executor: Executor | None) -> Answer:
        alone = Shipment.of(_key(self._base_hashes), self.base, None, crosses=crosses(executor))
        ((_, answer),) = dispatched(executor, alone, [("", Variant(name=BASE))])
        plan = answer.plan(None)
        return answer_of(plan, plan, is_base=True) if plan is not None else answer

    def _refuse_own_rules(self, executor: Executor | None, store: str | Path | None) -> None:
        if self.base.policy.rules and (store is not None or crosses(executor)):
            raise OptiselectError(
                "rules of your own are Python: they cross to no other process and no store tells them apart; run the study without a store, here or in threads"
            )


def _key(hashes: Mapping[str, str], beside: str = "") -> str:
    """The key of an answer: which documents it was made from, by which version of the library, `beside` the plan of the base of that hash."""
    return hashlib.sha256(json.dumps([_version(), sorted(hashes.items()), beside]).encode()).hexdigest()


def _version() -> str:
    try:
        return version("optiselect")
    except PackageNotFoundError:
        import optiselect

        return optiselect.__version__
