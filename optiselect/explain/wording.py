"""A refusal in words: at most 12 lines of 100 characters, and nothing that is not in its facts.

What was asked, what stands against it, what would help. A fact is said once and referred to by its number.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from optiselect.model.explanation import Alternative, Explanation
from optiselect.model.plan import Direction
from optiselect.model.refusal import Effect, Fact, Fix, MissingPart, NearMiss, PlannedEnd, Refusal
from optiselect.model.terms import RuleId

LINES, WIDTH = 12, 100
_HEADS = {
    "impossible": "cannot be served, even with the network to itself.",
    "crowded-out": "could be served alone, but the others leave no room.",
    "not-proven": "is not served, and the work ended before it was settled whether it can be.",
}


def refusal_text(refusal: Refusal) -> str:
    """The text of a refusal, from its own facts."""
    head = _wrapped(f"Link {_asked(refusal)} {_HEADS[refusal.kind]}", "", "  ", 2)
    shown = _shown_first(refusal)
    for most in ((2, 2), (1, 2), (1, 1)):  # fixes and what comes close are told shorter where the facts need the lines
        tail = [*_nearest(refusal, shown, most[1]), *_serving(refusal), *_fixes(refusal, most[0]), *_part(refusal.missing_part)]
        room = LINES - len(head) - len(tail)
        lines = _conflict(refusal, shown, LINES)
        if len(lines) <= room:
            break
        lines = _conflict(refusal, shown, room)
    return "\n".join([*head, *lines, *tail][:LINES])


def stopped_text(refusal: Refusal) -> str:
    """The text of a refusal of which no reasons are known, because the caller or the clock ended the work."""
    head = _wrapped(f"Link {_asked(refusal)} {_HEADS[refusal.kind]}", "", "  ", 2)
    return "\n".join([*head, _cut(f"The work was stopped before its reasons were looked for: ask explain for {refusal.id}.")])


def _asked(refusal: Refusal) -> str:
    request = refusal.request
    a, b = request.get("ends") or ("", "")
    over = f" over {', '.join(request['over'])}" if request.get("over") else ""
    rate = f", {request['rate']}" if request.get("rate") else ""
    return f"{refusal.id} ({a} to {b}{rate}{over})"


# -- what stands against it -------------------------------------------------------------------------------------------


def _shown_first(refusal: Refusal) -> list[Fact]:
    """The facts of the conflict in the order in which they are told: those of the nearest misses first."""
    near = [(fact.rule, fact.path) for miss in refusal.nearest_misses for fact in miss.breaches]
    place = {key: index for index, key in reversed(list(enumerate(near)))}
    return sorted(refusal.conflict, key=lambda fact: place.get((fact.rule, fact.path), len(near)))


def _conflict(refusal: Refusal, facts: Sequence[Fact], room: int) -> list[str]:
    if not facts:
        return []
    lines: list[str] = []
    intro = _intro(refusal, len(facts))
    room -= 1
    for number, fact in enumerate(facts, 1):
        more = _wrapped(f"{fact.text} [{fact.rule}]", f"  {number}. ", "     ", 2)
        is_last = number == len(facts)
        if len(lines) + len(more) > room - (0 if is_last else 1):
            left = facts[number - 1 :]
            lines += _wrapped(f"and {', '.join(dict.fromkeys(f'{fact.rule} at {fact.path}' for fact in left))}", "  ", "     ", 1)
            break
        lines += more
    return [intro, *lines]


def _intro(refusal: Refusal, count: int) -> str:
    if refusal.kind == "crowded-out":
        return "This is missing:" if count == 1 else f"These {count} are missing, for one way or another:"
    if not refusal.candidates:
        return "This stands against it:"
    these = "This stops" if count == 1 else f"These {count} together stop"
    pairs = "the only pair of parts" if refusal.candidates == 1 else f"all {refusal.candidates:,} pairs of parts"
    others = f", and so {'would 1 other such set' if refusal.others == 1 else f'would {refusal.others} other such sets'}" if refusal.others else ""
    open_end = "" if all(fact.complete for fact in refusal.conflict) else " (cut short: a smaller set may do)"
    return _cut(f"{these} {pairs}{others}{open_end}:")


# -- what comes close -------------------------------------------------------------------------------------------------


def _nearest(refusal: Refusal, facts: Sequence[Fact], most: int) -> list[str]:
    if not refusal.nearest_misses:
        return []
    number = {(fact.rule, fact.path): index for index, fact in enumerate(facts, 1)}
    return _wrapped(f"Nearest: {_miss(refusal.nearest_misses[0], number)}.", "", "  ", most)


def _miss(miss: NearMiss, number: dict[tuple[RuleId, str], int]) -> str:
    told = dict.fromkeys(number[fact.rule, fact.path] for fact in miss.breaches if (fact.rule, fact.path) in number)
    rest = dict.fromkeys(gap(fact) for fact in miss.breaches if (fact.rule, fact.path) not in number)
    said = []
    if told:
        said.append("number " + " and ".join(map(str, sorted(told))))
    said += rest
    return f"{pair_text(miss.ends)}, stopped by {', '.join(said)} only"


def gap(fact: Fact) -> str:
    """A fact in few words: the rule, what is required and what is there."""
    unit = f" {fact.unit}" if fact.unit else ""
    required, available = _figure(fact.required), _figure(fact.available)
    if required and available:
        return f"{fact.rule} at {fact.path} ({required}{unit} needed, {available}{unit} there)"
    return f"{fact.rule} at {fact.path}"


def pair_text(ends: tuple[PlannedEnd, PlannedEnd]) -> str:
    """Both ends in few words."""
    a, b = (_fitted(end) for end in ends)
    return f"{a} at both ends" if a == b else f"{a} at {ends[0].device} with {b} at {ends[1].device}"


def _fitted(end: PlannedEnd) -> str:
    plain = {"module": end.module or "a module", "fixed": "the port's own optic", "copper": "the copper socket"}[end.fitting]
    if end.converter:
        plain = f"{end.converter}" + (f" with {end.module}" if end.module else "")
    return plain + (f" and {end.attenuator}" if end.attenuator else "")


# -- what would help --------------------------------------------------------------------------------------------------


def _serving(refusal: Refusal) -> list[str]:
    if refusal.serving is None or any(fix.kind == "weight" for fix in refusal.fixes):
        return []
    return [_cut(f"To serve it all the same: {effect_text(refusal.serving)}.")]


def _fixes(refusal: Refusal, most: int) -> list[str]:
    if not refusal.fixes:
        if not refusal.fixes_searched:
            return [_cut(f"What would help was not searched for this link here: ask explain for {refusal.id}.")]
        return ["Nothing that was tried would help" + (" (cut short)." if refusal.cut_short else ".")]
    more = f" ({refusal.more_fixes} more were not solved)" if refusal.more_fixes else ""
    lines = [f"What would help, each solved again{more}:"]
    return lines + [line for letter, fix in zip("abc", refusal.fixes, strict=False) for line in _wrapped(fix_text(fix), f"  {letter}. ", "     ", most)]


def fix_text(fix: Fix) -> str:
    """A fix in one line: what to change, and what else that changes."""
    risk = f" (at your own risk{': ' + fix.caution if fix.caution else ''})" if fix.own_risk else ""
    return f"{fix.words}{risk}; {effect_text(fix.effect)}"


def effect_text(effect: Effect) -> str:
    """What else changes, in few words."""
    said = []
    if effect.loses:
        said.append(f"{_several(effect.loses, 'links')} then lose{'s its' if len(effect.loses) == 1 else ' their'} place")
    if effect.gains:
        said.append(f"{_several(effect.gains, 'links')} served as well")
    if effect.part_numbers:
        count = abs(effect.part_numbers)
        said.append(f"{count} {'more' if effect.part_numbers > 0 else 'fewer'} part number{'' if count == 1 else 's'}")
    if abs(effect.cost) >= 0.005:
        money = f"{abs(effect.cost):,.2f} {effect.currency}".rstrip()
        said.append(f"{money} {'more' if effect.cost > 0 else 'less'}" + (", priced as the dearest" if effect.unpriced else ""))
    return ", ".join(said) or "nothing else changes"


def _part(part: MissingPart | None) -> list[str]:
    return _wrapped(f"Ask for: {part.text}.", "", "  ", 2) if part is not None else []


# -- a served link ----------------------------------------------------------------------------------------------------

_OTHER = {
    "cheapest": "The cheapest that passes here",
    "obvious": "The cheapest of one part at both ends",
    "cheaper": "Cheaper",
}


def explanation_text(found: Explanation) -> str:
    """The text of a served link, from its own facts."""
    link = found.link
    head = [f"Link {link.id} runs at {link.rate} over {', '.join(link.over)}."]
    head += [f"  {end.device}/{end.port}: {_planned(end)}" for end in link.ends]
    head += [f"  {way.from_} to {way.to}: {_light(way)}" for way in link.directions]
    others = [_wrapped(other.text, "  ", "    ", 2) for other in found.alternatives]
    tail = ["Why nothing else:"] if others else []
    for lines in others:
        tail += lines if len(head) + len(tail) + len(lines) <= LINES else []
    room = LINES - len(head) - len(tail)
    return "\n".join(_cut(line) for line in [*head, *[f"  {note}" for note in link.notes][: max(room, 0)], *tail][:LINES])


def alternative_text(other: Alternative) -> str:
    """Another choice in few words: what it would break, or what it would change."""
    said = f"{_OTHER[other.why]}: {pair_text(other.ends)}"
    if other.breaches:
        return f"{said}; it breaks {', '.join(dict.fromkeys(gap(fact) for fact in other.breaches))}."
    if other.unknown:
        return f"{said}; it would rest on what nobody states: {', '.join(other.unknown)}."
    return f"{said}; with everything else as it is: {effect_text(other.effect)}."


def _planned(end: PlannedEnd) -> str:
    plain = {"module": end.module or "", "fixed": "its own optic", "copper": "its copper socket"}[end.fitting]
    extras = [("converter", end.converter), ("cord", end.cord), ("attenuator", end.attenuator)]
    return ", ".join([plain, *(f"{name} {part}" for name, part in extras if part)])


def _light(way: Direction) -> str:
    if way.margin_db is None:
        return "margin unknown"
    return f"{way.margin_db:.3f} dB to spare of {way.available_db} dB available, {way.loss_max_db} dB lost at most"


# -- lines ------------------------------------------------------------------------------------------------------------


def _several(names: Sequence[str], of: str) -> str:
    if len(names) <= 3:
        return ", ".join(names)
    return f"{', '.join(names[:2])} and {len(names) - 2} more {of}"


def _figure(value: float | str | None) -> str:
    if isinstance(value, float | int):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    return value or ""


def _cut(line: str) -> str:
    return line if len(line) <= WIDTH else line[: WIDTH - 3].rstrip() + "..."


def _wrapped(text: str, first: str, rest: str, most: int) -> list[str]:
    lines = textwrap.wrap(" ".join(text.split()), WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    if len(lines) > most:
        lines = [*lines[: most - 1], _cut(" ".join([lines[most - 1], *(line.strip() for line in lines[most:])]))]
    return lines
