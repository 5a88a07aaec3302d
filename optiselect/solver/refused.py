"""Why a link is not served, as counts: each candidate pair of fittings falls at the first rule that stops it."""

from __future__ import annotations

from collections import Counter

from optiselect.model.network import Link
from optiselect.model.plan import Fact, Kind, Refusal, Tally
from optiselect.model.terms import RATES, RULE_IDS, Rate
from optiselect.rules import END_RULES, PAIR_RULES, PATH_RULES, RULE_BY_ID
from optiselect.rules.fitted import Asked, FittedLink
from optiselect.rules.rule import Breach
from optiselect.solver.fittings import Fit
from optiselect.solver.prepare import Preparation

_MOST_PAIRS = 20_000


def refusal(preparation: Preparation, link: Link, kind: Kind, rate: Rate | None) -> Refusal:
    """The entry of a plan for a link that is not served.

    A crowded-out link has candidates that pass; its tally then counts those that do not.
    """
    rate = rate or link.rate or _highest_rate(preparation, link)
    stopped: Counter[str] = Counter()
    reasons: dict[str, Breach] = {}
    candidates = 0
    for path in preparation.paths_of[link.id][:1]:
        asked = Asked(link, rate, path, preparation.policy, preparation.waived[link.id])
        at = [_fits_with_reason(preparation, link, side, asked) for side in (0, 1)]
        candidates += len(at[0]) * len(at[1])
        tried = 0
        for fit_a, why_a in at[0]:
            for fit_b, why_b in at[1]:
                first = min((why for why in (why_a, why_b) if why is not None), key=lambda breach: RULE_IDS.index(breach.rule), default=None)
                if first is None and tried < _MOST_PAIRS:
                    tried += 1
                    first = _first_breach(preparation, link, asked, fit_a, fit_b)
                if first is not None:
                    stopped[first.rule] += 1
                    reasons.setdefault(first.rule, first)
    tally = tuple(Tally(rule=rule, count=stopped[rule]) for rule in RULE_IDS if stopped[rule])
    facts = tuple(
        Fact(
            rule=rule,
            path=reasons[rule].path,
            required=reasons[rule].required,
            available=reasons[rule].available,
            unit=reasons[rule].unit,
            complete=False,
            text=RULE_BY_ID[rule].sentence(reasons[rule]),
        )
        for rule in RULE_IDS
        if rule in reasons
    )
    return Refusal(
        id=link.id,
        kind=kind,
        request=link.stated() | {"rate": rate},
        candidates=candidates,
        tally=tally,
        conflict=facts,
        text=_text(link, kind, rate, candidates, tally, facts),
    )


def _text(link: Link, kind: Kind, rate: Rate, candidates: int, tally: tuple[Tally, ...], facts: tuple[Fact, ...]) -> str:
    words = {
        "impossible": "cannot be served, even alone",
        "crowded-out": "could be served alone, but the links that go before it leave no room",
        "not-proven": "is not served; time ran out before it was settled",
    }
    over = f" over {', '.join(link.over)}" if link.over else ""
    lines = [f"Link {link.id} ({link.ends[0]} to {link.ends[1]}, {rate}{over}) {words[kind]}."]
    if not candidates:
        lines.append("No run joins the two devices, or no port of theirs takes anything.")
    for row, fact in list(zip(tally, facts, strict=True))[:10]:
        lines.append(f"{row.count:6d} of {candidates} pairs: {fact.text}"[:100])
    return "\n".join(lines)


def _highest_rate(preparation: Preparation, link: Link) -> Rate:
    common = set(RATES)
    for side in preparation.sides[link.id]:
        common &= {rate for group in side for rate in (getattr(group.port, "rates", ()) or ())} or set(RATES)
    return max(common or {"1G"}, key=RATES.index)


def _fits_with_reason(preparation: Preparation, link: Link, side: int, asked: Asked) -> list[tuple[Fit, Breach | None]]:
    """Each fitting of an end with the first rule that stops it there; at the port group where it gets furthest."""
    best: dict[int, tuple[Fit, Breach | None]] = {}
    fittings = preparation.fittings
    for group in preparation.sides[link.id][side]:
        for fit in fittings.candidates(group.port, asked.rate, asked.path.medium):
            end = fittings.fitted(fittings.classes[group.end_class], fit)
            why = next((b for rule in END_RULES for b in rule.check(end, asked) if not b.unknown and rule.id not in asked.waived), None)
            known = best.get(id(fit))
            if known is None or (known[1] is not None and (why is None or RULE_IDS.index(why.rule) > RULE_IDS.index(known[1].rule))):
                best[id(fit)] = (fit, why)
    return list(best.values())


def _first_breach(preparation: Preparation, link: Link, asked: Asked, fit_a: Fit, fit_b: Fit) -> Breach | None:
    fittings = preparation.fittings
    ends = []
    for side, fit in enumerate((fit_a, fit_b)):
        group = preparation.sides[link.id][side][0]
        ends.append(fittings.fitted(fittings.classes[group.end_class], fit))
    fitted = preparation.accessories.with_cords(FittedLink(asked, ends[0], ends[1]))
    for rule in (*PAIR_RULES, *PATH_RULES):
        if rule.id not in asked.waived:
            for breach in rule.check(fitted):
                if not breach.unknown:
                    return breach
    return None
