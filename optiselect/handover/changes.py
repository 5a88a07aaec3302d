"""What differs between two plans of one site, link by link."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optiselect.handover.wording import fitted_text
from optiselect.model.plan import Plan, PlannedLink


@dataclass(frozen=True)
class Change:
    """One difference. `what`: what it is about; `before` and `after`: in words, with the unit."""

    link: str
    what: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.link}: {self.what}: {self.before} -> {self.after}"


def changes_between(before: Plan, after: Plan) -> tuple[Change, ...]:
    """Every link whose service, rate, path, fittings or least margin differ, by id; then the sum of the order."""
    old, new = ({link.id: link for link in plan.links} for plan in (before, after))
    found = [change for link_id in sorted({*old, *new}) for change in _of_link(link_id, old.get(link_id), new.get(link_id))]
    sums = [round(sum(line.total for line in plan.parts), 2) for plan in (before, after)]
    if sums[0] != sums[1]:
        money = f" {after.currency}".rstrip()
        found.append(Change("whole plan", "order", f"{sums[0]:,.2f}{money}", f"{sums[1]:,.2f}{money}"))
    return tuple(found)


def _of_link(link_id: str, old: PlannedLink | None, new: PlannedLink | None) -> Iterator[Change]:
    if old is None or new is None:
        yield Change(link_id, "service", "served" if old else "not served", "served" if new else "not served")
        return
    if old.rate != new.rate:
        yield Change(link_id, "rate", old.rate, new.rate)
    if old.over != new.over:
        yield Change(link_id, "path", ", ".join(old.over), ", ".join(new.over))
    for one, two in zip(old.ends, new.ends, strict=True):
        if one != two:
            yield Change(link_id, f"{one.device}/{one.port}", fitted_text(one), f"{two.device}/{two.port} {fitted_text(two)}")
    if _least(old) != _least(new):
        yield Change(link_id, "least margin", _said(_least(old)), _said(_least(new)))


def _least(link: PlannedLink) -> float | None:
    margins = [way.margin_db for way in link.directions]
    known = [margin for margin in margins if margin is not None]
    return min(known) if known and len(known) == len(margins) else None


def _said(margin_db: float | None) -> str:
    return "unknown" if margin_db is None else f"{margin_db:.2f} dB"
