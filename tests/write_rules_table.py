"""Write the README's table of rules anew from the rules themselves: ``python -m tests.write_rules_table``."""

from __future__ import annotations

import re
from pathlib import Path

from optiselect.handover.rulebook import rules_markdown

README = Path(__file__).resolve().parent.parent / "README.md"
TABLE = re.compile(r"(<!-- rules: .*? -->\n)(.*?)(\n<!-- end of rules -->)", re.DOTALL)


def rewritten(text: str) -> str:
    """The text of the README with the table as it must be."""
    return TABLE.sub(lambda found: found[1] + rules_markdown() + found[3], text)


if __name__ == "__main__":
    README.write_text(rewritten(README.read_text(encoding="utf-8")), encoding="utf-8")
