"""The rules as a table to read: what each one holds, why, and on whose word."""

from __future__ import annotations

from optiselect.rules import ALL_RULES


def rules_markdown() -> str:
    """All rules as a Markdown table, in the order in which they are tried; the README carries it word for word."""
    head = ["| rule | holds when | otherwise | source |", "|---|---|---|---|"]
    return "\n".join(head + [f"| `{rule.id}` | {_cell(rule.statement)} | {_cell(rule.why)} | {_cell(rule.source)} |" for rule in ALL_RULES])


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|").rstrip(".")
