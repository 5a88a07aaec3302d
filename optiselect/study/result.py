"""What a study found: an outcome for each variant, and all of them as tidy tables."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from optiselect.errors import OptiselectError, UnknownNameError
from optiselect.model.plan import Plan
from optiselect.study.answer import Answer, Status
from optiselect.study.comparison import Comparison, LinkChange, PartChange, compare
from optiselect.study.variants import Setting, Variant

if TYPE_CHECKING:
    import pandas

Table = Literal["variants", "values", "links", "parts", "unserved"]


@dataclass(frozen=True)
class Outcome:
    """One variant with what became of it; equal for equal variants.

    Attributes:
        variant: as it was given.
        answer: the figures.
    """

    variant: Variant
    answer: Answer
    base_plan: Plan | None = field(repr=False)

    @property
    def name(self) -> str:
        """The name of the variant."""
        return self.variant.name

    @property
    def status(self) -> Status:
        """``optimal`` or ``feasible`` as of a plan, ``failed`` when the library raised, ``lost`` when no worker lived to answer."""
        return self.answer.status

    @property
    def error(self) -> str:
        """What went wrong; "" when there is a plan."""
        return self.answer.error

    @property
    def comparison(self) -> Comparison | None:
        """What differs from the base; None where one of the two has no plan."""
        return self.answer.comparison

    @property
    def plan(self) -> Plan:
        """The plan, put together anew on each call.

        Raises:
            OptiselectError: when there is none.
        """
        plan = self.answer.plan(self.base_plan)
        if plan is None:
            raise OptiselectError(f"variant {self.name!r} has no plan: {self.error}")
        return plan

    def value(self, objective: str) -> float | None:
        """What an objective came to; None where the plan does not have it."""
        return next((value for name, value, _ in self.answer.values if name == objective), None)


@dataclass(frozen=True)
class StudyResult:
    """The outcomes of a study: the base first, then the variants in the order given."""

    outcomes: tuple[Outcome, ...]
    currency: str = ""

    @cached_property
    def _by_name(self) -> dict[str, Outcome]:
        return {outcome.name: outcome for outcome in self.outcomes}

    def __getitem__(self, name: str) -> Outcome:
        if name not in self._by_name:
            raise UnknownNameError(f"the study has no variant {name!r}")
        return self._by_name[name]

    def __iter__(self) -> Iterator[Outcome]:
        return iter(self.outcomes)

    def __len__(self) -> int:
        return len(self.outcomes)

    @property
    def base(self) -> Outcome:
        """The outcome of the case itself."""
        return self.outcomes[0]

    @property
    def without_plan(self) -> tuple[Outcome, ...]:
        """The outcomes that failed or were lost."""
        return tuple(outcome for outcome in self.outcomes if outcome.error)

    def compare(self, a: str, b: str) -> Comparison:
        """What differs between the plans of two variants, `a` being the one before; the base is ``base``.

        Raises:
            UnknownNameError: when there is no variant of a name.
            OptiselectError: when one of them has no plan.
        """
        return compare(self[a].plan, self[b].plan)

    def frame(self, table: Table = "variants") -> pandas.DataFrame:
        """One table of all variants as a tidy pandas frame.

        ``variants``: a row a variant with its settings, objectives, least margin (``_db``) and how it differs from the base.
        ``values``: a row an objective of a variant, with the best that is still possible. ``links``, ``parts``: a row for each thing that
        differs from the base. ``unserved``: a row for each link that a variant does not serve. Money is in ``currency``.

        Raises:
            UnknownNameError: when there is no table of that name.
        """
        rows: dict[str, Any] = {"variants": self._variants, "values": self._values, "links": self._links, "parts": self._parts, "unserved": self._unserved}
        if table not in rows:
            raise UnknownNameError(f"a study has no table {table!r}; there are {', '.join(rows)}")
        import pandas

        columns, found = rows[table]()
        return pandas.DataFrame(list(found), columns=columns)

    def _repr_html_(self) -> str:
        from html import escape

        bad = len(self.without_plan)
        head = f"{len(self.outcomes) - 1} variants of {self.base.base_plan.network if self.base.base_plan else 'a case'}"
        head += f"; {bad} without a plan" if bad else ""
        shown = self.frame()
        shown = shown[[column for column in shown.columns if not (shown[column].isna() | (shown[column] == "")).all()]]
        return f"<div><h4>{escape(head)}</h4>{shown.to_html(index=False, escape=True, na_rep='', max_rows=25)}</div>"

    # -- tables ---------------------------------------------------------------------------------------------------

    def _variants(self) -> tuple[list[str], Iterator[list[Any]]]:
        settings = list(dict.fromkeys(name for outcome in self.outcomes for name in outcome.variant.settings))
        objectives = list(dict.fromkeys(name for outcome in self.outcomes for name, _, _ in outcome.answer.values))
        columns = ["variant", *settings, "status", "reproducible", "served", "unserved", *objectives, "least_margin_db", "least_margin_link"]
        columns += ["links_changed", "links_lost", "links_gained", "ports_changed", "cost_more", "currency", "error"]

        def rows() -> Iterator[list[Any]]:
            for outcome in self.outcomes:
                answer, has_plan = outcome.answer, not outcome.error
                given: list[Setting] = [outcome.variant.settings.get(name) for name in settings]
                counts = [float(len(answer.unserved)) if has_plan else None]
                values = [outcome.value(name) for name in objectives]
                least = [answer.least_margin_db, answer.least_margin_link]
                row = [outcome.name, *given, answer.status, answer.reproducible, float(answer.served) if has_plan else None, *counts, *values, *least]
                yield [*row, *_against_base(answer, outcome.value("cost"), self.base.value("cost")), self.currency, answer.error]

        return columns, rows()

    def _values(self) -> tuple[list[str], Iterator[list[Any]]]:
        rows = ([outcome.name, *value] for outcome in self.outcomes for value in outcome.answer.values)
        return ["variant", "objective", "value", "bound"], rows

    def _links(self) -> tuple[list[str], Iterator[list[Any]]]:
        rows = ([outcome.name, *astuple(change)] for outcome in self.outcomes if outcome.comparison for change in outcome.comparison.links)
        return ["variant", *(each.name for each in fields(LinkChange))], rows

    def _parts(self) -> tuple[list[str], Iterator[list[Any]]]:
        rows = ([outcome.name, *astuple(change), self.currency] for outcome in self.outcomes if outcome.comparison for change in outcome.comparison.parts)
        return ["variant", *(each.name for each in fields(PartChange)), "currency"], rows

    def _unserved(self) -> tuple[list[str], Iterator[list[Any]]]:
        return ["variant", "link", "kind"], ([outcome.name, *entry] for outcome in self.outcomes for entry in outcome.answer.unserved)


def _against_base(answer: Answer, cost: float | None, base_cost: float | None) -> list[float | None]:
    """Links that change in more than their port, that are lost (or dropped), gained (or added), that only change a port; how much more it costs."""
    if answer.comparison is None:
        return [None] * 5
    told = answer.comparison
    changed = {change.link for change in told.links if change.what != "port"}
    moved = {change.link for change in told.links} - changed
    lost = len(told.links_that("lost")) + len(told.links_that("dropped"))
    gained = len(told.links_that("gained")) + len(told.links_that("added"))
    more = round(cost - base_cost, 4) if cost is not None and base_cost is not None else None
    return [float(len(changed)), float(lost), float(gained), float(len(moved)), more]
