"""Write the documents and schemas of this release: `python -m tests.golden.write`, once before a release, never after it.

Each release keeps its folder: what was written then must load, and give the same plan, for as long as its format is read.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import optiselect
from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.formats.schema import json_schema
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.solve import solve
from tests.handover import pier
from tests.study import harbor

HERE = Path(__file__).resolve().parent
KINDS: tuple[type[Document], ...] = (Network, Catalog, Policy, Plan)
Documents = tuple[Network, Catalog, Policy]
SITES: dict[str, Callable[[], Documents]] = {
    "demo": lambda: (demo_network(), demo_catalog(), demo_policy()),
    "pier": lambda: (pier.NETWORK, pier.CATALOG, Policy(time_limit_s=30)),
    "harbor": lambda: (Network(**harbor.NETWORK), Catalog(**harbor.CATALOG), Policy(spares={"service_level": 0.99}, keep_installed="prefer")),
}


def schema_file(kind: type[Document]) -> Path:
    """Where the schema of a format is kept."""
    return HERE / "schemas" / f"{kind.format().replace('/', '-')}.json"


def without_words(schema: Any) -> Any:
    """A schema without its titles and descriptions, which bind nobody."""
    if isinstance(schema, list):
        return [without_words(item) for item in schema]
    if isinstance(schema, dict):
        words = [key for key in ("title", "description", "$comment") if isinstance(schema.get(key), str)]
        return {key: without_words(value) for key, value in schema.items() if key not in words}
    return schema


def main() -> None:
    """Write everything."""
    for name, documents in SITES.items():
        folder = HERE / optiselect.__version__ / name
        folder.mkdir(parents=True, exist_ok=True)
        network, catalog, policy = documents()
        for document in (network, catalog, policy):
            document.save(folder / f"{document.what}.yaml")
        solve(network, catalog, policy).save(folder / "plan.json")
    schema_file(Network).parent.mkdir(exist_ok=True)
    for kind in KINDS:
        schema_file(kind).write_text(json.dumps(without_words(json_schema(kind)), indent=1, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
