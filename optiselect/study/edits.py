"""Typed edits of network, catalog and policy: frozen values that are written as JSON and applied to a draft.

Every edit names its place with dots (`places`). The documents that come out are validated as if they had been read.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from copy import deepcopy
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, field_validator
from pydantic.dataclasses import dataclass

from optiselect.errors import DocumentError, Fault
from optiselect.model.document import Figures
from optiselect.study.draft import KINDS, PART_KINDS, Draft
from optiselect.study.places import Spot, Step, routes, spots, stated_and_default, value_at

_CLOSED = ConfigDict(extra="forbid")
_MOST_NAMED = 6
Place = Annotated[str, Field(min_length=1, max_length=40_000)]
Amount = Annotated[float, Field(allow_inf_nan=False)]


class _Edit:
    """What all edits have in common."""

    @abstractmethod
    def apply(self, draft: Draft) -> None:
        """Carry the edit out.

        Raises:
            DocumentError: with its faults; the draft is then of no more use.
        """


@dataclass(frozen=True, config=_CLOSED)
class Set(_Edit):
    """Give a value: ``Set("runs.F1.fiber.grade", "OS2")``; None takes back what is stated, so that the default holds."""

    place: Place
    to: Any
    do: Literal["set"] = "set"

    @field_validator("to")
    @classmethod
    def _is_frozen(cls, value: Any) -> Any:
        return _frozen(value)

    def apply(self, draft: Draft) -> None:
        """Carry the edit out."""
        for spot in spots(self.place, draft):
            _write(draft, spot, _thawed(self.to))


@dataclass(frozen=True, config=_CLOSED)
class Scale(_Edit):
    """Multiply figures: ``Scale("parts.*.price", 1.1)``; what is not stated stays so."""

    place: Place
    by: Amount
    do: Literal["scale"] = "scale"

    def apply(self, draft: Draft) -> None:
        """Carry the edit out."""
        for spot, value in figures(draft, self.place):
            _write(draft, spot, _tidy(value * self.by, value))


@dataclass(frozen=True, config=_CLOSED)
class Shift(_Edit):
    """Add to figures: ``Shift("runs.*.fiber.strands", -2)``; what is not stated stays so."""

    place: Place
    by: Amount
    do: Literal["shift"] = "shift"

    def apply(self, draft: Draft) -> None:
        """Carry the edit out."""
        for spot, value in figures(draft, self.place):
            _write(draft, spot, _tidy(value + self.by, value))


@dataclass(frozen=True, config=_CLOSED)
class Add(_Edit):
    """Add an item to a list of the documents: ``Add("links", {"id": "L9", "ends": ["core", "gate"]})``."""

    to: Place
    item: Any
    do: Literal["add"] = "add"

    @field_validator("item")
    @classmethod
    def _is_frozen(cls, value: Any) -> Any:
        return _frozen(value)

    def apply(self, draft: Draft) -> None:
        """Carry the edit out."""
        item = _thawed(self.item)
        if self.to not in KINDS:
            raise DocumentError([Fault(self.to, f"name the list to add to: one of {', '.join(KINDS)}")], "edit")
        key = "part" if self.to in PART_KINDS else "id"
        if not isinstance(item, dict) or not isinstance(item.get(key), str):
            raise DocumentError([Fault(self.to, f"what is added needs the key {key}")], "edit")
        if item[key] in draft.items(self.to):
            raise DocumentError([Fault(f"{self.to}.{item[key]}", "this is there already; use Set to change it")], "edit")
        draft.put(self.to, item)


@dataclass(frozen=True, config=_CLOSED)
class Remove(_Edit):
    """Take an item away, with what cannot be there without it: ``Remove("runs.F1")``, ``Remove("routes.duct-7")``.

    A run takes along the links that are stated to go over it, a route its runs, a device its runs, links and modules.
    A key inside an item, or of the policy, goes back to its default.
    """

    place: Place
    do: Literal["remove"] = "remove"

    def apply(self, draft: Draft) -> None:
        """Carry the edit out."""
        if self.place.startswith("routes."):
            for run in [run for route in routes(self.place, draft) for run in draft.runs_of_route(route)]:
                draft.remove("runs", run)
            return
        for spot in spots(self.place, draft):
            if spot.kind == "installed" and spot.name not in draft.installed:
                raise DocumentError([Fault(self.place, "no module is stated to be there")], "edit")
            if spot.steps or spot.kind == "installed":
                _write(draft, spot, None)
            else:
                draft.remove(spot.kind, spot.name)


@dataclass(frozen=True, config=_CLOSED)
class BuyOnly(_Edit):
    """Buy only parts whose key has one of these values: ``BuyOnly("supplier", ("Tinefield",))``.

    Parts that state another value there are added to `Policy.exclude_parts`; those that state none may still be bought.
    """

    key: Annotated[str, Field(min_length=1)]
    values: tuple[str, ...]
    do: Literal["buy-only"] = "buy-only"

    def apply(self, draft: Draft) -> None:
        """Carry the edit out."""
        items = {part: stated_and_default(item) for kind in PART_KINDS for part, item in draft.items(kind).items()}
        if not any(self.key in item for item in items.values()):
            raise DocumentError([Fault(self.key, "no part of a catalog has this key")], "edit")
        others = [part for part, item in items.items() if item.get(self.key) not in (None, *self.values)]
        if not any(item.get(self.key) in self.values for item in items.values()):
            known = sorted({str(item[self.key]) for item in items.values() if item.get(self.key) is not None})[:_MOST_NAMED]
            there = f"; there are {', '.join(map(repr, known))}" if known else ""
            raise DocumentError([Fault(self.key, f"no part of the catalog has {' or '.join(map(repr, self.values))} there{there}")], "edit")
        draft.put_policy(draft.policy.stated() | {"exclude_parts": sorted({*draft.policy.exclude_parts, *others})})


Edit = Annotated[Set | Scale | Shift | Add | Remove | BuyOnly, Field(discriminator="do")]


def figures(draft: Draft, place: str) -> list[tuple[Spot, float]]:
    """The figures at a place; those that are not stated are left out.

    Raises:
        DocumentError: when there is no figure at all, or something that is not a figure.
    """
    found: list[tuple[Spot, float]] = []
    for spot in spots(place, draft):
        value = value_at(stated_and_default(_item(draft, spot)), spot.steps) if spot.kind != "installed" else draft.installed.get(spot.name)
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise DocumentError([Fault(str(spot), "a figure is due here, and this is none")], "edit")
        found.append((spot, value))
    if not found:
        raise DocumentError([Fault(place, "no figure is stated there")], "edit")
    return found


def _item(draft: Draft, spot: Spot) -> Any:
    return draft.policy if spot.kind == "policy" else draft.items(spot.kind)[spot.name]


def _write(draft: Draft, spot: Spot, value: Any) -> None:
    """Write a value at a spot; None: what is stated there is taken back."""
    if spot.kind == "installed":
        draft.put_installed(spot.name, value)
        return
    item = _item(draft, spot)
    if not spot.steps:
        raise DocumentError([Fault(str(spot), "name a key of it, or use Remove and Add")], "edit")
    if spot.kind != "policy" and spot.steps[0] in ("id", "part"):
        raise DocumentError([Fault(str(spot), "an id stays what it is; use Remove and Add")], "edit")
    stated = _with(item.stated(), stated_and_default(item), spot.steps, value)
    if spot.kind == "policy":
        draft.put_policy(stated)
    else:
        draft.put(spot.kind, stated)


def _with(stated: Any, shown: Any, steps: tuple[Step, ...], value: Any) -> Any:
    """The stated value with another one at the end of the steps; on the way, what is not stated begins as its default."""
    step, rest = steps[0], steps[1:]
    inner = value_at(shown, (step,))
    if isinstance(stated, list) and isinstance(step, int):
        changed = list(stated)
        changed[step] = _with(stated[step], inner, rest, value) if rest else value
        return changed
    changed_keys = dict(stated) if isinstance(stated, dict) else {}
    if rest:
        below = changed_keys.get(str(step))
        changed_keys[str(step)] = _with(deepcopy(inner) if below is None and inner is not None else below if below is not None else {}, inner, rest, value)
    elif value is None:
        changed_keys.pop(str(step), None)
    else:
        changed_keys[str(step)] = value
    return changed_keys


def _tidy(value: float, before: float) -> float:
    """Rounded to what a figure is read to; a whole number stays one where it can."""
    rounded = round(value, 6)
    return int(rounded) if isinstance(before, int) and rounded == int(rounded) else rounded


def _frozen(value: Any) -> Any:
    if isinstance(value, Mapping):
        return Figures({str(key): _frozen(inner) for key, inner in value.items()})
    if isinstance(value, list | tuple):
        return tuple(_frozen(inner) for inner in value)
    if hasattr(value, "stated"):
        return _frozen(value.stated())
    return value


def _thawed(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _thawed(inner) for key, inner in value.items()}
    return [_thawed(inner) for inner in value] if isinstance(value, tuple) else value
