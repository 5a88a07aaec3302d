"""What solving one case gave: figures, what differs from the base, and the plan as the little that differs."""

from __future__ import annotations

import json
import zlib
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from pydantic import TypeAdapter

from optiselect.model.plan import Plan
from optiselect.study.comparison import Comparison, compare

Status = Literal["optimal", "feasible", "failed", "lost"]


@dataclass(frozen=True)
class Answer:
    """The outcome of one case; equal variants share it.

    Attributes:
        status: of the plan; ``failed`` when the library raised, ``lost`` when no worker lived to answer.
        error: what went wrong, "" when a plan is there.
        reproducible: False when the clock cut the plan.
        values: (objective, value, best that is still possible), in order.
        served: how many links are served; unserved: (link, kind) of the others.
        least_margin_db: over all directions of all links, with its link; None when none is known.
        comparison: against the plan of the base; None where one of the two has no plan.
        plan_json: the plan, or what differs from that of the base, as compressed JSON; empty when there is none.
        is_whole: whether that is the whole plan.
    """

    status: Status
    error: str = ""
    reproducible: bool = True
    values: tuple[tuple[str, float, float], ...] = ()
    served: int = 0
    unserved: tuple[tuple[str, str], ...] = ()
    least_margin_db: float | None = None
    least_margin_link: str = ""
    comparison: Comparison | None = None
    plan_json: bytes = field(default=b"", repr=False)
    is_whole: bool = True

    def plan(self, base: Plan | None) -> Plan | None:
        """The plan, given that of the base."""
        if not self.plan_json:
            return None
        told = json.loads(zlib.decompress(self.plan_json))
        return Plan(**told) if self.is_whole else _completed(told, base)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON values, from which `from_json` makes an equal answer."""
        told: dict[str, Any] = _ADAPTER.dump_python(self, mode="json", exclude={"plan_json"})
        return told | {"plan": json.loads(zlib.decompress(self.plan_json)) if self.plan_json else None}

    @classmethod
    def from_json(cls, told: dict[str, Any]) -> Answer:
        """Read what `to_json` gave.

        Raises:
            ValueError: when it is something else.
        """
        told = dict(told)
        plan = told.pop("plan")
        return replace(_ADAPTER.validate_python(told), plan_json=_packed(plan) if plan is not None else b"")


_ADAPTER = TypeAdapter(Answer)


def answer_of(plan: Plan, base: Plan | None, *, is_base: bool = False) -> Answer:
    """The answer that a plan is, beside the plan of the base (None: the base has none)."""
    margins = [(way.margin_db, link.id) for link in plan.links for way in link.directions if way.margin_db is not None]
    least = min(margins, default=None)
    whole = base is None or is_base
    return Answer(
        status=plan.status,
        reproducible=plan.reproducible,
        values=tuple((value.name, value.value, value.bound) for value in plan.objective),
        served=len(plan.links),
        unserved=tuple((entry.id, entry.kind) for entry in plan.unserved),
        least_margin_db=least[0] if least else None,
        least_margin_link=least[1] if least else "",
        comparison=compare(base, plan) if base is not None else None,
        plan_json=_packed(plan.model_dump(mode="json", by_alias=True) if base is None or is_base else _difference(plan, base)),
        is_whole=whole,
    )


def failure(error: BaseException, status: Literal["failed", "lost"] = "failed") -> Answer:
    """The answer of a case that could not be solved."""
    return Answer(status, f"{type(error).__name__}: {error}")


def _difference(plan: Plan, base: Plan) -> dict[str, Any]:
    """The keys of a plan that are not as in the base; of its links those that are not, None for those that are gone."""
    differs = {name for name in type(plan).model_fields if name != "links" and getattr(plan, name) != getattr(base, name)}
    told: dict[str, Any] = plan.model_dump(mode="json", by_alias=True, include=differs)
    before = {link.id: link for link in base.links}
    links: dict[str, Any] = {link.id: link.model_dump(mode="json", by_alias=True) for link in plan.links if before.get(link.id) != link}
    links |= dict.fromkeys(before.keys() - {link.id for link in plan.links})
    return told | {"links": links}


def _completed(told: dict[str, Any], base: Plan | None) -> Plan:
    assert base is not None  # what is told is told against it
    links: dict[str, Any] = {link.id: link for link in base.links} | told["links"]
    kept = {name: getattr(base, name) for name in type(base).model_fields if name not in ("links", "format_")}
    return Plan(**kept | told | {"links": [links[name] for name in sorted(links) if links[name] is not None]})


def _packed(told: Any) -> bytes:
    return zlib.compress(json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode())
