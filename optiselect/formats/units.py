"""Columns in other units, converted exactly at the door: ``length_ft`` becomes ``length_m``.

Exact rational arithmetic, rounded once, to the float nearest the exact value.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from optiselect.model.document import PlainText

_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,19})(\.[0-9]{1,20})?([eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True)
class Unit:
    """A unit that a column may be in: value in the document's unit = factor * figure + offset.

    Attributes:
        suffix: what the column name ends in.
        own: what the document's key ends in.
        factor: exact.
        offset: exact, added after the factor.
        source: of the factor.
    """

    suffix: str
    own: str
    factor: Fraction
    source: str
    offset: Fraction = Fraction(0)

    def converted(self, text: str) -> PlainText | None:
        """Return the figure in the document's unit, or None when the text is no plain decimal number."""
        if not _NUMBER.fullmatch(text):
            return None
        try:
            value = float(Fraction(text) * self.factor + self.offset)
        except OverflowError:
            return None
        return PlainText(repr(value))


_PREFIX = "SI brochure, 9th edition, table 7 (prefixes); from memory"
UNITS: tuple[Unit, ...] = (
    Unit("_km", "_m", Fraction(1000), _PREFIX),
    Unit("_ft", "_m", Fraction(3048, 10_000), "international foot, NIST Special Publication 811, appendix B.8; from memory"),
    Unit("_f", "_c", Fraction(5, 9), "degree Fahrenheit, NIST Special Publication 811, appendix B.8; from memory", Fraction(-160, 9)),
    Unit("_mw", "_w", Fraction(1, 1000), _PREFIX),
    Unit("_um", "_nm", Fraction(1000), _PREFIX),
    Unit("_gbit_s", "_mbit_s", Fraction(1000), _PREFIX),
    Unit("_ghz_km", "_mhz_km", Fraction(1000), _PREFIX),
    Unit("_weeks", "_days", Fraction(7), "a week has seven days"),
)


def also_written(key: str) -> Iterator[tuple[str, Unit]]:
    """Yield the other names that a key's column may have, each with its unit; ``_ps_nm`` is per nanometre and has none."""
    for unit in UNITS:
        if key.endswith(unit.own) and not key.endswith("_ps_nm"):
            yield key.removesuffix(unit.own) + unit.suffix, unit
