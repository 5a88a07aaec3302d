"""Measure everything that the benchmarks measure, and write it down: ``python -m tests.benchmarks.record`` from the root of the source tree.

What is written is what was printed, under the command that printed it, with the date and the machine: `tests/benchmarks/measured.md`. It
takes twenty minutes; nothing else should run beside it.
"""

from __future__ import annotations

import datetime
import subprocess
import sys
from pathlib import Path

FILE = Path(__file__).with_name("measured.md")
MEASURED = (
    ("Beside models written by hand", "run --links 50 500 --parts 40 --no-papers --by-hand"),
    ("Growth with links and parts", "run --links 50 500 5000 --parts 40 400 --no-papers --times 5"),
    ("Large estates", "run --links 50000 --parts 40 400 --no-papers --times 2"),
    ("Other profiles", "run --links 500 5000 --parts 40 --profile single-strand tight ring --no-papers --times 3"),
    ("A catalog of parts that do not compare", "run --links 500 --parts 400 --profile hard --no-papers"),
    ("One change to a large network", "changes --links 5000 --parts 40"),
    ("One change with a large catalog", "changes --links 500 --parts 400"),
    ("A study of many variants", "sweeps --links 500 --variants 60 --executor none"),
    ("Stock and power that do not suffice", "shortage --links 500 1500 --stock 1 --share 0.95"),
    ("Power that does not suffice at many devices", "shortage --links 500 1500 --stock 0 --power 20 --share 0.9"),
    ("The papers", "papers --links 500 1500"),
)
"""A heading, and the module of this folder with its arguments."""


def measured(command: str) -> str:
    """What a benchmark prints."""
    module, *arguments = command.split()
    done = subprocess.run([sys.executable, "-m", f"tests.benchmarks.{module}", *arguments], stdout=subprocess.PIPE, text=True, check=False)
    return done.stdout.rstrip() if not done.returncode else f"{done.stdout}ended with {done.returncode}"


def section(heading: str, command: str) -> str:
    return f"## {heading}\n\n```text\n$ python -m tests.benchmarks.{command}\n{measured(command)}\n```\n"


def main() -> None:
    revision = subprocess.run(["git", "rev-parse", "--short", "HEAD"], stdout=subprocess.PIPE, text=True, check=False).stdout.strip()
    began = f"Measured on {datetime.datetime.now(datetime.UTC):%Y-%m-%d} at revision {revision or 'unknown'} by `python -m tests.benchmarks.record`."
    said = "The first line of each table is the machine. DEVELOPERS.md says what the columns mean, and where the library falls behind and why."
    texts = [f"# What the benchmarks printed\n\n{began}\n{said}\n"]
    for heading, command in MEASURED:
        texts.append(section(heading, command))
        FILE.write_text("\n".join(texts))


if __name__ == "__main__":
    main()
