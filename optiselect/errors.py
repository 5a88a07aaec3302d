"""What can go wrong at the door, as one family of exceptions.

A network that cannot be served is not an error: it is a plan with reasons (`Plan.unserved`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, order=True)
class Fault:
    """One thing that is wrong in a document.

    Attributes:
        path: where in the document, for example ``devices[3].ports[1].rates``; "" for the whole.
        message: what is wrong, and what would be right.
        place: where in the file, for example ``network.yaml:14:9`` or ``network.xlsx ports!C7``; "" when not read from a file.
    """

    path: str
    message: str
    place: str = ""

    def __str__(self) -> str:
        where = " ".join(part for part in (self.place, self.path) if part)
        return f"{where}: {self.message}" if where else self.message


class OptiselectError(Exception):
    """Base of every exception that optiselect raises on purpose."""


class DocumentError(OptiselectError):
    """A network, catalog, policy or plan that cannot be used; carries every fault, not only the first.

    Attributes:
        faults: all faults, in the order of the document.
        what: what was being read ("network", "catalog", ...).
    """

    def __init__(self, faults: Iterable[Fault], what: str = "document") -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        self.what = what
        count = len(self.faults)
        head = f"{what}: {count} fault{'' if count == 1 else 's'}"
        super().__init__("\n".join([head, *(f"  {fault}" for fault in self.faults)]))

    def __reduce__(self) -> tuple[type[DocumentError], tuple[tuple[Fault, ...], str]]:
        return type(self), (self.faults, self.what)


class NewerFormatError(DocumentError):
    """A document whose format number is newer than this version of the library reads."""


class UnknownNameError(OptiselectError):
    """A link, device, part or standard that was asked for by a name that nothing has; or a plan that leaves links of its network out."""


class MismatchError(OptiselectError):
    """A plan and a document that it was not made from.

    Attributes:
        documents: which of network, catalog and policy are other ones than the plan's.
    """

    def __init__(self, documents: Iterable[str]) -> None:
        self.documents = tuple(documents)
        super().__init__(
            f"the plan was not made from this {' and not from this '.join(self.documents)}: papers of mixed documents would send people to the wrong "
            "port; hand over the documents that were planned, or plan again"
        )

    def __reduce__(self) -> tuple[type[MismatchError], tuple[tuple[str, ...]]]:
        return type(self), (self.documents,)


class MissingExtraError(OptiselectError):
    """Something was asked for that needs a library which an extra of optiselect brings.

    Attributes:
        extra: its name.
    """

    def __init__(self, extra: str) -> None:
        self.extra = extra
        super().__init__(f"this needs an extra: pip install 'optiselect[{extra}]'")

    def __reduce__(self) -> tuple[type[MissingExtraError], tuple[str]]:
        return type(self), (self.extra,)


class Cancelled(OptiselectError):
    """Raised inside the solver to unwind after the caller's cancel signal; `solve` turns it into a plan."""


class SolverDisagreement(OptiselectError):
    """Two provers say different things of what is best: a fault in one of them, which nobody may hide.

    Attributes:
        case: the documents and what was said, as JSON values; `save` writes them, to be reported.
    """

    def __init__(self, said: str, case: Mapping[str, Any]) -> None:
        self.said, self.case = said, dict(case)
        super().__init__(f"two provers disagree, so no plan is handed over; please report it with the case (`error.save(path)`): {said}")

    def save(self, path: str | Path) -> None:
        """Write the case as one JSON file."""
        Path(path).write_text(json.dumps(self.case, indent=1), encoding="utf-8")

    def __reduce__(self) -> tuple[type[SolverDisagreement], tuple[str, dict[str, Any]]]:
        return type(self), (self.said, self.case)


class PlanCheckError(OptiselectError):
    """The independent check found that a finished plan breaks a rule: a fault of this library, never of the input.

    Attributes:
        findings: what the check found.
    """

    def __init__(self, findings: Iterable[object]) -> None:
        self.findings = tuple(findings)
        super().__init__(
            "the finished plan did not pass its own check; please report it with the documents:\n" + "\n".join(f"  {finding}" for finding in self.findings)
        )

    def __reduce__(self) -> tuple[type[PlanCheckError], tuple[tuple[object, ...]]]:
        return type(self), (self.findings,)
