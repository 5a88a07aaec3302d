"""Options that another option makes pointless."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optiselect.solver.options import Option


def undominated(options: Iterable[Option], *, count_units: bool) -> list[Option]:
    """Drop every option that another one makes pointless; return the rest in a fixed order.

    Option p is pointless beside q when q's part numbers are among p's, q measures no worse in anything that any objective
    counts, and q takes no more of any scarce resource: put q in p's place in any plan, and no objective gets worse, no
    resource runs short. Of options that are equal in all of it the first in the fixed order stays. Where units of a part
    matter by themselves (`count_units`: spares are a step function of them, so that fewer units of one part and more of
    another may cost less), q must use no more units of any part.
    """
    ordered = sorted(options, key=lambda option: (len(option.parts), option.measures(), option.parts, len(option.uses), str(option.uses)))
    kept: list[Option] = []
    by_names: dict[frozenset[str], list[Option]] = defaultdict(list)
    for option in ordered:
        names = sorted(option.names)
        beaten = any(
            _no_worse(other, option, count_units)
            for size in range(len(names) + 1)
            for subset in combinations(names, size)
            for other in by_names.get(frozenset(subset), ())
        )
        if not beaten:
            kept.append(option)
            by_names[option.names].append(option)
    return kept


def _no_worse(other: Option, option: Option, count_units: bool) -> bool:
    if any(mine > theirs for mine, theirs in zip(other.measures(), option.measures(), strict=True)):
        return False
    if other.uses:
        uses = dict(option.uses)
        if any(amount > uses.get(resource, 0) for resource, amount in other.uses):
            return False
    if count_units:
        units = dict(option.parts)
        return all(count <= units.get(part, 0) for part, count in other.parts)
    return True
