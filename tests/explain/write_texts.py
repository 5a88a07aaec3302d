"""Write every text of the scenes and of the demo into texts.yaml: ``python -m tests.explain.write_texts``; then read each of them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from optiselect import Plan, explain, solve
from optiselect.demo import demo_catalog, demo_network, demo_policy
from tests.explain.scenes import SCENES

TEXTS = Path(__file__).with_name("texts.yaml")
DEMO = ("gate-1", "harbor-office", "booth-1", "bench", "customs-1")
"""Served links of the demo whose explanation is kept."""


@cache
def demo_plan() -> Plan:
    """The plan of the demo."""
    return solve(demo_network(), demo_catalog(), demo_policy())


def texts() -> Iterator[tuple[str, str]]:
    """What is told, by what it is told of."""
    for name, scene in SCENES.items():
        yield name, "\n\n".join(refusal.text for refusal in solve(*scene()).unserved)
    for refusal in demo_plan().unserved:
        yield f"demo: {refusal.id}", refusal.text
    for link in DEMO:
        yield f"demo, served: {link}", explain(demo_network(), demo_catalog(), link, demo_policy()).text


def as_yaml(told: Iterator[tuple[str, str]]) -> str:
    """Names and texts as YAML, each text as it would be read."""
    blocks = (f'"{name}": |-\n' + "\n".join(f"  {line}".rstrip() for line in text.splitlines()) + "\n" for name, text in told)
    return "# Whole texts, each read as an integrator would; written by write_texts.py.\n" + "\n".join(blocks)


if __name__ == "__main__":
    TEXTS.write_text(as_yaml(texts()), encoding="utf-8")
