"""A served link, and why it has not the cheaper or the obvious: facts and figures first, the text last and from these only."""

from __future__ import annotations

from typing import Literal

from optiselect.model.document import Id, Noun, Text, YesNo
from optiselect.model.plan import PlannedLink
from optiselect.model.refusal import Count, Effect, Fact, PlannedEnd, Tally


class Alternative(Noun):
    """Another choice for a served link, everything else as planned: what it would break, or what it would change.

    `why`: the ``cheapest`` that passes the rules of the link by itself, the ``obvious`` one (the cheapest of one part at both
    ends), or a ``cheaper`` one that does not pass. `unknown`: figures that nobody states, on which it would rest.
    """

    why: Literal["cheapest", "obvious", "cheaper"]
    over: tuple[Id, ...]
    ends: tuple[PlannedEnd, PlannedEnd]
    breaches: tuple[Fact, ...] = ()
    unknown: tuple[Text, ...] = ()
    effect: Effect = Effect()
    text: Text = ""


class Explanation(Noun):
    """A served link with what else it could have had.

    `tally`: the candidates by the first rule that stops them; those that pass come last, without a rule.
    """

    id: Id
    link: PlannedLink
    candidates: Count
    tally: tuple[Tally, ...]
    alternatives: tuple[Alternative, ...] = ()
    cut_short: YesNo = False
    sources: tuple[Text, ...] = ()
    text: Text = ""

    def _repr_html_(self) -> str:
        from optiselect.handover import views

        return views.explanation_html(self)
