"""What a served link gets, in words."""

from __future__ import annotations

from optiselect.model.document import Noun, Text
from optiselect.model.plan import Direction, PlannedEnd, PlannedLink


class Explanation(Noun):
    """A served link with the same facts in words."""

    id: str
    link: PlannedLink
    text: Text


def explanation_of(link: PlannedLink) -> Explanation:
    """Put a served link into words: what is fitted, what the light has to spare, and every note."""
    lines = [f"Link {link.id} runs at {link.rate} over {', '.join(link.over)}."]
    lines += [f"  {end.device}/{end.port}: {_fitted(end)}" for end in link.ends]
    lines += [f"  {direction.from_} to {direction.to}: {_light(direction)}" for direction in link.directions]
    lines += [f"  {note}" for note in link.notes]
    return Explanation(id=link.id, link=link, text="\n".join(lines))


def _fitted(end: PlannedEnd) -> str:
    plain = {"module": end.module or "", "fixed": "its own optic", "copper": "its copper socket"}[end.fitting]
    extras = [("converter", end.converter), ("cord", end.cord), ("attenuator", end.attenuator)]
    return ", ".join([plain, *(f"{name} {part}" for name, part in extras if part)])


def _light(direction: Direction) -> str:
    if direction.margin_db is None:
        return "margin unknown"
    return f"{direction.margin_db:.3f} dB to spare of {direction.available_db} dB available, {direction.loss_max_db} dB lost at most"
