"""Why a link is not served, and what would help: facts and figures first, the text last and from these only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from optiselect.model.document import AS_INTEGER, AS_NUMBER, Id, Noun, Text, Told, YesNo
from optiselect.model.terms import Form, Grade, LaserClass, Medium, Mode, Rate, RuleId

if TYPE_CHECKING:
    from optiselect.model.catalog import Catalog
    from optiselect.model.network import Network
    from optiselect.model.policy import Policy

Fitting = Literal["module", "fixed", "copper"]
Kind = Literal["impossible", "crowded-out", "not-proven"]
Change = Literal["policy", "cord", "module", "device", "cable"]
"""What would have to change, the cheapest first."""
DocumentName = Literal["network", "catalog", "policy"]
FixKind = Literal[
    "rate",
    "strands",
    "path",
    "policy",
    "cord",
    "attenuator",
    "module",
    "single-strand",
    "converter",
    "device",
    "port",
    "enclosure",
    "cable",
    "measure",
    "weight",
    "waiver",
]
Figure = Annotated[float, AS_NUMBER]
Count = Annotated[int, Field(ge=0, le=10**15), AS_INTEGER]


class PlannedEnd(Noun):
    """One end of a link, with the part number of each thing that is fitted there (null: nothing)."""

    device: Id
    port: Id
    fitting: Fitting
    converter: Id | None = None
    module: Id | None = None
    cord: Id | None = None
    attenuator: Id | None = None


class Tally(Noun):
    """How many candidates a rule stops, each candidate counted once at the first rule that stops it.

    `rule` is null for candidates that nothing stops (of a link that is not proven, or is served). `unknown`: they pass every
    rule that can be checked, and rest on a figure that nobody states, the `datum`.
    """

    rule: RuleId | None
    count: Count
    unknown: YesNo = False
    datum: Told | None = None


class Fact(Noun):
    """One reason: what a rule requires and what is there, at a place of the documents, in the user's ids.

    `available` is what comes closest. `links`: the served links that hold what is missing. `complete`: false where the work
    was cut before the set that the fact belongs to was known to be the smallest.
    """

    rule: RuleId
    path: str
    required: Figure | str | None = None
    available: Figure | str | None = None
    unit: str = ""
    links: tuple[Id, ...] = ()
    complete: YesNo = True
    text: Told = ""


class NearMiss(Noun):
    """A candidate that comes close: both ends as they would be fitted, and everything that stands against it.

    `change`: the dearest kind of change that it needs. `shortfall`: what is missing, relative to what is required, summed over
    the breaches that have figures. `price`: of both ends' parts, null where one has none.
    """

    rate: Rate
    over: tuple[Id, ...]
    ends: tuple[PlannedEnd, PlannedEnd]
    breaches: tuple[Fact, ...]
    change: Change
    shortfall: Figure
    price: Figure | None = None


class MissingPart(Noun):
    """The weakest module that would serve, specified for a buyer; null: any, or as the standard has it.

    `tx_dbm`, `rx_dbm`: one way to meet the budget; any other of the same `budget_db` (least sent less sensitivity) that does not
    overload the far end will do. `budget_db` includes the design margin. `for_ends`: the ports that it is for.
    """

    for_ends: tuple[str, ...]
    form: Form
    rate: Rate
    medium: Medium
    mode: Mode | None = None
    strands: Count | None = None
    tx_nm: tuple[Figure, Figure] | None = None
    rx_nm: tuple[Figure, Figure] | None = None
    budget_db: Figure | None = None
    tx_dbm: tuple[Figure, Figure] | None = None
    rx_dbm: tuple[Figure, Figure] | None = None
    reach_m: Figure
    grade: Grade | str
    dispersion_ps_nm: Figure | None = None
    temperature_c: tuple[Figure, Figure] | None = None
    power_w: Figure | None = None
    coding: tuple[Id, ...] = ()
    laser_class: LaserClass | None = None
    text: Told = ""


class Edit(Noun):
    """One change of a document: `at` is the way to the place, names in lists by their id or part number.

    ``set`` puts a value there (null takes the key out), ``add`` appends it to the list that is there.
    """

    at: tuple[str, ...]
    do: Literal["set", "add"] = "set"
    value: Any = None


class Effect(Noun):
    """What else changes in the plan: other links that lose or gain their place, part numbers and cost more or less.

    `new_parts`: part numbers that the plan did not use before. `unpriced`: parts whose price nobody states yet; one that is
    only specified is counted at the price of the dearest of its kind, any other at nothing.
    """

    loses: tuple[Id, ...] = ()
    gains: tuple[Id, ...] = ()
    part_numbers: Annotated[int, AS_INTEGER] = 0
    new_parts: tuple[Id, ...] = ()
    cost: Figure = 0.0
    unpriced: tuple[Id, ...] = ()
    currency: Text = ""


class Fix(Noun):
    """A change of one document with which the link is served; the whole network was solved again with it.

    `own_risk`: a person answers for it (a waiver, or a rule of safety that is relaxed); `caution`: what then has to be done.
    `effect`: what changes beside the link itself.
    """

    kind: FixKind
    change: Change
    document: DocumentName
    edits: tuple[Edit, ...]
    words: Told
    own_risk: YesNo = False
    caution: Told = ""
    effect: Effect = Effect()

    def apply(self, network: Network, catalog: Catalog, policy: Policy) -> tuple[Network, Catalog, Policy]:
        """Return the three documents with this change made.

        Raises:
            UnknownNameError: when the documents have no such place: they are not those that the fix was made for.
            DocumentError: when the changed document is at fault.
        """
        from optiselect.model.patch import patched

        return patched(self.document, self.edits, network, catalog, policy)


class Refusal(Noun):
    """A link that is not served, and why.

    Attributes:
        candidates: pairs of fittings over every path and rate that was asked.
        others: how many further sets of facts, disjoint from `conflict`, refuse the link as well.
        fixes: each was solved again. more_fixes: further changes that are likely to help, and were not solved again.
        fixes_searched: false where this plan has too many links that are not served; `explain` searches.
        cut_short: the work was bounded before everything was looked at.
        serving: of a link that is crowded out, what it would take to serve it all the same.
    """

    id: Id
    kind: Kind
    request: dict[str, Any]
    candidates: Count
    tally: tuple[Tally, ...]
    conflict: tuple[Fact, ...] = ()
    others: Count = 0
    nearest_misses: tuple[NearMiss, ...] = ()
    fixes: tuple[Fix, ...] = ()
    more_fixes: Count = 0
    fixes_searched: YesNo = False
    cut_short: YesNo = False
    serving: Effect | None = None
    missing_part: MissingPart | None = None
    sources: tuple[Told, ...] = ()
    text: Told = ""

    def _repr_html_(self) -> str:
        from optiselect.handover import views

        return views.refusal_html(self)
