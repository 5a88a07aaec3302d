"""Workbooks and folders of CSV: the same documents, nothing lost, every fault at its cell."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optiselect.demo import demo_catalog, demo_network
from optiselect.errors import DocumentError, OptiselectError
from optiselect.formats.columns import TABLE_NAMES
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from tests.formats.quay import QUAY, SHELF
from tests.handover.pier import CATALOG, NETWORK

ODD = Network(name="=1+1", devices=[{"id": "010", "name": ""}, {"id": "-x", "name": "[1]"}, {"id": "'q", "name": "{"}, {"id": "1e3"}], links=[])


@pytest.mark.parametrize("name", ["it.xlsx", "it"])
@pytest.mark.parametrize("document", [demo_network(), demo_catalog(), NETWORK, CATALOG, QUAY, SHELF, ODD, Network(), Catalog()])
def test_tables_lose_nothing(document: Document, name: str, tmp_path: Path) -> None:
    document.save(tmp_path / name)
    assert type(document).load(tmp_path / name) == document


def test_text_of_a_table_is_never_a_formula(tmp_path: Path) -> None:
    ODD.save(tmp_path / "it")
    assert "'=1+1" in (tmp_path / "it" / "network.csv").read_text(encoding="utf-8")


def test_links_of_an_earlier_save_are_gone(tmp_path: Path) -> None:
    NETWORK.save(tmp_path / "it")
    Network(name="bare").save(tmp_path / "it")
    assert Network.load(tmp_path / "it") == Network(name="bare")


@pytest.mark.parametrize("columns", ["optic,optic.tx_nm_low,optic.tx_nm_high", "optic.tx_nm_low,optic.tx_nm_high,optic"])
def test_key_given_whole_and_in_parts_is_a_fault(columns: str, tmp_path: Path) -> None:
    cells = {"optic": "{}", "optic.tx_nm_low": "1480", "optic.tx_nm_high": "1500"}
    (tmp_path / "devices.csv").write_text("id\na\n", encoding="utf-8")
    (tmp_path / "ports.csv").write_text(f"device,id,kind,{columns}\na,1,fixed,{','.join(map(cells.__getitem__, columns.split(',')))}\n", encoding="utf-8")
    with pytest.raises(DocumentError, match=r"gives again what another column gives|is given whole by another column"):
        Network.load(tmp_path)


def test_new_folder_is_there_as_a_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.fsync", _raise_at(4, OSError(28, "No space left on device"), os.fsync))
    with pytest.raises(OptiselectError, match="No space left"):
        QUAY.save(tmp_path / "it")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("call", "nth"), [("os.fsync", 3), ("os.replace", 1), ("os.replace", 3), ("pathlib.Path.unlink", 1)])
def test_failed_save_of_a_folder_leaves_the_old_tables_and_files(call: str, nth: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    QUAY.save(tmp_path / "it")
    (tmp_path / "it" / "notes.txt").write_text("ours", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in (tmp_path / "it").iterdir()}
    with monkeypatch.context() as patch:
        owner, _, name = call.rpartition(".")
        real = getattr(os if owner == "os" else Path, name)
        patch.setattr(call, _raise_at(nth, PermissionError(13, "Permission denied"), real))
        with pytest.raises(OptiselectError, match="Permission denied"):
            NETWORK.model_copy(update={"panels": ()}).save(tmp_path / "it")
    assert {path.name: path.read_bytes() for path in (tmp_path / "it").iterdir()} == before


def test_save_to_a_folder_leaves_other_files_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("ours", encoding="utf-8")
    QUAY.save(tmp_path)
    NETWORK.save(tmp_path)
    assert Network.load(tmp_path) == NETWORK
    assert {path.name for path in tmp_path.iterdir()} - {f"{name}.csv" for name in ("network", *TABLE_NAMES["network"])} == {"notes.txt"}


def _raise_at(nth: int, error: OSError, real: Callable[..., Any]) -> Callable[..., Any]:
    calls = itertools.count(1)

    def call(*args: Any, **kwargs: Any) -> Any:
        if next(calls) == nth:
            raise error
        return real(*args, **kwargs)

    return call


@pytest.mark.parametrize("cls", [Network, Catalog])
def test_table_of_single_values_has_one_row(cls: type[Document], tmp_path: Path) -> None:
    what = cls.what
    (tmp_path / f"{what}.csv").write_text("name\nquay\n\npier\nmole\n", encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        cls.load(tmp_path)
    assert [(fault.place, fault.message) for fault in caught.value.faults] == [
        (f"{what}.csv row 4 column name", f"one row of values is due in table {what}"),
        (f"{what}.csv row 5 column name", f"one row of values is due in table {what}"),
    ]


def test_fault_of_a_folder_names_file_row_and_column(tmp_path: Path) -> None:
    (tmp_path / "devices.csv").write_text("id,module_power_w\na,12:30\n", encoding="utf-8")
    (tmp_path / "ports.csv").write_text('device,id,kind,rates\nb,1,copper,"[""1G""]"\n', encoding="utf-8")
    (tmp_path / "zzz.csv").write_text("id\n", encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        Network.load(tmp_path)
    assert {fault.place for fault in caught.value.faults} == {
        "devices.csv row 2 column module_power_w",
        "ports.csv row 2 column device",
        "zzz.csv row 1 column id",
    }


def test_what_is_no_workbook_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "it.xlsx").write_bytes(b"not a zip")
    with pytest.raises(DocumentError, match="not a workbook"):
        Network.load(tmp_path / "it.xlsx")


def test_policy_has_no_tables(tmp_path: Path) -> None:
    with pytest.raises(DocumentError, match="a policy is read from"):
        Policy.load(tmp_path)
