"""Malformed documents by number: what becomes of each, told by a process of its own with little memory.

`python -m tests.properties.malformed KIND FIRST COUNT` prints a line for each: its name, and "read", "refused", or what is wrong: anything
raised but the library's own errors, more than two seconds of the processor, or a document that was read and cannot be kept or planned.
"""

from __future__ import annotations

import csv
import io
import json
import signal
import sys
import time
import traceback
import zipfile
from collections import defaultdict
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import yaml

from optiselect.demo import demo_policy
from optiselect.errors import OptiselectError, PlanCheckError, SolverDisagreement
from optiselect.formats.eeprom import file_name_of
from optiselect.model.catalog import Catalog, Module
from optiselect.model.document import Document
from optiselect.model.inventory import Inventory
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from tests.formats.dumps import LAYOUTS
from tests.formats.invented_memory import qsfp, sfp
from tests.formats.quay import QUAY, SHELF
from tests.handover.pier import CATALOG, NETWORK, plan
from tests.properties.mutations import ODD, changed_bytes, changed_value
from tests.study.harbor import CATALOG as HARBOR_PARTS
from tests.study.harbor import NETWORK as HARBOR

SECONDS = 2.0
MEGABYTES = defaultdict(lambda: 512, planned=2048)
"""Address space; a plan needs the libraries of the search as well."""
TABLED: dict[str, Document] = {"quay": QUAY, "shelf": SHELF, "pier": NETWORK, "parts": CATALOG}
DOCUMENTS: dict[str, Document] = {**TABLED, "policy": demo_policy(), "plan": plan()}
Bad = Callable[[Random, Path], object]
Row = list[Any]


@cache
def _stated(name: str) -> Any:
    document = DOCUMENTS[name]
    return json.loads(json.dumps({"format": document.format(), **document.stated()}))


@cache
def _saved(name: str, file: str) -> dict[str, bytes]:
    """The files of a document as it is saved, by name."""
    with TemporaryDirectory() as folder:
        whole = Path(folder) / file
        DOCUMENTS[name].save(whole)
        return {path.name: path.read_bytes() for path in (sorted(whole.iterdir()) if whole.is_dir() else [whole])}


def _kept(name: str, path: Path) -> None:
    """Read a file; what is read all the same is saved and reads back equal."""
    kind = type(DOCUMENTS[name])
    read = kind.load(path)
    again = path.with_name(f"again{path.suffix}")
    read.save(again)
    assert kind.load(again) == read, "what was read does not read back equal"


def _yaml(draw: Random, folder: Path) -> None:
    document, path = draw.choice(list(DOCUMENTS)), folder / "it.yaml"
    if draw.random() < 0.5:
        path.write_bytes(changed_bytes(_saved(document, "it.yaml")["it.yaml"], draw))
    else:
        written = yaml.dump(changed_value(_stated(document), draw), Dumper=yaml.CDumper, sort_keys=False, default_flow_style=draw.choice([None, True, False]))
        path.write_text(written, encoding="utf-8")
    _kept(document, path)


def _json(draw: Random, folder: Path) -> None:
    document, path = draw.choice(list(DOCUMENTS)), folder / "it.json"
    if draw.random() < 0.4:
        path.write_bytes(changed_bytes(_saved(document, "it.json")["it.json"], draw))
    else:
        path.write_text(json.dumps(changed_value(_stated(document), draw)), encoding="utf-8")
    _kept(document, path)


def _changed_table(rows: list[Row], draw: Random, odd: tuple[Any, ...]) -> list[Row]:
    """A table with some cells, rows or columns that are not as they were."""
    for _ in range(draw.randint(1, 3)):
        row = draw.choice(rows)
        at = draw.randrange(len(row) or 1)
        draw.choice(
            (
                lambda row=row, at=at: row.__setitem__(slice(at, at + 1), [draw.choice(odd)]),
                lambda row=row, at=at: row.__setitem__(slice(at, at + 1), [draw.choice(odd)]),
                lambda row=row, at=at: row.__setitem__(slice(at, at + 1), []),
                lambda row=row: row.append(draw.choice(odd)),
                lambda row=row: rows.insert(draw.randrange(len(rows) + 1), list(row)),
                lambda row=row: draw.shuffle(row),
                lambda at=at: [each.__setitem__(slice(at, at + 1), each[:1]) for each in rows],
            )
        )()
    return rows


CELLS = (
    *(str(value) for value in ODD if not isinstance(value, list | dict)),
    *("=x", "'", "''", "[", "[1", "{}", "a; b", "a;", ";", "OM1=550; OM2=", "OM1=550; OM1=1", "=", "850=1;850=2", "1 to", "[" * 40, "1; 2; 3"),
    *("id", "id ", "fiber.grade"),
)


def _csv(draw: Random, folder: Path) -> None:
    document, path = draw.choice(list(TABLED)), folder / "it"
    tables = _saved(document, "it")
    path.mkdir()
    broken = draw.choice(sorted(tables))
    for name, raw in tables.items():
        if name == broken and draw.random() < 0.5:
            raw = changed_bytes(raw, draw)
        elif name == broken:
            out = io.StringIO(newline="")
            csv.writer(out).writerows(_changed_table(list(csv.reader(io.StringIO(raw.decode(), newline=""))), draw, CELLS))
            raw = out.getvalue().encode("utf-8", "surrogatepass")
        (path / name).write_bytes(raw)
    _kept(document, path)


def _xlsx(draw: Random, folder: Path) -> None:
    document, path = draw.choice(list(TABLED)), folder / "it.xlsx"
    raw = _saved(document, "it.xlsx")["it.xlsx"]
    way = draw.random()
    if way < 0.1:
        path.write_bytes(changed_bytes(raw, draw))
    elif way < 0.6:
        _with_changed_part(raw, path, draw)
    else:
        _with_changed_cells(document, path, draw)
    _kept(document, path)


def _with_changed_part(raw: bytes, path: Path, draw: Random) -> None:
    with zipfile.ZipFile(io.BytesIO(raw)) as sound, zipfile.ZipFile(path, "w") as archive:
        broken = draw.choice([name for name in sound.namelist() if name.startswith("xl/") or draw.random() < 0.3])
        for part in sound.namelist():
            archive.writestr(part, changed_bytes(sound.read(part), draw) if part == broken else sound.read(part))


def _with_changed_cells(document: str, path: Path, draw: Random) -> None:
    import xlsxwriter

    tables = {name.removesuffix(".csv"): list(csv.reader(io.StringIO(raw.decode(), newline=""))) for name, raw in _saved(document, "it").items()}
    broken = draw.choice(sorted(tables))
    odd = (*(value for value in ODD if not isinstance(value, list | dict) and value == value and value not in (float("inf"), 10**30, -(10**30))), *CELLS)
    with xlsxwriter.Workbook(path, {"in_memory": True, "strings_to_urls": False, "strings_to_formulas": draw.random() < 0.3}) as book:
        for name, rows in tables.items():
            sheet = book.add_worksheet(name if name != broken or draw.random() < 0.95 else "other")
            for number, row in enumerate(_changed_table(rows, draw, odd) if name == broken else rows):
                for column, cell in enumerate(row):
                    sheet.write(number, column, cell)
        if draw.random() < 0.1:
            book.get_worksheet_by_name(book.worksheets()[0].name).merge_range(0, 0, 3, 3, "merged")


def _graph(draw: Random, _folder: Path) -> None:
    import networkx

    graph = draw.choice((QUAY, NETWORK)).to_graph(flat=draw.random() < 0.5)
    for _ in range(draw.randint(1, 3)):
        held = draw.choice([graph.graph, *(data for _, data in graph.nodes(data=True)), *(data for *_, data in graph.edges(data=True))])
        key = draw.choice(sorted(held) or ["run"])
        old = held.get(key)
        text = changed_bytes(old.encode(), draw).decode("utf-8", "replace") if isinstance(old, str) else changed_value({"": old}, draw).get("")
        held[draw.choice([key, key, key, key, "device", "panel", "run", "site"])] = draw.choice([text, text, draw.choice(ODD)])
    if draw.random() < 0.2:
        graph.add_node(draw.choice([0, "", "a/b", ("x", 1), "core"])) if draw.random() < 0.5 else graph.add_edge("010", "010", key=draw.choice([None, "F1", 7]))
    if draw.random() < 0.2:
        graph = draw.choice([networkx.Graph, networkx.DiGraph, networkx.MultiDiGraph])(graph)
    if draw.random() < 0.3:
        graph = networkx.node_link_graph(networkx.node_link_data(graph, edges="edges"), edges="edges")
    read = Network.from_graph(graph)
    assert Network.from_graph(read.to_graph(flat=True)) == read, "what was read does not read back equal"


FILE_NAMES = (*(file_name_of(port) for port in ("a/1", "core a/é", "x/1-2", "../..", "b/1", "b/2")), "a.hex", "a__b__c.txt", "a__%2F.bin", "a__%FF.hex")


def _memory(draw: Random, folder: Path) -> None:
    memory = bytearray(draw.choice((sfp, qsfp))())
    for _ in range(draw.randint(0, 6)):
        memory[draw.randrange(len(memory))] = draw.randrange(256)
    if draw.random() < 0.7:  # sound check codes let the reader go on to the fields
        for first, at in ((0, 63), (64, 95), (256, 351)) if memory[0] == 3 else ((128, 191), (192, 223)):
            memory[at] = sum(memory[first:at]) & 0xFF
    text = draw.random() < 0.7
    raw = draw.choice(LAYOUTS)(bytes(memory)).encode() if text else bytes(memory)
    raw = changed_bytes(raw, draw) if draw.random() < 0.5 else raw
    path = folder / draw.choice(FILE_NAMES)
    path.write_bytes(raw)
    try:
        Module.from_memory(path)
    finally:
        Inventory.from_memory(folder, CATALOG)


def _planned(draw: Random, _folder: Path) -> None:
    """A network, its parts and a policy, one of which is not what it was, are refused or planned."""
    from optiselect.solver.solve import solve

    raw = {"network": HARBOR, "catalog": HARBOR_PARTS, "policy": {"time_limit_s": 5, "spares": {"service_level": 0.9}, "keep_installed": "prefer"}}
    changed = draw.choice(["network", "network", "catalog", "catalog", "policy"])
    raw[changed] = changed_value(raw[changed], draw, 1)
    plan = solve(Network(**raw["network"]), Catalog(**raw["catalog"]), Policy(**raw["policy"]))
    assert Plan(**json.loads(json.dumps(plan.model_dump(mode="json", by_alias=True)))) == plan, "the plan does not read back equal"


KINDS: dict[str, Bad] = {"planned": _planned, "yaml": _yaml, "json": _json, "csv": _csv, "xlsx": _xlsx, "graph": _graph, "memory": _memory}


def outcome(kind: str, number: int) -> str:
    """What becomes of one malformed document: "read", "refused", or what is wrong with how it was taken."""
    began = time.process_time()
    with TemporaryDirectory() as folder:
        try:
            KINDS[kind](Random(f"{kind} {number}"), Path(folder))
            told = "read"
        except (PlanCheckError, SolverDisagreement) as error:
            told = f"a fault of the library: {error}"
        except OptiselectError as error:
            told = "refused" if str(error) else "an error without words"
        except Exception:
            told = traceback.format_exc(limit=-4)
    seconds = time.process_time() - began
    return told if seconds <= SECONDS else f"took {seconds:.1f} s"


def main(kind: str, first: int, count: int) -> None:
    """Take so many documents within the memory, each with a minute of the clock before the process is ended."""
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEGABYTES[kind] * 1024 * 1024,) * 2)
    for number in range(first, first + count):
        signal.alarm(60)
        sys.stdout.write(json.dumps([f"{kind} {number}", outcome(kind, number)]) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
