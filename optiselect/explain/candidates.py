"""All candidates of a link, every pair of fittings over every path: which rules each of them breaks, counted and kept exactly.

A candidate falls at a set of rules. Rules of one end are asked once a kind of end, rules of a pair once a kind of light, rules
of a path once a pair of figures, and those only where that can matter: where nothing is broken before, where the candidate may
be among the nearest, or where the conflict that is known so far does not meet what is broken before. Why that loses nothing: a
smallest set that meets some of the candidates, and that happens to meet all, is a smallest one for all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from itertools import product

from optiselect.explain.conflicts import Conflict, minimal_sets, smallest_conflict
from optiselect.explain.ends import EndKind, Reason, kinds_at
from optiselect.explain.ground import Ground
from optiselect.explain.places import CHANGES, change_for, fact_of, shortfall_of
from optiselect.explain.ways import Broken, Way, alone, attenuated, judged, ways_of, with_cords
from optiselect.model.network import Link
from optiselect.model.plan import Fact
from optiselect.model.refusal import NearMiss, PlannedEnd, Tally
from optiselect.model.terms import RULE_IDS, Rate
from optiselect.rules import PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import Asked, FittedLink, Path
from optiselect.solver.assemble import planned_end

MOST_LOOKS = 4_000
"""Pairs over a path that are looked at through every rule, before the rest is told to be cut short."""
NEAREST_LOOKS = 1_000
"""The same for the nearest alone."""
NEAREST = 3
_CLOSE = 200
_OF_LENGTH = ("reach", "dispersion", "copper-reach", "throughput")
"""Rules of a path that say the same with and without cords and attenuators."""
_AT_ONCE = 60
"""Pairs looked at before the conflict is worked out anew."""


@dataclass(frozen=True, eq=False)
class Close:
    """A candidate that was looked at whole: how many things are broken, and which of its ways (with attenuators or without)."""

    broken: int
    order: int
    asked: Asked
    a: EndKind
    b: EndKind
    way: int

    @property
    def strands(self) -> int | None:
        """The strands that it takes; None on copper, or where the module does not say."""
        light = self.a.best.end.light
        return light.strands if light is not None and self.asked.path.medium == "fiber" else None


@dataclass(eq=False)
class _Open:
    """A pair of which something is broken before the rules of a path are asked.

    `beyond`: what those said over its path. `known`: the rules of length that were asked already; cords do not matter to them.
    """

    base: int
    asked: Asked
    a: EndKind
    b: EndKind
    beyond: dict[Hashable, list[tuple[int, int]]] = field(repr=False)
    known: set[str] = field(default_factory=set)


class Candidates:
    """Every candidate of one link; or, `until_one_passes`, only as many as tell whether one does.

    Attributes:
        total: how many candidates there are. cut: not everything was looked at; nearest_cut: not for the nearest.
        family: bits of what is broken, of every candidate that decides something. passing: candidates of which nothing is broken.
        stopped: candidates by the position of the first rule that stops them; of those that pass none are counted here.
    """

    def __init__(self, ground: Ground, link: Link, rates: Sequence[Rate] | None = None, *, until_one_passes: bool = False) -> None:
        self.ground, self.link, self._until_one_passes = ground, link, until_one_passes
        self.paths: tuple[Path, ...] = ground.paths(link)
        self.rates = tuple(rates or ground.rates(link))
        self.total = self.passed = 0
        self.cut = self.nearest_cut = False
        self.stopped: Counter[int] = Counter()
        self.passing: list[Close] = []
        self.family: list[int] = []
        self._close: list[Close] = []
        self._bits: dict[Reason, int] = {}
        self._nearest: dict[int, tuple[tuple[int, float, int], Close]] = {}
        self._bound = [len(RULE_IDS)] * NEAREST
        self._looks = 0
        self._open: dict[Hashable, _Open] = {}
        self._numbers: dict[Hashable, int] = {}
        self._waived = ground.waived(link)
        self._look_everywhere()

    def _bit(self, reason: Reason) -> int:
        return self._bits.setdefault(reason, len(self._bits))

    def _mask(self, broken: Broken) -> int:
        mask = 0
        for reason, _ in broken:
            mask |= 1 << self._bit(reason)
        return mask

    def _look_everywhere(self) -> None:
        kinds: dict[tuple[int, Rate, str], list[EndKind]] = {}
        for rate, path in product(self.rates, self.paths):
            if self._until_one_passes and self.passing:
                return
            if self._looks >= MOST_LOOKS:
                self.cut = True
                return
            asked = Asked(self.link, rate, path, self.ground.policy, self._waived)
            sides = []
            for side in (0, 1):
                key = (side, rate, path.medium)
                if key not in kinds:
                    kinds[key] = self._numbered(kinds_at(self.ground, self.link, side, asked, self._bit))
                sides.append(kinds[key])
            self._look_over(asked, sides[0], sides[1])

    def _numbered(self, kinds: list[EndKind]) -> list[EndKind]:
        """The same with their keys as numbers, which are quicker to compare."""
        for kind in kinds:
            kind.light_key = self._numbers.setdefault(kind.light_key, len(self._numbers))
            kind.pair_key = self._numbers.setdefault(("pair", kind.pair_key), len(self._numbers))
            kind.whole_key = self._numbers.setdefault(("whole", kind.whole_key), len(self._numbers))
        return kinds

    def _look_over(self, asked: Asked, at_a: list[EndKind], at_b: list[EndKind]) -> None:
        pair_masks: dict[Hashable, tuple[int, int]] = {}
        beyond: dict[Hashable, list[tuple[int, int]]] = {}
        pairs = sorted(product(at_a, at_b), key=lambda pair: (pair[0].mask | pair[1].mask).bit_count())
        for a, b in pairs:
            if self._until_one_passes and (self.passing or a.mask | b.mask):
                return
            count = a.counted * b.counted
            self.total += count
            key = (a.pair_key, b.pair_key)
            if key not in pair_masks:
                broken, _ = judged(with_cords(self.ground, asked, a.best, b.best), PAIR_RULES)
                pair_masks[key] = self._mask(broken), _first(broken)
            pair_mask, pair_first = pair_masks[key]
            base, first = a.mask | b.mask | pair_mask, min(a.first, b.first, pair_first)
            if not base:
                first = min(first, self._look(asked, a, b, base, beyond))
            else:
                same = (id(asked), base, a.light_key, b.light_key, a.whole_key, b.whole_key)
                self._open.setdefault(same, _Open(base, asked, a, b, beyond))
            if first < len(RULE_IDS):
                self.stopped[first] += count
            else:
                self.passed += count

    def _decides_nothing(self, mask: int) -> bool:
        return any(small & mask == small for small in self.family)

    def _look_at(self, key: Hashable) -> None:
        """Look at a pair that was left open."""
        left = self._open.pop(key)
        self._look(left.asked, left.a, left.b, left.base, left.beyond)

    def _look_at_the_nearest(self) -> None:
        """Look at the pairs of which least is broken before, as long as one of them may still be among the nearest."""
        for key in sorted(self._open, key=lambda key: self._open[key].base.bit_count()):
            if self._open[key].base.bit_count() > self._bound[-1]:
                return
            if self._looks >= NEAREST_LOOKS:
                self.nearest_cut = True
                return
            self._look_at(key)

    def _look(self, asked: Asked, a: EndKind, b: EndKind, base: int, beyond: dict[Hashable, list[tuple[int, int]]]) -> int:
        """Look at a pair through every rule; returns the rule that stops it, of its ways the one that gets furthest."""
        key = (a.light_key, b.light_key, a.whole_key, b.whole_key)
        if key not in beyond:
            self._looks += 1
            plain = with_cords(self.ground, asked, a.best, b.best)
            beyond[key] = []
            for link in attenuated(self.ground, plain):
                broken = (*judged(link, PATH_RULES)[0], *alone(self.ground, link))
                beyond[key].append((self._mask(broken), _first(broken)))
        furthest = 0
        for way, (mask, first) in enumerate(beyond[key]):
            whole = base | mask
            furthest = max(furthest, first)
            close = Close(whole.bit_count(), self.total, asked, a, b, way)
            if not whole:
                self.passing.append(close)
                continue
            if not self._decides_nothing(whole):
                self._keep(whole)
            self._note(whole, close)
        return furthest

    def _keep(self, mask: int) -> None:
        self.family = [known for known in self.family if mask & known != mask]
        self.family.append(mask)

    def _note(self, whole: int, close: Close) -> None:
        """Keep what may be among the nearest, and for each reason the candidate that comes closest to it."""
        if close.broken <= self._bound[-1]:
            self._bound = sorted([*self._bound, close.broken])[:NEAREST]
            self._close.append(close)
        shortfall = close.a.best.shortfall + close.b.best.shortfall
        rank = (close.broken, shortfall, close.order)
        bits = whole
        while bits:
            low = bits & -bits
            known = self._nearest.get(low)
            if known is None or rank < known[0]:
                self._nearest[low] = rank, close
            bits ^= low

    # -- what follows from all of them ----------------------------------------------------------------------------

    def way(self, close: Close) -> Way:
        """A candidate as it is fitted, with everything that is broken."""
        return ways_of(self.ground, close.asked, close.a.best, close.b.best)[close.way]

    def tally(self) -> tuple[Tally, ...]:
        """Candidates by the first rule that stops them, in the order of the rules; those that pass are not among them."""
        return tuple(Tally(rule=RULE_IDS[position], count=self.stopped[position]) for position in sorted(self.stopped) if self.stopped[position])

    def conflict(self) -> tuple[tuple[Fact, ...], int]:
        """The smallest set of facts that refuses the link, in the order of the rules, and how many disjoint ones there are beside it.

        Of a link that passes somewhere: nothing.
        """
        if self.passing or not (self.family or self._open):
            return (), 0
        first, is_smallest = self._smallest(())
        facts = tuple(self._fact(reason, complete=is_smallest and not self.cut) for reason in first)
        others, taken = 0, first
        while further := self._smallest(taken)[0]:
            others, taken = others + 1, (*taken, *further)
        return facts, others

    def _smallest(self, without: tuple[Reason, ...]) -> tuple[tuple[Reason, ...], bool]:
        """The smallest set of reasons that meets every candidate, without these; nothing where there is none."""
        barred = sum(1 << self._bits[reason] for reason in without)
        while True:
            order = sorted(self._bits, key=lambda reason: (RULE_IDS.index(reason[0]), reason[1]))
            place = {self._bits[reason]: position for position, reason in enumerate(order)}
            family = [mask & ~barred for mask in self.family]
            if not all(family):
                return (), True
            moved = [sum(1 << place[bit] for bit in range(mask.bit_length()) if mask >> bit & 1) for mask in family]
            found: Conflict = smallest_conflict(minimal_sets(moved))
            reasons = tuple(order[bit] for bit in found.bits)
            met = sum(1 << self._bits[reason] for reason in reasons)
            unmet = self._unmet(reasons, met)
            if not unmet:
                return reasons, found.is_smallest
            if self._looks >= MOST_LOOKS:
                self.cut = True
                for key in unmet:
                    self._keep(self._open.pop(key).base)
                continue
            bases = {key: self._open[key].base for key in unmet}
            unmet.sort(key=lambda key: ((bases[key] & ~barred).bit_count(), bases[key].bit_count()))
            for key in unmet[:_AT_ONCE]:
                self._look_at(key)

    def _unmet(self, reasons: tuple[Reason, ...], met: int) -> list[Hashable]:
        """The pairs left open that these reasons do not meet, as far as the rules of both ends and those of length tell."""
        ids = {rule_id for rule_id, _ in reasons}
        lengths = tuple(rule for rule in PATH_RULES if rule.id in _OF_LENGTH and rule.id in ids)
        unmet = []
        for key, left in self._open.items():
            if left.base & met:
                continue
            asked = tuple(rule for rule in lengths if rule.id not in left.known)
            if asked:
                left.known |= {rule.id for rule in asked}
                left.base |= self._mask(judged(FittedLink(left.asked, left.a.best.end, left.b.best.end), asked)[0])
            if not left.base & met:
                unmet.append(key)
        return unmet

    def _fact(self, reason: Reason, *, complete: bool) -> Fact:
        """A reason, told by the candidate that comes closest to it."""
        known = self._nearest.get(1 << self._bits[reason])
        if known is None:  # only candidates that were not looked at whole have it
            return Fact(rule=reason[0], path=reason[1], complete=False, text=f"{reason[1]}: not looked at further")
        breaches = [breach for its, breach in self.way(known[1]).broken if its == reason]
        return fact_of(min(breaches, key=lambda breach: shortfall_of(breach)), reason[1], complete=complete)

    def nearest(self) -> list[Way]:
        """The candidates that come closest, at most three, one of each set of parts."""
        self._look_at_the_nearest()
        limit = self._bound[-1]
        close = sorted((item for item in self._close if item.broken <= limit), key=lambda item: (item.broken, item.order))[:_CLOSE]
        ways = sorted((self.way(item) for item in close), key=_nearness)
        found: list[Way] = []
        told: set[object] = set()
        for way in ways:
            key = (frozenset(way.parts), way.reasons)
            if key not in told:
                told.add(key)
                found.append(way)
        return found

    def nearest_misses(self) -> tuple[NearMiss, ...]:
        """The same as facts."""
        return tuple(near_miss(way) for way in self.nearest()[:NEAREST])


def near_miss(way: Way) -> NearMiss:
    """A candidate with all its breaches and what it would take."""
    breaches = [breach for _, breach in way.broken]
    facts = tuple(fact_of(breach, reason[1]) for reason, breach in way.broken)
    return NearMiss(
        rate=way.asked.rate,
        over=tuple(run.id for run in way.asked.path.runs),
        ends=_planned(way),
        breaches=facts,
        change=change_for(breaches),
        shortfall=round(sum(shortfall_of(breach) for breach in breaches), 6),
        price=way.price,
    )


def _planned(way: Way) -> tuple[PlannedEnd, PlannedEnd]:
    return planned_end(way.link.a), planned_end(way.link.b)


def _nearness(way: Way) -> tuple[object, ...]:
    breaches = [breach for _, breach in way.broken]
    shortfall = round(sum(shortfall_of(breach) for breach in breaches), 6)
    return len(way.reasons), CHANGES.index(change_for(breaches)), shortfall, way.price is None, way.price or 0.0, way.parts


def _first(broken: Broken) -> int:
    return min((RULE_IDS.index(reason[0]) for reason, _ in broken), default=len(RULE_IDS))
