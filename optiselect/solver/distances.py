"""Which pairs serve which links: lengths and losses, all links of one kind of path at once.

The limit of each pair comes from the rule functions themselves (`rules.distance`, `rules.light`), once a pair; numpy then
compares it with every link. The answer is one whole number for each pair and link (`Code`): not served, or served with
these attenuators, and whether a figure was missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optiselect.model.catalog import Attenuator
from optiselect.model.network import Link
from optiselect.model.policy import Policy
from optiselect.optics.decibels import milli
from optiselect.rules import RULE_BY_ID
from optiselect.rules.distance import Limit, copper_limit_m, dispersion_limit_m, reach_limit_m, throughput_at
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.rules.light import available_db, excess_db, path_loss_millidb
from optiselect.solver.pairs import Accessories, Pair
from optiselect.standards.transceiver import Transceiver

Code = int
NOT_SERVED: Code = -1
_UNKNOWN = 1
_STEP = 64  # room for an attenuator's position, 0 = none
_FAR = 10**9  # beyond any length in metres and any loss in thousandths of a dB


def attenuator_positions(code: Code) -> tuple[int, int]:
    """Which attenuators a code calls for at the two ends: 1-based positions on the end's ladder, 0 for none."""
    code >>= 1
    return code % _STEP, code // _STEP


def rests_on_unknown(code: Code) -> bool:
    """Whether a figure was missing."""
    return bool(code & _UNKNOWN)


@dataclass(frozen=True)
class Row:
    """A link over one of its paths."""

    link: Link
    path: Path
    waived: frozenset[str]


@dataclass
class _Limits:
    """What one pair requires, in metres and thousandths of a dB; `_FAR` where nothing binds, -1 where nothing serves."""

    reach_m: float = float("inf")
    dispersion_m: float = float("inf")
    dispersion_known_m: float = float("inf")
    available: tuple[int, int] = (_FAR, _FAR)
    excess: tuple[int, int] = (-_FAR, -_FAR)
    unknown: bool = False


def fiber_codes(
    rows: Sequence[Row], pairs: Sequence[Pair], ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]], asked: Asked, accessories: Accessories
) -> NDArray[np.int32]:
    """Return the code of every pair (first axis) over every row (second axis); rows share one profile, rate and waivers."""
    policy = asked.policy
    lights_a = {pair.a: ends[0][pair.a].light for pair in pairs}
    lights_b = {pair.b: ends[1][pair.b].light for pair in pairs}
    windows: list[Any] = sorted({light.tx_nm for light in [*lights_a.values(), *lights_b.values()] if light is not None and light.tx_nm})
    place = {window: index for index, window in enumerate(windows)}
    place[None] = len(windows)
    lengths = np.array([row.path.length_m for row in rows], dtype=np.float64)
    needs = np.array([row.link.throughput_mbit_s or 0.0 for row in rows])
    full_rate = mbit_s(asked.rate)
    least = np.full((len(windows) + 1, len(rows)), -_FAR, dtype=np.int64)
    most = np.full((len(windows) + 1, len(rows)), -1, dtype=np.int64)
    for column, row in enumerate(rows):
        for window in windows:
            loss = path_loss_millidb(row.path, window, policy)
            if loss is not None:
                least[place[window], column], most[place[window], column] = loss
    codes = np.full((len(pairs), len(rows)), NOT_SERVED, dtype=np.int32)
    free = np.array([strands_free(row.path, policy) for row in rows])
    enough_throughput = needs <= full_rate if "throughput" not in asked.waived else np.ones(len(rows), dtype=bool)
    for index, pair in enumerate(pairs):
        a, b = lights_a[pair.a], lights_b[pair.b]
        assert a is not None and b is not None  # a copper socket does not pass the medium rule on fiber
        limits = _limits(a, b, asked)
        if limits is None:
            continue
        where_a, where_b = place[a.tx_nm], place[b.tx_nm]
        ok = (lengths <= limits.reach_m) & (lengths <= limits.dispersion_m) & enough_throughput & (free >= (a.strands or 1))
        if (a.throughput_mbit_s is not None or b.throughput_mbit_s is not None) and "throughput" not in asked.waived:
            passing = [[passes for light in (a, b) if (passes := throughput_at(light, row.path.length_m)) is not None] for row in rows]
            slowest = np.array([min(rates) for rates in passing])
            ok &= (needs <= slowest) & (slowest > 0)
        if not ok.any():
            continue
        unknown = np.full(len(rows), limits.unknown or pair.unknown) | (lengths > limits.dispersion_known_m)
        unknown |= (most[where_a] < 0) | (most[where_b] < 0)
        ladders = accessories.attenuators(ends[0][pair.a]), accessories.attenuators(ends[1][pair.b])
        ok_light, at_a, at_b = _light(limits, least[where_a], most[where_a], least[where_b], most[where_b], ladders, a.strands == 1)
        codes[index] = np.where(ok & ok_light, (((at_b * _STEP + at_a) << 1) | unknown), NOT_SERVED)
    return codes


def _light(
    limits: _Limits,
    least_ab: NDArray[np.int64],
    most_ab: NDArray[np.int64],
    least_ba: NDArray[np.int64],
    most_ba: NDArray[np.int64],
    ladders: tuple[list[Attenuator], list[Attenuator]],
    single: bool,
) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]]:
    """Compare light with loss in both directions, and find the least attenuator where there is too much of it.

    On two strands the attenuator of a direction sits at its receiver; on a single strand one at the first end serves both.
    """
    unknown_ab, unknown_ba = most_ab < 0, most_ba < 0
    need_ab = np.where(unknown_ab, 0, limits.excess[0] - least_ab)
    need_ba = np.where(unknown_ba, 0, limits.excess[1] - least_ba)
    spare_ab = np.where(unknown_ab, _FAR, limits.available[0] - most_ab)
    spare_ba = np.where(unknown_ba, _FAR, limits.available[1] - most_ba)
    if single:
        at_a, loss = _pick(np.maximum(need_ab, need_ba), ladders[0])
        return (loss <= spare_ab) & (loss <= spare_ba), at_a, np.zeros_like(at_a)
    at_b, loss_ab = _pick(need_ab, ladders[1])
    at_a, loss_ba = _pick(need_ba, ladders[0])
    return (loss_ab <= spare_ab) & (loss_ba <= spare_ba), at_a, at_b


def _pick(need: NDArray[np.int64], ladder: list[Attenuator]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The 1-based position of the least attenuator that covers each need (0: none needed) and its loss; `_FAR` where none does."""
    if (need <= 0).all():
        return np.zeros_like(need), np.zeros_like(need)
    losses = np.array([milli(item.loss_db) for item in ladder[: _STEP - 1]] + [_FAR * 2], dtype=np.int64)
    position = np.searchsorted(losses, np.maximum(need, 0), side="left")
    nothing = need <= 0
    return np.where(nothing, 0, np.minimum(position + 1, _STEP - 1)), np.where(nothing, 0, losses[position])


def _limits(a: Transceiver, b: Transceiver, asked: Asked) -> _Limits | None:
    """What a pair requires over this kind of path; None when no length would serve."""
    path, policy = asked.path, asked.policy
    limits = _Limits()
    for light in (a, b):
        if "reach" not in asked.waived:
            reach = reach_limit_m(light, _grades(path, light))
            if reach.unknown is None and reach.value is None:
                return None
            limits.unknown |= reach.unknown is not None
            limits.reach_m = min(limits.reach_m, _value(reach))
        if "dispersion" not in asked.waived:
            tolerated = dispersion_limit_m(light, _grades(path, light))
            if tolerated.unknown is not None:
                limits.dispersion_known_m = min(limits.dispersion_known_m, tolerated.value if tolerated.value is not None else -1.0)
            else:
                limits.dispersion_m = min(limits.dispersion_m, _value(tolerated))
    (core,) = path.cores
    available, excess = [], []
    for sender, receiver in ((a, b), (b, a)):
        grades = tuple(grade for grade in _grades(path, sender) if grade is not None)
        budget = available_db(sender, receiver, grades, core, policy)
        limits.unknown |= budget.unknown is not None
        if budget.unknown is None and budget.value is None:
            return None
        available.append(_FAR if budget.value is None else milli(budget.value))
        surplus = excess_db(sender, receiver, core)
        limits.unknown |= surplus.unknown is not None
        excess.append(-_FAR if surplus.value is None else milli(surplus.value))
    limits.available = available[0], available[1]
    limits.excess = excess[0], excess[1]
    return limits


def _grades(path: Path, light: Transceiver) -> Any:
    return path.grades_at(light.tx_nm) if light.tx_nm else path.grades


def _value(limit: Limit) -> float:
    return float("inf") if limit.value is None else limit.value


def copper_codes(rows: Sequence[Row], pairs: Sequence[Pair], ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]], asked: Asked) -> NDArray[np.int32]:
    """The same for copper: reach by rate and category, and what really passes at that length."""
    codes = np.full((len(pairs), len(rows)), NOT_SERVED, dtype=np.int32)
    throughput = RULE_BY_ID["throughput"]
    category = asked.path.category
    assert category is not None  # the caller has a copper path
    for index, pair in enumerate(pairs):
        end_a, end_b = ends[0][pair.a], ends[1][pair.b]
        limit = copper_limit_m(end_a.light, end_b.light, asked.rate, category)
        slows = any(end.light is not None and end.light.throughput_mbit_s is not None for end in (end_a, end_b))
        for column, row in enumerate(rows):
            unknown = pair.unknown
            if "copper-reach" not in asked.waived:
                if limit.value is None and limit.unknown is None:
                    continue
                if limit.value is not None and row.path.length_m > limit.value:  # a known end limits also beside an unknown one
                    continue
                unknown |= limit.unknown is not None
            if "throughput" not in asked.waived and (slows or row.link.throughput_mbit_s is not None):
                link = FittedLink(Asked(row.link, asked.rate, row.path, asked.policy, asked.waived), end_a, end_b)
                breaches = list(throughput.check(link))
                if any(not breach.unknown for breach in breaches):
                    continue
                unknown |= bool(breaches)
            codes[index, column] = int(unknown)
    return codes


def strands_free(path: Path, policy: Policy) -> int:
    """The strands that a path has free, after those in use and those held in reserve."""
    return min((run.fiber.strands - run.fiber.strands_in_use - policy.reserve_strands for run in path.runs if run.fiber), default=0)


def mbit_s(rate: str) -> float:
    """A rate as a number of Mbit/s."""
    return float(rate[:-1]) * (1000.0 if rate.endswith("G") else 1.0)
