"""What a worker does: read the base once, then solve variants of it, each to an answer.

Only documents cross the border between processes, compressed and once for several variants; a worker keeps the bases that
it read last. A variant that goes wrong is an answer too.
"""

from __future__ import annotations

import json
import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.solve import solve_bare
from optiselect.solver.tightened import Proven
from optiselect.study.answer import Answer, answer_of, failure
from optiselect.study.case import Case
from optiselect.study.variants import Variant

Task = tuple[str, Variant]
"""A key and the variant that it stands for."""
_MOST_KEPT = 4
_kept: OrderedDict[str, tuple[Case, Plan | None]] = OrderedDict()
_proven: OrderedDict[str, Proven] = OrderedDict()
_lock = threading.Lock()


def solved(case: Case, proven: Proven | None) -> Plan:
    """The plan of a variant, without reasons (`explain` gives them): as it follows from that of the base, or by a solve."""
    follows = proven.tightened(case.network, case.catalog, case.policy) if proven is not None else None
    return follows or solve_bare(case.network, case.catalog, case.policy)


@dataclass(frozen=True)
class Shipment:
    """The base of a study on its way to the workers.

    Attributes:
        key: tells bases apart.
        packed: the documents and the plan as compressed JSON; None where the values themselves are at hand.
        values: the base and its plan, in the process where they are.
    """

    key: str
    packed: bytes | None = None
    values: tuple[Case, Plan | None] | None = None

    @classmethod
    def of(cls, key: str, case: Case, plan: Plan | None, *, crosses: bool) -> Shipment:
        """Pack a base, or keep it as it is where it does not cross to another process."""
        if not crosses:
            return cls(key, values=(case, plan))
        stated: list[Any] = [document.stated() for document in (case.network, case.catalog, case.policy)]
        stated.append(plan.model_dump(mode="json", by_alias=True) if plan is not None else None)
        return cls(key, packed=zlib.compress(json.dumps(stated, ensure_ascii=False, separators=(",", ":")).encode()))

    def opened(self) -> tuple[Case, Plan | None]:
        """The base and its plan, read once in a process."""
        if self.values is not None:
            return self.values
        with _lock:
            if self.key not in _kept:
                assert self.packed is not None  # what has no values is packed
                network, catalog, policy, plan = json.loads(zlib.decompress(self.packed))
                _kept[self.key] = (Case(Network(**network), Catalog(**catalog), Policy(**policy)), Plan(**plan) if plan is not None else None)
                while len(_kept) > _MOST_KEPT:
                    _kept.popitem(last=False)
            _kept.move_to_end(self.key)
            return _kept[self.key]

    def proven(self) -> Proven | None:
        """What follows from the plan of the base, worked out once in a process; None where it has no plan."""
        case, plan = self.opened()
        if plan is None:
            return None
        with _lock:
            if self.key not in _proven:
                _proven[self.key] = Proven(case.network, case.catalog, case.policy, plan)
                while len(_proven) > _MOST_KEPT:
                    _proven.popitem(last=False)
            return _proven[self.key]


def answer_all(shipment: Shipment, tasks: tuple[Task, ...]) -> list[tuple[str, Answer]]:
    """Solve several variants one after another."""
    case, plan = shipment.opened()
    proven = shipment.proven()
    return [(key, answered(variant, case, plan, lambda changed: solved(changed, proven))) for key, variant in tasks]


def answered(variant: Variant, base: Case, plan: Plan | None, solver: Callable[[Case], Plan]) -> Answer:
    """The answer of one variant, whatever happens to it."""
    try:
        return answer_of(solver(variant.applied_to(base)), plan)
    except Exception as error:  # a failed variant is an outcome, and the others go on
        return failure(error)
