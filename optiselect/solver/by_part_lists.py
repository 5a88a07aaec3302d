"""The objectives after the fewest part numbers, all in one search over part lists (`part_lists`).

Not with spares, which are no plain sum over the links, and not where a cluster is too large to list.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from optiselect.solver.choice import SUM_OF, Name, Stage
from optiselect.solver.option import Option, parts_of
from optiselect.solver.part_list_walk import fields_of, places
from optiselect.solver.part_lists import PartListSearch, weights_of, without_relatives
from optiselect.solver.possible_parts import PossibleParts
from optiselect.solver.prepare import Prepared
from optiselect.solver.progress import Watch
from optiselect.solver.shares import Shares, TooLarge

Answer = tuple[list[Stage], dict[str, Option]]


class CutShort(Exception):
    """Whether any list will do was not settled."""


def by_part_lists(
    prepared: Prepared,
    settled: Sequence[Name],
    aimed: Sequence[Name],
    first: Mapping[str, Option],
    watch: Watch,
    *,
    most: int | None,
    families: Mapping[str, str],
    on: frozenset[str] = frozenset(),
    off: frozenset[str] = frozenset(),
) -> Answer | None:
    """Search the objectives `aimed`, in order, among the plans of few part numbers that are best in those `settled`.

    Args:
        first: by link its option in one such plan; one of the fewest part numbers, unless more will do.
        most: so many part numbers will do; None: as few as can be.
        families: as of `without_relatives`.
        on: part numbers that are to be on the list, where they are worth a look. off: those that may not be.

    Returns:
        The objectives with value and bound, and by link its option; None where this search does not apply, or no such list will do.

    Raises:
        CutShort: when effort or time do not suffice to tell whether such a list will do; never without `on` and `off`.
    """
    its = [found.options for found in prepared.options.values()]
    served = Counter(map(id, its))
    lists = {which: (options, served[which]) for which, options in {id(options): options for options in its}.items()}
    weights = weights_of(lists, aimed)
    if weights is None or not lists:
        return None
    try:
        shares = Shares(prepared.joined, prepared.capacity, prepared.apart, settled, weights)
    except TooLarge:
        return None
    must, never = shares.mask_of(on), shares.mask_of(off)
    parts = parts_of(first.values())
    mask = shares.mask_of(parts)
    allows = without_relatives(shares, families)
    slack = 0
    for field in fields_of(shares, parts, most):
        narrowed = replace(field, on=field.on | (must & field.open), open=field.open & ~never, first=field.first & ~never)
        found = PartListSearch(narrowed, watch, allows).run()
        mask = (mask & ~field.open) | found.mask
        slack += found.value - found.bound
    mask = mask & ~never
    offers = shares.tables.offers
    if shares.tables.total(shares.tables.worth(offers.only(offers.within(mask)))) is None:
        if slack:
            raise CutShort
        return None  # nothing serves without what is off
    options = shares.options_with(mask)
    values = sums_of(options.values(), aimed)
    if not slack:
        return [Stage(name, values[name], values[name]) for name in aimed], options
    step, weight = weights[aimed[0]]
    bound = sum(values[name] // weights[name][0] * weights[name][1] for name in aimed) - slack
    return [Stage(name, values[name], bound // weight * step if name == aimed[0] else 0) for name in aimed], options


def possible_parts(prepared: Prepared, settled: Sequence[Name], first: Mapping[str, Option], watch: Watch, *, most_effort: float) -> frozenset[str] | None:
    """The part numbers of all plans that need only the fewest; None where that could not be settled with so much effort a field.

    Args:
        first: by link its option in one such plan.
    """
    if not prepared.joined.clusters:
        return frozenset()
    try:
        shares = Shares(prepared.joined, prepared.capacity, prepared.apart, settled, {})
    except TooLarge:
        return None
    parts = parts_of(first.values())
    mask = shares.mask_of(parts)
    for field in fields_of(shares, parts, None):
        met = PossibleParts(field, watch, most_effort).run()
        if met is None:
            return None
        mask |= met
    return frozenset(shares.parts[place] for place in places(mask))


def sums_of(options: Collection[Option], names: Sequence[Name]) -> dict[Name, int]:
    """What options add up to, in each of these sums."""
    times, its = Counter(map(id, options)), {id(option): option for option in options}  # few of those of many links differ
    measured = [(links, its[which].measures()) for which, links in times.items()]
    return {name: sum(links * figures[SUM_OF[name] - 2] for links, figures in measured) for name in names}
