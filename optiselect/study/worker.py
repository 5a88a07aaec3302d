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
from optiselect.study.answer import Answer, answer_of, failure
from optiselect.study.case import Case
from optiselect.study.follower import Follower
from optiselect.study.variants import Variant

Task = tuple[str, Variant]
"""A key and the variant that it stands for."""
_MOST_KEPT = 4
_kept: OrderedDict[str, tuple[Case, Plan | None]] = OrderedDict()
_followers: OrderedDict[str, Follower] = OrderedDict()
_lock = threading.Lock()


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

    def follower(self) -> Follower:
        """What solves variants of the base, made once in a process."""
        case, plan = self.opened()
        with _lock:
            if self.key not in _followers:
                _followers[self.key] = Follower(case, plan)
                while len(_followers) > _MOST_KEPT:
                    _followers.popitem(last=False)
            return _followers[self.key]


def answer_all(shipment: Shipment, tasks: tuple[Task, ...]) -> list[tuple[str, Answer]]:
    """Solve several variants one after another."""
    case, plan = shipment.opened()
    return [(key, answered(variant, case, plan, shipment.follower().plan_of)) for key, variant in tasks]


def answered(variant: Variant, base: Case, plan: Plan | None, solver: Callable[[Case], Plan]) -> Answer:
    """The answer of one variant, whatever happens to it."""
    try:
        return answer_of(solver(variant.applied_to(base)), plan)
    except Exception as error:  # a failed variant is an outcome, and the others go on
        return failure(error)
