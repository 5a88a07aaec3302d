"""``python -m optiselect``: a thin shell over the names of the library.

Exit codes: 0 every link is served, or nothing was found; 1 some link is not served, or something was found; 2 the input is at fault,
and the whole list of faults is on standard error; 3 a fault of the library itself; 130 stopped twice by hand.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import optiselect
from optiselect.errors import DocumentError, Fault, OptiselectError, PlanCheckError

if TYPE_CHECKING:
    from optiselect.handover.hand_over import HandedOver
    from optiselect.model.document import Document
    from optiselect.solver.progress import Progress

    D = TypeVar("D", bound=Document)

_SERVED, _SHORT, _AT_FAULT, _OWN_FAULT, _STOPPED = 0, 1, 2, 3, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; argument errors leave by ``SystemExit`` 2, as argparse does it."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    arguments = _parser().parse_args(argv)
    try:
        code: int = arguments.run(arguments)
        sys.stdout.flush()
    except PlanCheckError as error:
        return _refuse(arguments, error, _OWN_FAULT)
    except OptiselectError as error:
        return _refuse(arguments, error, _AT_FAULT)
    except KeyboardInterrupt:
        return _STOPPED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader has gone; nothing more to say
        return _STOPPED
    except Exception:  # never exit code 1, which means that a link is not served
        traceback.print_exc()
        return _OWN_FAULT
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m optiselect", description="Choose compatible pluggable optics for a whole network.", epilog=_codes())
    parser.add_argument("--version", action="version", version=f"optiselect {optiselect.__version__}")
    commands = parser.add_subparsers(required=True, metavar="command")
    documents = argparse.ArgumentParser(add_help=False)
    documents.add_argument("network", type=Path, help="a network: .yaml, .json, .xlsx or a folder of CSV")
    documents.add_argument("catalogs", type=Path, nargs="*", metavar="catalog", help="catalogs, which add up; none = generic parts of the open standards")
    documents.add_argument("--policy", type=Path, help="a policy: .yaml or .json; without it every default holds")
    as_json = argparse.ArgumentParser(add_help=False)
    as_json.add_argument("--json", action="store_true", help="answer, and faults on standard error, as JSON")

    plan = commands.add_parser("plan", parents=[documents, as_json], help="choose a module for every port end")
    plan.add_argument("--save", type=Path, metavar="FILE", help="save the plan: .yaml or .json")
    plan.add_argument("--papers", type=Path, metavar="FOLDER", help="write the papers of the plan into a folder")
    plan.set_defaults(run=_plan)

    check = commands.add_parser("check", parents=[documents, as_json], help="audit what is plugged in, or a plan")
    audited = check.add_mutually_exclusive_group()
    audited.add_argument("--plan", type=Path, help="the plan to audit; without it, what the network says is installed")
    audited.add_argument("--memory", type=Path, metavar="FOLDER", help="audit modules by dumps of their memory, one file a port: core__1.hex is core/1")
    check.set_defaults(run=_check)

    explain = commands.add_parser("explain", parents=[documents, as_json], help="say why a link gets what it gets, or nothing")
    explain.add_argument("--link", required=True, help="the link's id")
    explain.set_defaults(run=_explain)

    schema = commands.add_parser("schema", parents=[as_json], help="print the JSON Schema of a document")
    schema.add_argument("document", choices=("network", "catalog", "policy", "plan"))
    schema.set_defaults(run=_schema)

    papers = commands.add_parser("papers", parents=[documents, as_json], help="write the papers of a plan, or print one")
    papers.add_argument("--plan", type=Path, required=True, help="the plan that was made from these documents")
    wanted = papers.add_mutually_exclusive_group(required=True)
    wanted.add_argument("--folder", type=Path, help="write all papers into this folder")
    wanted.add_argument("--paper", metavar="NAME", help="print one paper as CSV: bill, ports, cords, strands, limits, labels, spares, cautions, questions")
    papers.set_defaults(run=_papers)

    measured = commands.add_parser("measured", parents=[documents, as_json], help="take back the acceptance sheet, filled in, and plan again")
    measured.add_argument("--plan", type=Path, required=True, help="the plan that the sheet was handed out with")
    measured.add_argument("--sheet", type=Path, required=True, help="the filled sheet: the workbook (.xlsx) or the acceptance sheet (.csv)")
    measured.add_argument("--save-network", type=Path, metavar="FILE", help="save the network with the readings")
    measured.add_argument("--save", type=Path, metavar="FILE", help="save the new plan: .yaml or .json")
    measured.set_defaults(run=_measured)

    demo = commands.add_parser("demo", parents=[as_json], help="write an invented site, its plan and its papers into a folder (exit code 0)")
    demo.add_argument("folder", type=Path)
    demo.set_defaults(run=_demo)
    return parser


def _codes() -> str:
    return "Exit codes: 0 all served or nothing found, 1 some link unserved or something found, 2 the input is at fault (faults on standard error)."


def _plan(arguments: argparse.Namespace) -> int:
    network, catalog, policy = _read(arguments)
    plan = _solve(network, catalog, policy)
    if arguments.save:
        plan.save(arguments.save)
    written = plan.hand_over(arguments.papers, network, catalog, policy) if arguments.papers else None
    _show_plan(arguments, plan, catalog)
    if written is not None:
        _show_written(arguments, written)
    return _SHORT if plan.unserved else _SERVED


def _check(arguments: argparse.Namespace) -> int:
    network, catalog, policy = _read(arguments)
    fitted: optiselect.Plan | Mapping[str, str] | None = optiselect.Plan.load(arguments.plan) if arguments.plan else None
    if arguments.memory:
        inventory = optiselect.Inventory.from_memory(arguments.memory, catalog)
        catalog, fitted = inventory.catalog, inventory.fitted
        for note in inventory.notes:
            _say(f"note: {note}", sys.stderr)
    findings = optiselect.check(network, catalog, fitted, policy)
    if arguments.json:
        _say_json([_plain(finding) for finding in findings])
    else:
        for finding in findings:
            _say(str(finding) + (" (waived)" if finding.waived else ""))
        _say(f"{len(findings)} finding{'' if len(findings) == 1 else 's'}")
    return _SHORT if any(not finding.waived for finding in findings) else _SERVED


def _explain(arguments: argparse.Namespace) -> int:
    from optiselect.model.plan import Refusal

    network, catalog, policy = _read(arguments)
    answer = optiselect.explain(network, catalog, arguments.link, policy)
    if arguments.json:
        _say_json(_plain(answer))
    else:
        _say(answer.text)
    return _SHORT if isinstance(answer, Refusal) else _SERVED


def _schema(arguments: argparse.Namespace) -> int:
    from optiselect.formats.schema import json_schema

    nouns: dict[str, type[Document]] = {"network": optiselect.Network, "catalog": optiselect.Catalog, "policy": optiselect.Policy, "plan": optiselect.Plan}
    _say_json(json_schema(nouns[arguments.document]))
    return _SERVED


def _demo(arguments: argparse.Namespace) -> int:
    from optiselect.demo import demo_catalog, demo_network, demo_policy

    network, catalog, policy = demo_network(), demo_catalog(), demo_policy()
    folder: Path = arguments.folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OptiselectError(f"{folder}: this folder cannot be made: {error.strerror or error}") from error
    for name, document in (("network", network), ("catalog", catalog), ("policy", policy)):
        document.save(folder / f"{name}.yaml")
    plan = _solve(network, catalog, policy)
    written = plan.hand_over(folder, network, catalog, policy)
    _show_plan(arguments, plan, catalog)
    _show_written(arguments, written)
    return _SERVED


def _papers(arguments: argparse.Namespace) -> int:
    network, catalog, policy = _read(arguments)
    plan = optiselect.Plan.load(arguments.plan)
    if arguments.paper:
        sheet = plan.paper(arguments.paper, network, catalog, policy)
        if arguments.json:
            _say_json(sheet.document())
        else:
            _say(sheet.csv().replace("\r\n", "\n"), end="")
    if arguments.folder:
        _show_written(arguments, plan.hand_over(arguments.folder, network, catalog, policy))
    return _SERVED


def _measured(arguments: argparse.Namespace) -> int:
    network, catalog, policy = _read(arguments)
    told = optiselect.Plan.load(arguments.plan).read_back(arguments.sheet, network, catalog, policy)
    if arguments.save_network:
        told.network.save(arguments.save_network)
    if arguments.save:
        told.plan.save(arguments.save)
    if arguments.json:
        _say_json({"readings": [asdict(reading) for reading in told.readings], "failed": told.failed, "changes": [asdict(change) for change in told.changes]})
    else:
        _say(told.text())
    return _SHORT if told.failed or told.plan.unserved else _SERVED


def _show_written(arguments: argparse.Namespace, written: HandedOver) -> None:
    if not arguments.json:
        _say("\nWritten: " + ", ".join(str(path) for path in written.files))
    for left_out in written.left_out:
        _say(f"Not written: {left_out}", sys.stderr)


def _read(arguments: argparse.Namespace) -> tuple[optiselect.Network, optiselect.Catalog, optiselect.Policy]:
    """Read all documents, so that the faults of all of them are told at once."""
    faults: list[Fault] = []

    def attempt(read: Callable[[], D]) -> D | None:
        try:
            return read()
        except DocumentError as error:
            faults.extend(error.faults)
            return None

    network = attempt(lambda: optiselect.Network.load(arguments.network))
    several = [attempt(lambda path=path: optiselect.Catalog.load(path)) for path in arguments.catalogs]  # type: ignore[misc]
    policy = attempt(lambda: optiselect.Policy.load(arguments.policy) if arguments.policy else optiselect.Policy())
    readable = [catalog for catalog in several if catalog is not None]
    catalog = attempt(lambda: optiselect.Catalog.merge(readable) if arguments.catalogs else optiselect.Catalog.open_standard())
    if faults or network is None or catalog is None or policy is None:
        raise DocumentError(faults, "input")
    return network, catalog, policy


def _solve(network: optiselect.Network, catalog: optiselect.Catalog, policy: optiselect.Policy) -> optiselect.Plan:
    """Solve beside the main thread, so that the first Ctrl-C asks for the plan so far and the second one leaves."""
    cancel = threading.Event()
    bar = _Bar() if sys.stderr.isatty() else None
    answer: list[optiselect.Plan | BaseException] = []

    def work() -> None:
        try:
            answer.append(optiselect.solve(network, catalog, policy, on_progress=bar, cancel=cancel))
        except BaseException as error:  # handed to the main thread, which raises it
            answer.append(error)

    def stop(*_: object) -> None:
        if cancel.is_set():
            raise KeyboardInterrupt
        cancel.set()
        print("\nstopping; the plan so far follows (Ctrl-C again to leave at once)", file=sys.stderr)

    worker = threading.Thread(target=work, daemon=True)
    before = signal.signal(signal.SIGINT, stop)
    try:
        worker.start()
        while worker.is_alive():
            worker.join(0.1)
    finally:
        signal.signal(signal.SIGINT, before)
    if bar:
        bar.clear()
    result = answer[0]
    if isinstance(result, BaseException):
        raise result
    return result


class _Bar:
    """A progress bar on the terminal: the stage, how far it is, and which objective is under proof."""

    _WIDTH = 30

    def __call__(self, event: Progress) -> None:
        filled = round(self._WIDTH * event.done / event.total) if event.total else 0
        proven = " proven" if event.value is not None and event.value == event.bound else ""
        line = f"{event.stage:<8}[{'#' * filled:<{self._WIDTH}}] {event.elapsed_s:5.1f} s {event.objective or ''}{proven}"
        print(f"\r\x1b[K{line[:100]}", end="", file=sys.stderr, flush=True)

    def clear(self) -> None:
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _show_plan(arguments: argparse.Namespace, plan: optiselect.Plan, catalog: optiselect.Catalog) -> None:
    from optiselect.handover.wording import plan_text

    if arguments.json:
        _say_json(_plain(plan))
    else:
        _say(plan_text(plan, catalog))


def _refuse(arguments: argparse.Namespace, error: OptiselectError, code: int) -> int:
    if not arguments.json:
        _say(str(error), sys.stderr)
        return code
    faults = error.faults if isinstance(error, DocumentError) else (Fault("", str(error)),)
    _say_json({"faults": [{"place": fault.place, "path": fault.path, "message": fault.message} for fault in faults]}, sys.stderr)
    return code


def _plain(noun: Any) -> Any:
    return noun.model_dump(mode="json", by_alias=True)


def _say_json(value: Any, stream: Any = None) -> None:
    print(json.dumps(value, indent=2, ensure_ascii=True), file=stream or sys.stdout)


def _say(text: str, stream: Any = None, *, end: str = "\n") -> None:
    """Print text; a control character in it, which could steer the terminal, is shown and not sent."""
    shown = "".join(char if char == "\n" or char.isprintable() else char.encode("unicode_escape").decode("ascii") for char in text)
    print(shown, end=end, file=stream or sys.stdout)


if __name__ == "__main__":
    from optiselect.solver.progress import OWN_PROCESS

    gc.set_threshold(*OWN_PROCESS)
    sys.exit(main())
