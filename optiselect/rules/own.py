"""The user's own rules: Python predicates of the policy, each called with a link with both ends fitted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from optiselect.rules.fitted import FittedLink
from optiselect.rules.rule import Breach, Rule


def name_of(predicate: Callable[[Any], bool], position: int) -> str:
    """What a predicate is called: its function name, or its place in the policy where it has none."""
    name = getattr(predicate, "__name__", "<lambda>")
    return f"rules[{position}]" if name == "<lambda>" else str(name)


def own_rule(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each of the policy's predicates that says no, or that raises."""
    for position, predicate in enumerate(link.policy.rules):
        try:
            stands = bool(predicate(link))
        except Exception as error:  # whatever a user's function raises must not stop the others, and must be told
            facts = {"name": name_of(predicate, position), "error": f"{type(error).__name__}: {error}"}
            yield Breach("own-rule", link.name, "an answer", facts["error"], facts=facts, case="raised")
            continue
        if not stands:
            yield Breach("own-rule", link.name, name_of(predicate, position), "no", facts={"name": name_of(predicate, position)})


def _within_two_and_a_half_km(link: FittedLink) -> bool:
    """The example's own rule: the first link is at most 2.5 km long."""
    return link.path.length_m <= 2500


OWN_RULE = Rule(
    id="own-rule",
    statement="Each predicate of the policy says yes to the link.",
    why="What a site knows of itself and no standard says.",
    source="common practice, no source",
    scope="path",
    check=own_rule,
    phrase="{path}: the policy's own rule {required} says {available}",
    phrases={"raised": "{path}: the policy's own rule {name} owes {required} and raised {available}"},
    holds={"policy.rules": (_within_two_and_a_half_km,), "runs.F1.fiber.length_m": 2500},
    breaks={"policy.rules": (_within_two_and_a_half_km,), "runs.F1.fiber.length_m": 2501},
)
