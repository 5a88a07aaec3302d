"""How far a copper socket reaches, by rate and cable category."""

from __future__ import annotations

from functools import cache

from optiselect.model.terms import Category, Rate
from optiselect.standards.pmd import pmd
from optiselect.standards.sources import data

_UNKNOWN_CATEGORIES = frozenset({"twisted-pair"})


def category_known(category: Category) -> bool:
    """Whether a category says what the cable carries; ``twisted-pair`` is a cable of unknown category, whose reach is unknown."""
    return category not in _UNKNOWN_CATEGORIES


@cache
def socket_reach_m(rate: Rate, category: Category) -> float | None:
    """The length in m that a copper socket reaches at a rate on a category; None where it is not supported.

    For ``twisted-pair`` the answer is None as well, and means nothing: ask `category_known` first.

    Source: standards/pmd/copper.yaml: IEEE 802.3 Clauses 14, 25, 40, 55, 126; on single-pair cable 10BASE-T1L, Clause 146.
    """
    for name in data("copper")["socket_pmds"].get(rate, ()):
        reach_m = pmd(name).figures.reach_m
        if reach_m is not None and category in reach_m:
            return reach_m[category]
    return None
