"""Parts that another part replaces everywhere in this network, so that they need not be tried.

Module q replaces module p when every end that takes p takes q, with no more figures missing; q's light is of the same kind
at every rate at which p is taken, with the same greatest power and overload (so that the same attenuators follow), no less
least power, sensitivity, reach, published loss or tolerance, and no greater penalty; and q costs no more.

Why this loses no optimum: put q wherever a plan has p. Every rule still holds. No part number is added that p was not, cost
does not grow, and strands, modules and unknowns stay as they were. Not done where units of a part count by themselves
(stock, spares), where a module is in place, or where the user's own rules may tell parts apart.
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


def replaced_parts(fittings: Fittings, network: Network, policy: Policy, asked_at: Iterable[tuple[int, Asked]]) -> frozenset[str]:
    """The parts to leave out, given every end class with everything that may be asked of it."""
    if policy.spares is not None or policy.rules:
        return frozenset()
    places: dict[str, dict[Place, bool]] = defaultdict(dict)
    lights: dict[str, dict[str, Transceiver]] = defaultdict(dict)
    modules: dict[str, Module] = {}
    for end_class, asked in asked_at:
        for item in fittings.accepted(end_class, asked):
            module, light = item.fit.module, item.fit.light
            if module is None or light is None:
                continue
            modules[module.part] = module
            lights[module.part][asked.rate] = light
            places[module.part][end_class, asked.rate, asked.path.medium, asked.waived, _behind(item.fit)] = item.unknown
    in_place = set(network.installed.values()) if policy.keep_installed != "no" else set()
    kinds: dict[Hashable, list[Module]] = defaultdict(list)
    for part, module in modules.items():
        kinds[_kind(module, lights[part])].append(module)
    replaced: set[str] = set()
    for alike in kinds.values():
        ordered = sorted(alike, key=lambda module: (in_ten_thousandths(module.price), module.part))
        for module in reversed(ordered):
            if module.part in in_place or module.stock is not None:
                continue
            if any(
                other.part not in replaced
                and other is not module
                and other.stock is None
                and (in_ten_thousandths(other.price), other.part) <= (in_ten_thousandths(module.price), module.part)
                and _serves_as_well(other, module, lights, policy)
                and _is_taken_wherever(places[other.part], places[module.part])
                for other in ordered
            ):
                replaced.add(module.part)
    return frozenset(replaced)


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


def _serves_as_well(other: Module, module: Module, lights: Mapping[str, Mapping[str, Transceiver]], policy: Policy) -> bool:
    if other.part not in policy.prefer_parts and module.part in policy.prefer_parts:
        return False
    if (other.power_w is None) != (module.power_w is None) or (other.power_w or 0) > (module.power_w or 0):
        return False
    return all(_no_worse(lights[other.part][rate], light) for rate, light in lights[module.part].items())


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


def _is_taken_wherever(other: Mapping[Place, bool], places: Mapping[Place, bool]) -> bool:
    return all(place in other and (unknown or not other[place]) for place, unknown in places.items())
