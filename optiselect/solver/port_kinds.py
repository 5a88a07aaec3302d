"""What a port is, without its name, and the order of names."""

from __future__ import annotations

import re
from collections.abc import Hashable
from functools import lru_cache

from optiselect.model.network import Cage, CopperPort, FixedOptic, SharedPort
from optiselect.model.terms import RATES, Rate

Port = Cage | FixedOptic | SharedPort | CopperPort


@lru_cache(4096)
def natural(name: str) -> tuple[object, ...]:
    """Sort key that puts port 2 before port 10."""
    return tuple((0, int(piece), "") if piece.isdigit() else (1, 0, piece) for piece in re.split(r"(\d+)", name) if piece)


def spec_of(port: Port) -> Hashable:
    """What a port is, without its name."""
    match port:
        case Cage():
            return "cage", port.form, port.rates, port.module_power_w, port.media
        case SharedPort():
            return "shared", port.form, port.rates, port.copper_rates, port.module_power_w, port.media
        case CopperPort():
            return "copper", port.rates
        case FixedOptic():  # pragma: no branch - the last of four kinds
            return "fixed", port.optic


def rates_of(port: Port) -> frozenset[Rate]:
    """The rates that a port might run; of a fixed optic whose rates are not stated, any."""
    match port:
        case Cage() | CopperPort():
            return frozenset(port.rates)
        case SharedPort():
            return frozenset((*port.rates, *port.copper_rates))
        case FixedOptic():  # pragma: no branch - the last of four kinds
            return frozenset(port.optic.rates or RATES)
