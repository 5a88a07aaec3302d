"""Which links end at devices, against a look at every link; also where a network follows another."""

from __future__ import annotations

from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.solver.links_at import LinksAt

DEVICES = "abcdef"


def row(draw: Random) -> Any:
    """A link between two devices, or from one to itself."""
    return SimpleNamespace(groups=tuple((SimpleNamespace(device=SimpleNamespace(id=draw.choice(DEVICES))),) for _ in "ab"))


def by_looking(rows: dict[str, Any], devices: set[str]) -> list[str]:
    return sorted(link_id for link_id, its in rows.items() if {groups[0].device.id for groups in its.groups} & devices)


@pytest.mark.parametrize("seed", range(40))
def test_links_at_devices_are_those_that_a_look_at_all_finds(seed: int) -> None:
    draw = Random(seed)
    rows = {f"L{number:02}": row(draw) for number in range(draw.randint(0, 12))}
    same = {link_id for link_id in rows if draw.random() < 0.7}
    after = {link_id: its if link_id in same else row(draw) for link_id, its in rows.items() if link_id in same or draw.random() < 0.5}
    after |= {f"L{number:02}": row(draw) for number in range(12, 12 + draw.randint(0, 2))}
    without_rows = {draw.choice([*same])} if same and draw.random() < 0.3 else set()  # the same, and yet nothing serves it now
    after = {link_id: after[link_id] for link_id in sorted(after.keys() - without_rows)}
    before = LinksAt(rows)
    following = LinksAt(after, before, frozenset(same))
    for _ in range(8):
        devices = {draw.choice(DEVICES) for _ in range(draw.randint(0, 3))}
        assert before.of(devices) == by_looking(rows, devices)
        assert following.of(devices) == LinksAt(after).of(devices) == by_looking(after, devices)
