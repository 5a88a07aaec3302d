"""Text of documents made harmless to print: nothing that steers a terminal, a page or the direction of what follows."""

from __future__ import annotations


def clean(text: str) -> str:
    """The text with every character that does not print, line ends apart, as one that says so."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() or char == "\n" else "\N{REPLACEMENT CHARACTER}" for char in text)
