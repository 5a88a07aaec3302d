"""What a rule is: written once, read by the solver, the checker and the explainer alike.

A check yields facts (`Breach`); the sentence comes last, from the rule's own phrase and those facts only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from optiselect.model.terms import RuleId

_MOST_NAMES = 4
Scope = Literal["end", "pair", "path", "network"]
"""end: one end by itself. pair: both ends and the kind of path, no lengths. path: lengths and losses. network: many links."""


@dataclass(frozen=True, slots=True)
class Breach:
    """The facts of a rule that does not hold, or that cannot be checked (`unknown`).

    Attributes:
        rule: the rule's id.
        path: the place, in the user's ids: ``core/1``, ``F4``, ``core/1 to gate/2``.
        required, available: side by side, in `unit`; numbers or words.
        unknown: the figure that the rule needs is missing; `required` or `available` names the datum.
        facts: whatever else the sentence mentions, by name.
        case: which of the rule's other phrases tells it; "" for the usual one.
    """

    rule: RuleId
    path: str
    required: float | str | None = None
    available: float | str | None = None
    unit: str = ""
    unknown: bool = False
    facts: Mapping[str, Any] = field(default_factory=dict)
    case: str = ""


@dataclass(frozen=True)
class Rule:
    """One rule of the trade.

    Attributes:
        statement: one sentence, true when the rule holds.
        why: what goes wrong on site when it does not.
        source: document and locator, or "common practice, no source", or "from memory".
        check: yields a breach for each place where the rule does not hold; its arguments follow from `scope`.
        phrase: the sentence of a breach, a format string over its fields and facts.
        phrase_unknown: the sentence where a datum is missing.
        phrases: the sentences of other cases, by `Breach.case`.
        holds, breaks: changes to the example link of `rules.examples` with which the rule holds, and breaks.
    """

    id: RuleId
    statement: str
    why: str
    source: str
    scope: Scope
    check: Callable[..., Iterator[Breach]]
    phrase: str
    holds: Mapping[str, Any]
    breaks: Mapping[str, Any]
    phrase_unknown: str = "{path}: {available} is not stated, so this cannot be checked"
    phrases: Mapping[str, str] = field(default_factory=dict)

    def sentence(self, breach: Breach) -> str:
        """Put a breach of this rule into one sentence, from its facts only.

        Beside the breach's fields and facts a phrase may use `required_units` and `available_units` (with the unit, in the
        singular for one) and `runs_is` ("is", or "are" for several runs).
        """
        phrase = self.phrase_unknown if breach.unknown else self.phrases[breach.case] if breach.case else self.phrase
        runs = breach.facts.get("runs", ())
        shown = {key: listed(value, "other runs") if key == "runs" else _shown(value) for key, value in breach.facts.items()}
        return phrase.format(
            path=breach.path,
            required=_shown(breach.required),
            available=_shown(breach.available),
            unit=breach.unit,
            required_units=counted(breach.required, breach.unit),
            available_units=counted(breach.available, breach.unit),
            runs_is="is" if len(runs) == 1 else "are",
            **shown,
        )


def counted(value: Any, unit: str) -> str:
    """A figure with its unit, which for one is in the singular: ``1 strand``, ``2 strands``, ``1 W``."""
    is_one = value == 1 and unit in ("strands", "links", "units", "ports")
    return f"{_shown(value)} {unit.removesuffix('s') if is_one else unit}"


def listed(names: Sequence[str], others: str) -> str:
    """Names of the user's; of more than four the first two and how many others there are."""
    if len(names) <= _MOST_NAMES:
        return ", ".join(names)
    return f"{', '.join(names[:2])} and {len(names) - 2} {others}"


def _shown(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    if isinstance(value, tuple | list | frozenset):
        return ", ".join(_shown(item) for item in value)
    return "nothing" if value is None else str(value)
