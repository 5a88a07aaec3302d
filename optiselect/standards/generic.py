"""The open-standard catalog: one generic module for each pluggable PMD, with cords and attenuators.

It lets a network be planned before a supplier is chosen. A generic module is exactly its standard: nothing that a standard
does not fix (price, temperature range, power, failure rate) is invented, and so is unknown.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import combinations_with_replacement
from typing import Any

from optiselect.model.catalog import Attenuator, Catalog, Cord, Module
from optiselect.model.terms import Connector, Grade, Polish, mode_of
from optiselect.standards.pmd import pmd, pmd_names

_PAIRED: tuple[Connector, ...] = ("LC", "SC", "ST", "FC")
_CORD_GRADES: tuple[Grade, ...] = ("OS2", "OM1", "OM2", "OM3", "OM4", "OM5")
_CONDITIONING_GRADES: tuple[Grade, ...] = ("OM1", "OM2")
_ANGLED: tuple[Connector, ...] = ("LC", "SC", "FC")
_ATTENUATOR_LOSSES_DB = (3, 5, 7, 10, 15)


@cache
def open_standard_catalog() -> Catalog:
    """The generic catalog. Part numbers: ``STD-`` and the PMD, ``STD-CORD-...``, ``STD-ATT-...``."""
    return Catalog(
        name="Open standards",
        modules=tuple(_modules()),
        cords=tuple(_cords()),
        attenuators=tuple(Attenuator(part=f"STD-ATT-LC-{loss}", mode="single-mode", connector="LC", loss_db=float(loss)) for loss in _ATTENUATOR_LOSSES_DB),
    )


def _modules() -> Iterator[Module]:
    for name in pmd_names():
        sold = pmd(name).pluggable
        if sold is None:
            continue
        stated: dict[str, Any] = {"part": f"STD-{name}", "standard": name, "rates": pmd(name).figures.rates, **sold}
        yield Module(**stated)


def _cords() -> Iterator[Cord]:
    for grade in _CORD_GRADES:
        for near, far in combinations_with_replacement(_PAIRED, 2):
            for strands in (1, 2):
                yield _cord(grade, near, far, None, strands)
                if mode_of(grade) == "single-mode" and far in _ANGLED:
                    yield _cord(grade, near, far, ("UPC", "APC"), strands)
                if mode_of(grade) == "single-mode" and near != far and near in _ANGLED:
                    yield _cord(grade, far, near, ("UPC", "APC"), strands)
        yield _cord(grade, "MPO", "MPO", None, 8)
    for grade in _CONDITIONING_GRADES:
        for far in _PAIRED:
            yield _cord(grade, "LC", far, None, 2, conditioning=True)


def _cord(grade: Grade, near: Connector, far: Connector, polish: tuple[Polish, Polish] | None, strands: Any, conditioning: bool = False) -> Cord:
    ends = f"{near}-{far}" + ("A" if polish else "")
    part = f"STD-CORD-{ends}-{grade}-{strands}" + ("-MC" if conditioning else "")
    return Cord(part=part, grade=grade, connectors=(near, far), polish=polish, strands=strands, conditioning=conditioning)
