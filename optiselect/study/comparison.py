"""The difference of two plans: which links change and how, what to buy more or less, what each objective came to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass, fields
from typing import TYPE_CHECKING, Any, Literal

from optiselect.errors import UnknownNameError
from optiselect.model.plan import Plan, PlannedEnd, PlannedLink
from optiselect.model.terms import OBJECTIVE_IN_WORDS

if TYPE_CHECKING:
    import pandas

What = Literal["lost", "gained", "dropped", "added", "rate", "over", "fitted", "port"]
_MOST_LINES = 20


@dataclass(frozen=True)
class LinkChange:
    """One thing that differs at a link.

    Attributes:
        what: ``lost`` (served only before), ``gained`` (served only after), ``dropped`` and ``added`` (asked for only before, only after);
            else the ``rate``, the runs that it goes ``over``, what is ``fitted`` at one end, or only the ``port`` there.
        at: the device of the end; "" where it is not about an end.
        before, after: in words; "" for nothing.
    """

    link: str
    what: What
    at: str = ""
    before: str = ""
    after: str = ""

    def __str__(self) -> str:
        match self.what:
            case "lost":
                return f"{self.link}: no longer served ({self.after})"
            case "gained":
                return f"{self.link}: served now, {self.after}"
            case "dropped":
                return f"{self.link}: not asked for any more"
            case "added":
                return f"{self.link}: asked for now, {self.after}"
            case "over":
                return f"{self.link}: over {self.after} in place of {self.before}"
            case "rate":
                return f"{self.link}: runs {self.after} in place of {self.before}"
            case "fitted" | "port":  # pragma: no branch - the last of all kinds
                return f"{self.link} at {self.at}: {self.after} in place of {self.before}"


@dataclass(frozen=True)
class PartChange:
    """A part of which more or less is used or bought; units, and totals in the currency of the plans."""

    part: str
    kind: str
    used_before: int
    used_after: int
    order_before: int
    order_after: int
    total_before: float
    total_after: float


@dataclass(frozen=True)
class ValueChange:
    """An objective in both plans; None where one does not have it. Cost in the currency of the plans, the rest counted."""

    name: str
    before: float | None
    after: float | None


@dataclass(frozen=True)
class Comparison:
    """What differs between two plans.

    Attributes:
        values: every objective of either plan, also those that are equal.
        links: by link; parts: by part number; both only what differs.
    """

    values: tuple[ValueChange, ...] = ()
    links: tuple[LinkChange, ...] = ()
    parts: tuple[PartChange, ...] = ()
    currency: str = ""

    @property
    def is_same(self) -> bool:
        """Whether the same is served, fitted and bought, at the same ports."""
        return not self.links and not self.parts

    @property
    def is_same_but_for_ports(self) -> bool:
        """Whether the same is served, fitted and bought; a link may have moved to another port that is as good."""
        return not self.parts and all(change.what == "port" for change in self.links)

    def links_that(self, what: What) -> tuple[str, ...]:
        """The ids of the links that are ``lost``, ``gained``, ..., each once."""
        return tuple(dict.fromkeys(change.link for change in self.links if change.what == what))

    def text(self) -> str:
        """The difference in words."""
        if self.is_same:
            return "The same parts at the same ports."
        lines = [line for what in ("lost", "gained", "dropped", "added") for line in self._counted(what)]
        values = [said for change in self.values if (said := self._value(change))]
        lines += [f"{'; '.join(values)}."] if values else []
        bought = [said for change in self.parts if (said := _bought(change))]
        lines += [f"To buy: {', '.join(bought)}."] if bought else []
        moved = self.links_that("port")
        lines += [f"{_links_said(moved)} in another port."] if moved else []
        told = [f"  {change}" for change in sorted(self.links, key=lambda change: change.what == "port")]
        return "\n".join([*lines, *told[:_MOST_LINES], *([f"  and {len(told) - _MOST_LINES} more"] if len(told) > _MOST_LINES else [])])

    def frame(self, table: Literal["links", "parts", "values"] = "links") -> pandas.DataFrame:
        """One of the three lists as a tidy pandas frame.

        Raises:
            UnknownNameError: when there is no table of that name.
        """
        kinds: dict[str, type[Any]] = {"links": LinkChange, "parts": PartChange, "values": ValueChange}
        if table not in kinds:
            raise UnknownNameError(f"a comparison has no table {table!r}; there are {', '.join(kinds)}")
        import pandas

        frame = pandas.DataFrame([astuple(row) for row in getattr(self, table)], columns=[field.name for field in fields(kinds[table])])
        return frame.assign(currency=self.currency) if table == "parts" else frame

    def _repr_html_(self) -> str:
        from html import escape

        return f"<pre>{escape(self.text())}</pre>"

    def _counted(self, what: Literal["lost", "gained", "dropped", "added"]) -> Iterator[str]:
        words = {"lost": "no longer served", "gained": "served now", "dropped": "not asked for any more", "added": "asked for now"}
        names = self.links_that(what)
        if names:
            yield f"{_links_said(names)} {words[what]}: {', '.join(names)}."

    def _value(self, change: ValueChange) -> str:
        if change.before is None or change.after is None or change.before == change.after:
            return ""
        money = change.name == "cost"
        before, after = (f"{value:,.2f}" if money else f"{value:,.0f}" for value in (change.before, change.after))
        unit = f" {self.currency}".rstrip() if money else ""
        return f"{OBJECTIVE_IN_WORDS[change.name]} {after}{unit} in place of {before}"


def _links_said(names: tuple[str, ...]) -> str:
    return f"{len(names)} {'link' if len(names) == 1 else 'links'}"


def _bought(change: PartChange) -> str:
    more = change.order_after - change.order_before
    if not more:
        return ""
    return f"{abs(more)} {'more' if more > 0 else 'fewer'} {change.part}"


def compare(a: Plan, b: Plan) -> Comparison:
    """Say what differs between two plans, `a` being the one before.

    Currencies are not converted: where they differ, that of `b` is told.
    """
    return Comparison(tuple(_values(a, b)), tuple(_links(a, b)), tuple(_parts(a, b)), b.currency or a.currency)


def _fitted_text(end: PlannedEnd) -> str:
    parts = " + ".join(part for part in (end.converter, end.module, end.attenuator, end.cord) if part)
    own = {"fixed": "fixed optic", "copper": "copper socket"}.get(end.fitting, "")
    words = " + ".join(word for word in (own if end.converter is None else "", parts) if word)
    return f"{words or 'nothing'} in port {end.port}"


def _values(a: Plan, b: Plan) -> Iterator[ValueChange]:
    before, after = ({value.name: value.value for value in plan.objective} for plan in (a, b))
    for name in dict.fromkeys((*before, *after)):
        yield ValueChange(name, before.get(name), after.get(name))


def _links(a: Plan, b: Plan) -> Iterator[LinkChange]:
    before, after = ({link.id: link for link in plan.links} for plan in (a, b))
    refused_before, refused_after = ({entry.id: entry.kind for entry in plan.unserved} for plan in (a, b))
    for name in sorted({*before, *after, *refused_before, *refused_after}):
        old, new = before.get(name), after.get(name)
        if old is not None and new is not None:
            yield from _served_twice(old, new) if old is not new else ()
        elif old is not None:
            yield LinkChange(name, "lost", after=refused_after[name]) if name in refused_after else LinkChange(name, "dropped")
        elif new is not None:
            yield LinkChange(name, "gained" if name in refused_before else "added", after=f"{new.rate} over {', '.join(new.over)}")
        elif name not in refused_after:
            yield LinkChange(name, "dropped")
        elif name not in refused_before:
            yield LinkChange(name, "added", after=f"not served ({refused_after[name]})")


def _served_twice(old: PlannedLink, new: PlannedLink) -> Iterator[LinkChange]:
    if old.rate != new.rate:
        yield LinkChange(old.id, "rate", "", old.rate, new.rate)
    if old.over != new.over:
        yield LinkChange(old.id, "over", "", ", ".join(old.over), ", ".join(new.over))
    for before, after in zip(old.ends, new.ends, strict=True):
        if before != after:
            same = before.model_copy(update={"port": after.port}) == after
            yield LinkChange(old.id, "port" if same else "fitted", after.device, _fitted_text(before), _fitted_text(after))


def _parts(a: Plan, b: Plan) -> Iterator[PartChange]:
    before, after = ({line.part: line for line in plan.parts} for plan in (a, b))
    for part in sorted({*before, *after}):
        old, new = before.get(part), after.get(part)
        used, order, total = (tuple(getattr(line, key) if line is not None else 0 for line in (old, new)) for key in ("used", "order", "total"))
        if used[0] != used[1] or order[0] != order[1]:
            line = new or old
            assert line is not None  # the part is in one of the two
            yield PartChange(part, line.kind, used[0], used[1], order[0], order[1], float(total[0]), float(total[1]))
