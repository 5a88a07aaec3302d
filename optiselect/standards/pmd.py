"""The PMDs of open standards: the figures of each, with their sources.

PMD (physical medium dependent sublayer) is the standards' word for the optics or line interface of one rate and medium.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from optiselect.errors import UnknownNameError
from optiselect.model.catalog import Optics
from optiselect.standards.sources import Citation, data, plain_values, sourced_values

_FILES = ("pmd/copper", "pmd/100m", "pmd/1g", "pmd/10g", "pmd/25g_and_up")


@dataclass(frozen=True)
class Pmd:
    """One PMD.

    Attributes:
        name: for example ``1000BASE-BX10-D``.
        family: the name without ``-D`` or ``-U``; two ends of one family are of the same standard.
        figures: what the standard states (unknown figures are None).
        citations: the source of each figure, by field, or by ``field.key`` where a field has several.
        pluggable: how it is commonly sold as a module (form, connector, reach where the form limits it); None when it is not.
    """

    name: str
    family: str
    figures: Optics
    citations: Mapping[str, Citation]
    pluggable: Mapping[str, Any] | None

    @property
    def sources(self) -> Mapping[str, str]:
        """The citation text of each figure, by the keys of `citations`."""
        return {field: str(citation) for field, citation in self.citations.items()}


@cache
def _by_name() -> dict[str, Pmd]:
    return {name: _pmd(name, entry) for file in _FILES for name, entry in data(file).items()}


def _pmd(name: str, entry: Mapping[str, Any]) -> Pmd:
    values = plain_values(entry)
    pluggable = values.pop("pluggable", None)
    citations = {field: cited for field, _, cited in sourced_values(entry)}
    return Pmd(
        name=name,
        family=family_of(name),
        figures=Optics(standard=name, **values),
        citations=MappingProxyType(citations),
        pluggable=MappingProxyType(pluggable) if pluggable else None,
    )


def family_of(name: str) -> str:
    """The standard's name without the -D or -U of a single-strand pair."""
    return name[:-2] if name.endswith(("-D", "-U")) else name


def pmd(name: str) -> Pmd:
    """The PMD of a name.

    Raises:
        UnknownNameError: when there is none; the message lists those known.
    """
    found = _by_name().get(name)
    if found is None:
        raise UnknownNameError(f"there is no standard {name!r}; known: {', '.join(pmd_names())}")
    return found


@cache
def pmd_names() -> tuple[str, ...]:
    """The names of all PMDs, by rate as in the data files."""
    return tuple(_by_name())
