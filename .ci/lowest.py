"""Print the lowest series of every dependency that pyproject.toml allows, as constraints for pip: `python .ci/lowest.py > lowest.txt`."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

_BOUND = re.compile(r"([A-Za-z0-9._-]+)>=([0-9][0-9A-Za-z.]*)")
_LIBRARY = ("workbook", "report", "plot", "confirm", "study")


def constraints(project: dict[str, object]) -> list[str]:
    """One line for each requirement of the library and its extras that states a lower bound."""
    extras = project["optional-dependencies"]
    stated = [*project["dependencies"], *(line for name in _LIBRARY for line in extras[name])]  # type: ignore[misc, index]
    return [f"{found[1]}=={found[2]}.*" for found in map(_BOUND.match, stated) if found]


if __name__ == "__main__":
    pyproject = Path(__file__).resolve().parent.parent / "pyproject.toml"
    sys.stdout.write("\n".join(constraints(tomllib.loads(pyproject.read_text(encoding="utf-8"))["project"])) + "\n")
