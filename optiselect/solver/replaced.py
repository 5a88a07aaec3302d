"""Parts that another part replaces everywhere in this network, so that they need not be tried.

Module q replaces module p when every end that takes p takes q, with no more figures missing; q's light is of the same kind
at every rate at which p is taken, with the same greatest power and overload (so that the same attenuators follow), no less
least power, sensitivity, reach, published loss or tolerance, and no greater penalty; and q costs no more.

Why this loses no optimum: put q wherever a plan has p. Every rule still holds. No part number is added that p was not, cost
does not grow, and strands, modules and unknowns stay as they were. Not done where units of a part count by themselves
(stock, spares), where a module is in place, or where the user's own rules may tell parts apart. Price does not matter to a
search that asks for the fewest part numbers only.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from typing import Any

from optiselect.model.catalog import Module
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.rules.fitted import Asked
from optiselect.solver.fittings import Fit, Fittings, discrete_key, in_ten_thousandths
from optiselect.standards.transceiver import Transceiver

Place = tuple[Hashable, ...]
"""Where a part is taken: end class, rate, medium, waivers, and the converter that it would sit in."""


class Replacing:
    """Which parts others replace, given every end class with everything that may be asked of it."""

    def __init__(self, fittings: Fittings, network: Network, policy: Policy, asked_at: Iterable[tuple[int, Asked]]) -> None:
        self._policy = policy
        self._power_counts = any(device.module_power_w is not None for device in network.devices)
        self._in_place = frozenset(network.installed.values()) if policy.keep_installed != "no" else frozenset()
        self._places: dict[str, dict[Place, bool]] = defaultdict(dict)
        self._lights: dict[str, dict[str, Transceiver]] = defaultdict(dict)
        modules: dict[str, Module] = {}
        for end_class, asked in asked_at:
            for item in fittings.accepted(end_class, asked):
                module, light = item.fit.module, item.fit.light
                if module is None or light is None:
                    continue
                modules[module.part] = module
                self._lights[module.part][asked.rate] = light
                self._places[module.part][end_class, asked.rate, asked.path.medium, asked.waived, _behind(item.fit)] = item.unknown
        self._kinds: dict[Hashable, list[Module]] = defaultdict(list)
        for part, module in sorted(modules.items()):
            self._kinds[_kind(module, self._lights[part])].append(module)

    def parts(self, *, at_any_price: bool) -> dict[str, str]:
        """Each part that need not be tried, with the part that replaces it.

        `at_any_price`: for a search that asks for the fewest part numbers only.
        """
        if self._policy.rules or (self._policy.spares is not None and not at_any_price):
            return {}
        replaced: dict[str, str] = {}
        for alike in self._kinds.values():
            for module in sorted(alike, key=lambda module: (in_ten_thousandths(module.price), module.part), reverse=True):
                if module.part not in self._in_place and module.stock is None:
                    better = (other for other in alike if other is not module and other.part not in replaced and other.stock is None)
                    found = next((other.part for other in better if self._replaces(other, module, at_any_price)), None)
                    if found is not None:
                        replaced[module.part] = found
        return {part: _last(part, replaced) for part in replaced}

    def _replaces(self, other: Module, module: Module, at_any_price: bool) -> bool:
        if not at_any_price and in_ten_thousandths(other.price) > in_ten_thousandths(module.price):
            return False
        if other.part not in self._policy.prefer_parts and module.part in self._policy.prefer_parts:
            return False
        if self._power_counts and (other.power_w or 0) > (module.power_w or 0):
            return False
        lights = self._lights[other.part]
        if not all(_no_worse(lights[rate], light) for rate, light in self._lights[module.part].items()):
            return False
        places = self._places[other.part]
        return all(place in places and (unknown or not places[place]) for place, unknown in self._places[module.part].items())


def _last(part: str, replaced: Mapping[str, str]) -> str:
    while part in replaced:
        part = replaced[part]
    return part


def _behind(fit: Fit) -> str | None:
    return fit.converter.part if fit.converter else None


def _kind(module: Module, lights: Mapping[str, Transceiver]) -> Hashable:
    """What two modules must share before their figures are compared: kind of light and upper powers, at each rate."""
    return tuple(
        (
            rate,
            discrete_key(light),
            _each(light.tx_dbm_by_core, 1),
            light.rx_dbm[1] if light.rx_dbm else None,
            light.own_powers,
            light.own_sensitivity,
            light.penalty_db is None,
            light.standard_penalty_db,
            light.channel_loss_db is None or frozenset(light.channel_loss_db),
            light.dispersion_ps_nm is None,
            light.throughput_mbit_s,
        )
        for rate, light in sorted(lights.items())
    )


def _each(powers: Mapping[Any, tuple[float, float]] | None, place: int) -> Hashable:
    return None if powers is None else tuple(sorted((core, pair[place]) for core, pair in powers.items()))


def _no_worse(other: Transceiver, light: Transceiver) -> bool:
    """Whether a light of the same kind is at least as good in every figure; kinds share which figures are stated."""
    if (
        other.tx_dbm_by_core is not None
        and light.tx_dbm_by_core is not None
        and any(other.tx_dbm_by_core[core][0] < pair[0] for core, pair in light.tx_dbm_by_core.items())
    ):
        return False
    if other.rx_dbm is not None and light.rx_dbm is not None and other.rx_dbm[0] > light.rx_dbm[0]:
        return False
    if other.penalty_db != light.penalty_db and not (
        isinstance(other.penalty_db, float) and isinstance(light.penalty_db, float) and other.penalty_db <= light.penalty_db
    ):
        return False
    for mine, theirs in ((other.reach_m, light.reach_m), (other.channel_loss_db, light.channel_loss_db)):
        if mine is not None and theirs is not None and any(mine[grade] < figure for grade, figure in theirs.items()):
            return False
    return (other.dispersion_ps_nm or 0) >= (light.dispersion_ps_nm or 0)
