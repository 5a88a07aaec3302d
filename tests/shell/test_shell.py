"""The shell: what it prints, where, and with which exit code."""

from __future__ import annotations

import _thread
import io
import json
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

import optiselect
from optiselect import Module, Network, Plan
from optiselect.__main__ import _Bar, main
from optiselect.demo.memory import demo_memory, dump_text
from optiselect.solver.progress import Progress

_NETWORK = """\
format: optiselect-network/1
name: Lantern pier
sites: [{id: office, ambient_c: [15, 30], building: main}, {id: head, ambient_c: [0, 40], building: head}]
devices:
  - {id: core, site: office, ports: [{ids: 1-4, kind: cage, form: SFP, rates: [1G]}]}
  - {id: cam, site: head, ports: [{id: up, kind: cage, form: SFP, rates: [1G]}]}
runs:
  - {id: F1, ends: [core, cam], fiber: {grade: OS2, length_m: 400, strands: 4}}
links: [{id: L1, ends: [core/1, cam/up], rate: 1G}]
installed: {core/1: LAN-LX, cam/up: LAN-LX}
"""
_CATALOG = """\
format: optiselect-catalog/1
name: Lantern parts
currency: EUR
modules:
  - {part: LAN-LX, standard: 1000BASE-LX10, form: SFP, connector: LC, temperature_c: [-40, 85], power_w: 1.0, laser_class: '1', price: 31}
"""


@pytest.fixture
def pier(tmp_path: Path) -> Path:
    (tmp_path / "network.yaml").write_text(_NETWORK, encoding="utf-8")
    (tmp_path / "catalog.yaml").write_text(_CATALOG, encoding="utf-8")
    return tmp_path


def _change(path: Path, old: str, new: str) -> None:
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")


def _arguments(command: str, pier: Path, *more: str) -> list[str]:
    return [command, str(pier / "network.yaml"), str(pier / "catalog.yaml"), *more]


def test_plan_that_serves_every_link_ends_with_0_and_shows_the_order(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments("plan", pier)) == 0

    shown = capsys.readouterr()
    assert "1 of 1 links served; proven best on every objective" in shown.out
    assert "Total 62.00 EUR" in shown.out
    assert shown.err == ""


def test_plan_with_a_link_that_cannot_be_served_ends_with_1_and_says_why(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _change(pier / "network.yaml", "length_m: 400", "length_m: 14000")

    assert main(_arguments("plan", pier)) == 1
    assert "L1 (impossible)" in capsys.readouterr().out


def test_plan_as_json_is_a_plan_document(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(_arguments("plan", pier, "--json"))
    plan = Plan(**json.loads(capsys.readouterr().out))

    assert [end.module for link in plan.links for end in link.ends] == ["LAN-LX", "LAN-LX"]


def test_plan_is_saved_and_its_papers_are_written_where_asked(pier: Path) -> None:
    main(_arguments("plan", pier, "--save", str(pier / "plan.json"), "--papers", str(pier / "papers")))

    assert Plan.load(pier / "plan.json") == Plan.load(pier / "papers" / "plan.json")


def test_faults_of_all_documents_are_listed_on_standard_error_and_nothing_else_happens(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _change(pier / "network.yaml", "length_m: 400", "length_m: -1")
    _change(pier / "catalog.yaml", "price: 31", "prize: 31")
    (pier / "policy.yaml").write_text("format: optiselect-policy/1\neffort: soon\n", encoding="utf-8")

    assert main(_arguments("plan", pier, "--policy", str(pier / "policy.yaml"), "--save", str(pier / "plan.json"))) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert [line.split()[0].rpartition("/")[2].partition(":")[0] for line in shown.err.splitlines()[1:]] == ["network.yaml", "catalog.yaml", "policy.yaml"]
    assert not (pier / "plan.json").exists()


def test_faults_as_json_keep_path_and_place_apart(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _change(pier / "network.yaml", "length_m: 400", "length_m: -1")

    assert main(_arguments("plan", pier, "--json")) == 2
    faults = json.loads(capsys.readouterr().err)["faults"]
    assert [(fault["path"], fault["place"].rpartition("/")[2][:14]) for fault in faults] == [("runs[0].fiber.length_m", "network.yaml:8")]


def test_a_file_that_is_not_there_ends_with_2(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(pier / "nowhere.yaml")]) == 2
    assert "nowhere.yaml" in capsys.readouterr().err


def test_two_catalogs_add_up(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (pier / "more.yaml").write_text(_CATALOG.replace("LAN-LX", "LAN-B").replace("price: 31", "price: 3"), encoding="utf-8")

    assert main(_arguments("plan", pier, str(pier / "more.yaml"), "--json")) == 0
    assert {line["part"] for line in json.loads(capsys.readouterr().out)["parts"]} == {"LAN-B"}


def test_check_of_what_is_installed_ends_with_0_when_nothing_is_found(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments("check", pier)) == 0
    assert capsys.readouterr().out == "0 findings\n"


def test_check_ends_with_1_when_an_installed_module_cannot_stay(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _change(pier / "network.yaml", "ambient_c: [0, 40]", "ambient_c: [0, 75]")

    assert main(_arguments("check", pier, "--json")) == 1
    assert {finding["rule"] for finding in json.loads(capsys.readouterr().out)} == {"temperature"}


def test_check_audits_a_plan_that_was_saved(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(_arguments("plan", pier, "--save", str(pier / "plan.json")))
    capsys.readouterr()

    assert main(_arguments("check", pier, "--plan", str(pier / "plan.json"))) == 0


def test_check_audits_a_folder_of_module_memories(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (pier / "dumps").mkdir()
    module = Module(part="LAN-SX", standard="1000BASE-SX", form="SFP", rates=("1G",))
    for name in ("core__1.hex", "cam__up.hex"):
        (pier / "dumps" / name).write_text(dump_text(demo_memory(module)), encoding="ascii")

    assert main(_arguments("check", pier, "--memory", str(pier / "dumps"))) == 1
    assert "fiber-mode: core/1: LAN-SX is multimode" in capsys.readouterr().out


def test_check_lists_the_faults_of_every_dump(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (pier / "dumps").mkdir()
    for name in ("core__1.hex", "cam__up.hex"):
        (pier / "dumps" / name).write_text("03 04 07", encoding="ascii")

    assert main(_arguments("check", pier, "--memory", str(pier / "dumps"))) == 2
    assert [line.split(":")[0].strip() for line in capsys.readouterr().err.splitlines()] == ["module memory", "cam__up.hex", "core__1.hex"]


def test_explain_of_a_served_link_says_what_is_fitted(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments("explain", pier, "--link", "L1")) == 0
    assert "core/1: LAN-LX" in capsys.readouterr().out


def test_explain_of_a_link_that_cannot_be_served_ends_with_1(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _change(pier / "network.yaml", "length_m: 400", "length_m: 14000")

    assert main(_arguments("explain", pier, "--link", "L1", "--json")) == 1
    assert json.loads(capsys.readouterr().out)["kind"] == "impossible"


def test_explain_of_a_link_that_is_not_there_is_an_input_fault(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments("explain", pier, "--link", "L9")) == 2
    assert "there is no link 'L9'" in capsys.readouterr().err


@pytest.mark.parametrize("document", ["network", "catalog", "policy", "plan"])
def test_schema_is_json_and_names_the_format(document: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", document]) == 0
    assert json.loads(capsys.readouterr().out)["properties"]["format"]["const"] == f"optiselect-{document}/1"


def test_demo_leaves_documents_plan_and_papers_in_the_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", str(tmp_path / "demo")]) == 0

    names = {path.name for path in (tmp_path / "demo").rglob("*")}
    assert {"network.yaml", "catalog.yaml", "policy.yaml", "plan.json", "bill.csv", "ends.csv", "unserved.txt", "cautions.txt"} <= names
    assert Network.load(tmp_path / "demo" / "network.yaml").name in capsys.readouterr().out


def test_a_command_that_is_not_there_is_an_input_fault() -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["guess"])


def test_control_characters_of_a_document_never_reach_the_terminal(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _change(pier / "network.yaml", "name: Lantern pier", 'name: "Lantern \\e[2J pier"')

    main(_arguments("plan", pier))
    assert "Lantern \\x1b[2J pier" in capsys.readouterr().out


def test_interrupt_asks_the_solver_to_stop_and_shows_the_plan_so_far(pier: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    def slow(*documents: Any, on_progress: Any, cancel: threading.Event) -> Plan:
        _thread.interrupt_main()
        assert cancel.wait(30)
        return Plan(status="feasible", reproducible=False)

    monkeypatch.setattr(optiselect, "solve", slow)

    assert main(_arguments("plan", pier)) == 0
    shown = capsys.readouterr()
    assert "stopping" in shown.err
    assert "cut short by the clock or by hand" in shown.out


def test_a_fault_of_the_library_is_never_taken_for_an_unserved_link(pier: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*documents: Any, **options: Any) -> Plan:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(optiselect, "solve", broken)

    assert main(_arguments("plan", pier)) == 3
    assert "ZeroDivisionError: inside" in capsys.readouterr().err


# -- the ends that a command can come to --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raised", "code"),
    [(optiselect.PlanCheckError(["L1: rate"]), 3), (KeyboardInterrupt(), 130), (optiselect.OptiselectError("no"), 2)],
    ids=lambda value: type(value).__name__,
)
def test_end_of_a_command_has_its_code(raised: BaseException, code: int, pier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(*_: Any, **__: Any) -> Plan:
        raise raised

    monkeypatch.setattr(optiselect, "solve", solve)
    assert main(_arguments("plan", pier)) == code


def test_second_interrupt_leaves_at_once(pier: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    left = threading.Event()

    def deaf(*documents: Any, on_progress: Any, cancel: threading.Event) -> Plan:
        _thread.interrupt_main()
        assert cancel.wait(30)
        _thread.interrupt_main()
        left.wait(30)
        return Plan(status="feasible")

    monkeypatch.setattr(optiselect, "solve", deaf)
    assert main(_arguments("plan", pier)) == 130
    left.set()
    assert "Ctrl-C again" in capsys.readouterr().err


def test_reader_that_has_gone_ends_a_command(pier: Path) -> None:
    command = [sys.executable, "-m", "optiselect", *_arguments("plan", pier, "--json")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=Path(optiselect.__file__).parents[1]) as process:
        assert process.stdout and process.stderr
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 130


def test_streams_that_cannot_be_told_how_to_write_are_written_to(pier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = io.StringIO()
    monkeypatch.setattr(sys, "stdout", kept)
    assert main(_arguments("plan", pier)) == 0
    assert "1 of 1 links served" in kept.getvalue()


def test_terminal_is_shown_how_far_the_plan_is(pier: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    assert main(_arguments("plan", pier)) == 0
    shown = capsys.readouterr().err
    assert "choice  [" in shown
    assert shown.endswith("\r\x1b[K")


def test_bar_says_what_is_proven_and_stays_empty_where_nothing_is_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    bar = _Bar()
    bar(Progress("choice", 1, 2, "cost", 5.0, 5.0, 1.25))
    bar(Progress("check", 0, 0))
    assert capsys.readouterr().err.split("\r\x1b[K")[1:] == [f"choice  [{'#' * 15}{' ' * 15}]   1.2 s cost proven", f"check   [{' ' * 30}]   0.0 s "]


def test_note_of_an_inventory_is_told_apart_from_the_findings(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dumps = pier / "dumps"
    dumps.mkdir()
    other = Module(part="LAN-LX", standard="1000BASE-SX", form="SFP", rates=["1G"], connector="LC")
    for name in ("core__1.hex", "cam__up.hex"):
        (dumps / name).write_text(dump_text(demo_memory(other)), encoding="ascii")
    main(_arguments("check", pier, "--memory", str(dumps)))
    assert capsys.readouterr().err.startswith("note: ")


def test_folder_of_the_demo_that_cannot_be_made_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    assert main(["demo", str(tmp_path / "taken")]) == 2
    assert "this folder cannot be made: File exists" in capsys.readouterr().err


def test_plan_as_json_is_all_that_is_printed_beside_its_papers(pier: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments("plan", pier, "--json", "--papers", str(pier / "papers"))) == 0
    assert json.loads(capsys.readouterr().out)["status"] == "optimal"
