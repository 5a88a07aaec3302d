"""Which pairs serve which links: lengths and losses, all links of one kind of path at once.

The limit of each pair comes from the rule functions themselves (`rules.distance`, `rules.light`), once a pair; numpy then
compares it with every link. The answer is one whole number for each pair and link (`Code`): not served, or served with
these attenuators, and whether a figure was missing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from optiselect.model.catalog import Attenuator
from optiselect.model.network import Link
from optiselect.model.policy import Policy
from optiselect.model.terms import Grade
from optiselect.optics.budget import Window, counted_loss_pico, micro_db_km
from optiselect.optics.decibels import micro, milli, to_millidecibel
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
_MOST_PICO = 2**61  # its double fits into 64 bits
_CELLS = 100_000  # pairs times rows that are looked at together: a megabyte a table


def attenuator_positions(code: Code) -> tuple[int, int]:
    """Which attenuators a code calls for at the two ends: 1-based positions on the end's ladder, 0 for none."""
    code >>= 1
    return code % _STEP, code // _STEP


def rests_on_unknown(code: Code) -> bool:
    """Whether a figure was missing."""
    return bool(code & _UNKNOWN)


class Row(NamedTuple):
    """A link over one of its paths, with the strands that are free there."""

    link: Link
    path: Path
    waived: frozenset[str]
    free: int


@dataclass
class _Limits:
    """What one pair requires, in metres and thousandths of a dB; `_FAR` where nothing binds, -1 where nothing serves."""

    reach_m: float = float("inf")
    dispersion_m: float = float("inf")
    dispersion_known_m: float = float("inf")
    available: tuple[int, int] = (_FAR, _FAR)
    excess: tuple[int, int] = (-_FAR, -_FAR)
    unknown: bool = False


class _Able(NamedTuple):
    """A pair that some length would serve."""

    place: int
    a: Transceiver
    b: Transceiver
    limits: _Limits


def fiber_codes(
    rows: Sequence[Row], pairs: Sequence[Pair], ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]], asked: Asked, accessories: Accessories
) -> NDArray[np.int32]:
    """Return the code of every pair (first axis) over every row (second axis); rows share one profile, rate and waivers."""
    codes = np.full((len(pairs), len(rows)), NOT_SERVED, dtype=np.int32)
    able = []
    for index, pair in enumerate(pairs):
        a, b = ends[0][pair.a].light, ends[1][pair.b].light
        assert a is not None and b is not None  # a copper socket does not pass the medium rule on fiber
        limits = _limits(a, b, asked)
        if limits is not None:
            limits.unknown |= pair.unknown
            able.append(_Able(index, a, b, limits))
    if not able:
        return codes
    figures = _Figures(rows, {light.tx_nm for pair in able for light in (pair.a, pair.b)}, asked.policy)
    at_once = max(1, _CELLS // len(rows))
    for some, code in (
        ([pair for pair in able if not figures.may_be_too_bright(pair)], _enough_light),
        ([pair for pair in able if figures.may_be_too_bright(pair)], _attenuated_light),
    ):
        for start in range(0, len(some), at_once):
            block = some[start : start + at_once]
            codes[[pair.place for pair in block]] = np.where(_served(block, figures, asked), code(block, figures, accessories), NOT_SERVED)
    return codes


class _Figures:
    """What is compared with the limits, row by row.

    Attributes:
        lengths: in metres. free: strands. needs: what must pass, in Mbit/s.
        least, most: loss at every wavelength that is sent (its `place`), in thousandths of a dB; greatest -1 where it is unknown.
    """

    def __init__(self, rows: Sequence[Row], windows: set[Window | None], policy: Policy) -> None:
        self.rows = rows
        self.lengths = np.array([row.path.length_m for row in rows], dtype=np.float64)
        self.free = np.array([row.free for row in rows])
        self.needs = np.array([row.link.throughput_mbit_s or 0.0 for row in rows])
        self.place = {window: index for index, window in enumerate(windows)}
        self.least = np.full((len(windows), len(rows)), -_FAR, dtype=np.int64)
        self.most = np.full((len(windows), len(rows)), -1, dtype=np.int64)
        counted: dict[Grade, list[int]] = defaultdict(list)
        for column, row in enumerate(rows):
            if row.path.counts is not None:
                counted[row.path.counts[0]].append(column)
            else:
                self._ask(row.path, column, policy)
        for grade, columns in counted.items():
            self._multiply(grade, [row.path for row in rows], columns, policy)
        self._least_of_all: list[int] = self.least.min(axis=1).tolist()
        self._is_known = [least >= 0 for least in self.most.min(axis=1).tolist()]

    def may_be_too_bright(self, pair: _Able) -> bool:
        """Whether light of a pair needs an attenuator on some row, or what is lost there is unknown."""
        sent = [self.place[light.tx_nm] for light in (pair.a, pair.b)]
        return any(not self._is_known[place] or excess > self._least_of_all[place] for place, excess in zip(sent, pair.limits.excess, strict=True))

    def _ask(self, path: Path, column: int, policy: Policy) -> None:
        for window, place in self.place.items():
            loss = path_loss_millidb(path, window, policy)
            if loss is not None:
                self.least[place, column], self.most[place, column] = loss

    def _multiply(self, grade: Grade, paths: Sequence[Path], columns: list[int], policy: Policy) -> None:
        """All columns of one grade at once by the same formula, where the sums fit into a machine's whole number."""
        counts = [path.counts[1:] for path in (paths[column] for column in columns) if path.counts is not None]
        lengths_mm, connections, splices = zip(*counts, strict=True)
        allowance = micro(policy.repair_allowance_db) * 1_000_000
        for window, place in self.place.items():
            figures = micro_db_km(grade, window, policy.attenuation) if window is not None else None
            if figures is None:
                continue
            if counted_loss_pico(figures, max(lengths_mm), max(connections), max(splices), policy)[1] + allowance > _MOST_PICO:
                for column in columns:
                    self._ask(paths[column], column, policy)
                return
            least, most = counted_loss_pico(figures, np.array(lengths_mm), np.array(connections), np.array(splices), policy)
            self.least[place, columns], self.most[place, columns] = to_millidecibel(least), to_millidecibel(most + allowance)


def _served(able: Sequence[_Able], figures: _Figures, asked: Asked) -> NDArray[np.bool_]:
    """Where pairs reach, on as many strands as are free, and enough passes."""
    lengths = figures.lengths
    reach, dispersion = (np.array([[getattr(pair.limits, name)] for pair in able]) for name in ("reach_m", "dispersion_m"))
    ok: NDArray[np.bool_] = lengths <= np.minimum(reach, dispersion)
    ok &= figures.free >= np.array([[pair.a.strands or 1] for pair in able])
    if "throughput" not in asked.waived:
        ok &= _passes_enough(able, figures, asked)
    return ok


def _doubtful(able: Sequence[_Able], figures: _Figures) -> NDArray[np.bool_]:
    """Where a figure that a pair or its dispersion is judged by is missing."""
    unstated, known = (np.array([[getattr(pair.limits, name)] for pair in able]) for name in ("unknown", "dispersion_known_m"))
    doubtful: NDArray[np.bool_] = np.logical_or(unstated, figures.lengths > known)
    return doubtful


def _enough_light(able: Sequence[_Able], figures: _Figures, accessories: Accessories) -> NDArray[np.int64]:
    """The codes of pairs that are nowhere too bright, by light alone: no attenuators, whatever there are."""
    sent_a, sent_b = [figures.place[pair.a.tx_nm] for pair in able], [figures.place[pair.b.tx_nm] for pair in able]
    available = np.array([pair.limits.available for pair in able], dtype=np.int64)
    ok = np.logical_and(figures.most[sent_a] <= available[:, :1], figures.most[sent_b] <= available[:, 1:])
    return np.where(ok, _doubtful(able, figures), NOT_SERVED)


def _attenuated_light(able: Sequence[_Able], figures: _Figures, accessories: Accessories) -> NDArray[np.int64]:
    """The codes of any pairs, by light alone."""
    light, at_a, at_b, unknown = _light(able, figures, accessories)
    return np.where(light, ((at_b * _STEP + at_a) << 1) | unknown | _doubtful(able, figures), NOT_SERVED)


def _passes_enough(able: Sequence[_Able], figures: _Figures, asked: Asked) -> NDArray[np.bool_]:
    """Where as much passes as a link needs; something must pass where the medium slows with distance."""
    needs = figures.needs
    enough = np.repeat((needs <= mbit_s(asked.rate))[None, :], len(able), axis=0)
    if all(light.throughput_mbit_s is None for pair in able for light in (pair.a, pair.b)):
        return enough
    for line, pair in enumerate(able):
        slow = [light for light in (pair.a, pair.b) if light.throughput_mbit_s is not None]
        if slow:
            slowest = np.array([min(throughput_at(light, row.path.length_m) or 0.0 for light in slow) for row in figures.rows])
            enough[line] &= (needs <= slowest) & (slowest > 0)
    return enough


def _light(
    able: Sequence[_Able], losses: _Figures, accessories: Accessories
) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Where light is enough in both directions, the least attenuators at both ends where there is too much of it, and where the loss is unknown."""
    sent_a, sent_b = [losses.place[pair.a.tx_nm] for pair in able], [losses.place[pair.b.tx_nm] for pair in able]
    excess, available = (np.array([getattr(pair.limits, name) for pair in able], dtype=np.int64) for name in ("excess", "available"))
    unknown_ab, unknown_ba = losses.most[sent_a] < 0, losses.most[sent_b] < 0
    need_ab, need_ba = np.where(unknown_ab, 0, excess[:, :1] - losses.least[sent_a]), np.where(unknown_ba, 0, excess[:, 1:] - losses.least[sent_b])
    spare_ab = np.where(unknown_ab, _FAR, available[:, :1] - losses.most[sent_a])
    spare_ba = np.where(unknown_ba, _FAR, available[:, 1:] - losses.most[sent_b])
    by_ladders: dict[Any, list[int]] = defaultdict(list)
    for line, pair in enumerate(able):
        by_ladders[(pair.a.mode, pair.a.connector), (pair.b.mode, pair.b.connector), pair.a.strands == 1].append(line)
    ok, at_a, at_b = np.zeros(need_ab.shape, dtype=bool), np.zeros_like(need_ab), np.zeros_like(need_ab)
    for (_, _, single), lines in by_ladders.items():
        ladders = accessories.attenuators(able[lines[0]].a), accessories.attenuators(able[lines[0]].b)
        ok[lines], at_a[lines], at_b[lines] = _attenuated(need_ab[lines], need_ba[lines], spare_ab[lines], spare_ba[lines], ladders, single)
    return ok, at_a, at_b, unknown_ab | unknown_ba


def _attenuated(
    need_ab: NDArray[np.int64],
    need_ba: NDArray[np.int64],
    spare_ab: NDArray[np.int64],
    spare_ba: NDArray[np.int64],
    ladders: tuple[list[Attenuator], list[Attenuator]],
    single: bool,
) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]]:
    """Where light is enough with the least attenuators that leave none too much of it, and which these are.

    On two strands the attenuator of a direction sits at its receiver; on a single strand one at the first end serves both.
    """
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
    free = [run.fiber.strands - run.fiber.strands_in_use for run in path.runs if run.fiber is not None]
    return min(free) - policy.reserve_strands if free else 0


def mbit_s(rate: str) -> float:
    """A rate as a number of Mbit/s."""
    return float(rate[:-1]) * (1000.0 if rate.endswith("G") else 1.0)
