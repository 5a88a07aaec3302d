"""Variants of a case: by name, as a product of axes, by random draw within stated ranges, by taking away runs or routes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product
from random import Random
from typing import Annotated, Any, Literal

from pydantic import Field

from optiselect.errors import DocumentError, Fault
from optiselect.model.document import Figures, Noun
from optiselect.study.case import Case
from optiselect.study.draft import Draft
from optiselect.study.edits import Add, BuyOnly, Edit, Remove, Scale, Set, Shift, figures
from optiselect.study.places import spots

AnyEdit = Set | Scale | Shift | Add | Remove | BuyOnly
Edits = AnyEdit | Sequence[AnyEdit] | Mapping[str, Any]
"""One edit, several, or values by place (each a `Set`)."""
Setting = str | float | int | bool | None
BASE = "base"
"""The name of the case itself among the results."""


class Spread(Noun):
    """A range within which figures are drawn, each by itself and all values alike likely.

    Attributes:
        place: which figures, for example ``runs.*.fiber.length_m``.
        low, high: least and greatest draw, both possible.
        of: what is drawn: a ``factor`` on the figure, an ``addition`` to it, or the ``value`` itself.
    """

    place: Annotated[str, Field(min_length=1)]
    low: float
    high: float
    of: Literal["factor", "addition", "value"] = "factor"

    def drawn(self, case: Case, draw: int, seed: int) -> Iterator[AnyEdit]:
        """The edits of one draw; the same seed gives the same figures, whatever else is drawn.

        Raises:
            DocumentError: when there is no such place, or the range runs backwards.
        """
        if self.low > self.high:
            raise DocumentError([Fault(self.place, f"write the lower end of the range first, not {self.low:g} to {self.high:g}")], "spread")
        draft = Draft(case)
        meant = spots(self.place, draft) if self.of == "value" else [spot for spot, _ in figures(draft, self.place)]
        for spot in meant:
            amount = round(Random(f"{seed}|{draw}|{spot}").uniform(self.low, self.high), 4)
            match self.of:
                case "factor":
                    yield Scale(str(spot), amount)
                case "addition":
                    yield Shift(str(spot), amount)
                case "value":  # pragma: no branch - the last of three
                    yield Set(str(spot), amount)


class Variant(Noun):
    """A case with edits, under a name.

    Attributes:
        name: as it stands in the results; each once in a study.
        edits: applied one after another.
        settings: what tells it apart from its neighbors, a column of the results each (an axis and its value).
    """

    name: Annotated[str, Field(min_length=1, max_length=2_000)]
    edits: tuple[Edit, ...] = ()
    settings: Figures[str, Setting] = Figures()

    @classmethod
    def named(cls, name: str, edits: Edits, **settings: Setting) -> Variant:
        """A variant from one edit, several, or values by place."""
        return cls(name=name, edits=tuple(_listed(edits)), settings=Figures(settings))

    @classmethod
    def product(cls, axes: Mapping[str, Sequence[Any] | Mapping[str, Edits]]) -> tuple[Variant, ...]:
        """Every combination of the values of several axes.

        Args:
            axes: by place, the values that it takes (``{"policy.design_margin_db": [0, 3, 6]}``); or by a name of your own, edits by name
                (``{"fiber": {"as it is": [], "all new": Set("runs.*.fiber.grade", "OS2")}}``).
        """
        choices = [[(axis, *choice) for choice in _choices(axis, values)] for axis, values in axes.items()]
        return tuple(
            cls(
                name="; ".join(f"{axis}={label}" for axis, label, _, _ in combination),
                edits=tuple(edit for _, _, _, edits in combination for edit in edits),
                settings=Figures({axis: setting for axis, _, setting, _ in combination}),
            )
            for combination in product(*choices)
        )

    @classmethod
    def draws(cls, case: Case, spreads: Spread | Iterable[Spread], count: int, *, seed: int = 1) -> tuple[Variant, ...]:
        """So many variants in which every figure of the spreads is drawn anew.

        Raises:
            DocumentError: when a spread names nothing, or its range runs backwards.
        """
        several = (spreads,) if isinstance(spreads, Spread) else tuple(spreads)
        width = len(str(count))
        return tuple(
            cls(
                name=f"draw {number:0{width}d}",
                edits=tuple(edit for spread in several for edit in spread.drawn(case, number, seed)),
                settings=Figures({"draw": number}),
            )
            for number in range(1, count + 1)
        )

    @classmethod
    def removals(cls, case: Case, of: Sequence[Literal["runs", "routes"]] = ("runs", "routes")) -> tuple[Variant, ...]:
        """Each run, and each route with all that lies in it, taken away in turn."""
        draft = Draft(case)
        names = {"runs": sorted(draft.items("runs")), "routes": draft.routes()}
        return tuple(
            cls(name=f"without {kind[:-1]} {name}", edits=(Remove(f"{kind}.{name}"),), settings=Figures({"removed": f"{kind}.{name}"}))
            for kind in of
            for name in names[kind]
        )

    def applied_to(self, case: Case) -> Case:
        """The three documents with the edits in them.

        Raises:
            DocumentError: with the faults, each at the place of its edit.
        """
        draft = Draft(case)
        faults: list[Fault] = []
        for edit in self.edits:
            try:
                edit.apply(draft)
            except DocumentError as error:
                faults += error.faults
        if faults:
            raise DocumentError(faults, f"variant {self.name!r}")
        return draft.case()


def _choices(axis: str, values: Sequence[Any] | Mapping[str, Edits]) -> Iterator[tuple[str, Setting, tuple[AnyEdit, ...]]]:
    if isinstance(values, Mapping):
        yield from ((label, label, tuple(_listed(edits))) for label, edits in values.items())
        return
    for value in values:
        plain = value is None or isinstance(value, str | int | float)
        yield f"{value:g}" if isinstance(value, float) else str(value), value if plain else str(value), (Set(axis, value),)


def _listed(edits: Edits) -> Iterator[AnyEdit]:
    if isinstance(edits, AnyEdit):
        yield edits
    elif isinstance(edits, Mapping):
        yield from (Set(place, value) for place, value in edits.items())
    else:
        yield from edits


def variants_of(given: Iterable[Variant] | Mapping[str, Edits]) -> tuple[Variant, ...]:
    """The variants that a study was given, in their order."""
    if isinstance(given, Mapping):
        return tuple(Variant.named(name, edits) for name, edits in given.items())
    return tuple(given)


def faults_of_variants(variants: Sequence[Variant]) -> Iterator[Fault]:
    """Names that stand twice, or that are the base's own."""
    seen: set[str] = set()
    for variant in variants:
        if variant.name == BASE:
            yield Fault(repr(variant.name), "this is the name of the case itself among the results; choose another")
        elif variant.name in seen:
            yield Fault(repr(variant.name), "two variants have this name; choose another for one of them")
        seen.add(variant.name)
