"""Documents of every release still load and give the same plan, and no schema changes under the number of its format."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from optiselect.formats.schema import json_schema
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.audit import check
from optiselect.solver.solve import solve_bare
from tests.golden.write import HERE, KINDS, schema_file, without_words

FOLDERS = sorted(path.parent for path in HERE.glob("*/*/plan.json"))


def documents(folder: Path) -> tuple[Network, Catalog, Policy]:
    return Network.load(folder / "network.yaml"), Catalog.load(folder / "catalog.yaml"), Policy.load(folder / "policy.yaml")


def acted_upon(plan: Plan) -> dict[str, Any]:
    """What is fitted, bought and not served, without the sentences about it."""
    told = plan.model_dump(mode="json", by_alias=True, include={"status", "objective", "links", "parts", "hashes"})
    return told | {"links": [{**link, "notes": None} for link in told["links"]], "unserved": [[refusal.id, refusal.kind] for refusal in plan.unserved]}


def test_there_are_golden_documents() -> None:
    assert {folder.name for folder in FOLDERS} >= {"demo", "pier", "harbor"}


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: f"{folder.parent.name}-{folder.name}")
def test_documents_of_a_release_give_the_plan_that_they_gave(folder: Path) -> None:
    assert acted_upon(solve_bare(*documents(folder))) == acted_upon(Plan.load(folder / "plan.json"))


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: f"{folder.parent.name}-{folder.name}")
def test_plan_of_a_release_still_passes_the_check(folder: Path) -> None:
    network, catalog, policy = documents(folder)
    assert [finding for finding in check(network, catalog, Plan.load(folder / "plan.json"), policy) if not (finding.unknown or finding.waived)] == []


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.what)
def test_schema_is_that_of_its_format_number(kind: type[Document]) -> None:
    kept = json.loads(schema_file(kind).read_text(encoding="utf-8"))
    assert without_words(json_schema(kind)) == kept, f"the schema of {kind.format()} has changed: count its format up, and read the old one as well"
