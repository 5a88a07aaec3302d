"""Colors by which strands and tubes are told apart."""

from __future__ import annotations

from functools import cache
from typing import Any

from optiselect.standards.sources import Citation, citation, data


def color(number: int) -> str | None:
    """The color of the strand, or tube, of a number from 1; with a stripe from 13 to 24, None beyond, where no code was read.

    Raises:
        ValueError: when the number is below 1.

    Source: TIA-598-C, strand and tube colors (standards/colors.yaml).
    """
    if number < 1:
        raise ValueError("strands and tubes are counted from 1")
    order: list[str] = _figure("order")
    plain = order[(number - 1) % len(order)]
    if number <= len(order):
        return plain
    if number <= 2 * len(order):
        return f"{plain}, {_figure('stripe_on_black' if plain == 'black' else 'stripe')} stripe"
    return None


def strands_a_tube() -> int:
    """How many strands a tube holds (common practice, no source: cables with other counts exist)."""
    return int(_figure("strands_a_tube"))


@cache
def color_citation() -> Citation:
    """Where the order of the colors was read."""
    return citation(data("colors")["order"]["source"])


def _figure(name: str) -> Any:
    return data("colors")[name]["is"]
