"""A site audited by dumps of its modules: the findings are those that the same rules give for a plan. Everything is invented."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from optiselect import Catalog, Inventory, Module, Network, UnknownNameError, check
from optiselect.demo.memory import demo_memory, dump_text
from optiselect.formats.eeprom import file_name_of
from optiselect.standards.inventory import contradictions

SHELF = Catalog(
    name="Gullwing shelf",
    modules=[
        {"part": "GW-LX", "standard": "1000BASE-LX", "form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0},
        {"part": "GW-SX", "standard": "1000BASE-SX", "form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [0, 70], "power_w": 1.0},
        {"part": "GW-BXD", "standard": "1000BASE-BX10-D", "form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0},
        {"part": "GW-BXU", "standard": "1000BASE-BX10-U", "form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": 1.0},
    ],
)
SLIPWAY = Network(
    name="Gullwing slipway",
    sites=[{"id": "office", "ambient_c": [15, 30]}, {"id": "winch", "ambient_c": [-15, 40]}],
    devices=[
        {"id": "core", "site": "office", "ports": [{"ids": "1-2", "kind": "cage", "form": "SFP", "rates": ["1G"]}]},
        {"id": "cam", "site": "winch", "ports": [{"ids": "up,aux", "kind": "cage", "form": "SFP", "rates": ["1G"]}]},
    ],
    runs=[
        {"id": "F1", "ends": ["core", "cam"], "fiber": {"grade": "OS2", "length_m": 900, "strands": 2}},
        {"id": "F2", "ends": ["core", "cam"], "fiber": {"grade": "OS2", "length_m": 900, "strands": 1}},
    ],
    links=[
        {"id": "L1", "ends": ["core/1", "cam/up"], "rate": "1G", "over": ["F1"]},
        {"id": "L2", "ends": ["core/2", "cam/aux"], "rate": "1G", "over": ["F2"]},
    ],
)
SOUND = {"core/1": "GW-LX", "cam/up": "GW-LX", "core/2": "GW-BXD", "cam/aux": "GW-BXU"}


def dumped(folder: Path, fitted: Mapping[str, str], shelf: Catalog = SHELF) -> Path:
    for number, (port, part) in enumerate(sorted(fitted.items())):
        memory = demo_memory(shelf.module_by_part[part], serial=f"SLIPWAY{number:04}")
        (folder / file_name_of(port)).write_text(dump_text(memory), encoding="ascii")
    return folder


def test_inventory_names_what_is_in_each_port(tmp_path: Path) -> None:
    inventory = Inventory.from_memory(dumped(tmp_path, SOUND))

    assert dict(inventory.fitted) == SOUND
    assert sorted(inventory.catalog.module_by_part) == ["GW-BXD", "GW-BXU", "GW-LX", "GW-SX"][:3]


@pytest.mark.parametrize(
    "wrong",
    [{}, {"cam/up": "GW-SX"}, {"cam/aux": "GW-BXD"}, {"core/2": "GW-LX"}, {"core/1": "GW-BXU", "cam/aux": "GW-LX"}],
    ids=["sound", "multimode", "two-downstream", "two-strands", "swapped"],
)
def test_findings_of_dumps_are_those_of_the_data_sheets_where_both_speak(wrong: dict[str, str], tmp_path: Path) -> None:
    """A definite finding of the audit by dumps is one of the audit by catalog, in the same words, and the other way round.

    But for the temperature range, of which no memory speaks: it is unknown.
    """
    fitted = SOUND | wrong
    inventory = Inventory.from_memory(dumped(tmp_path, fitted))
    by_memory, by_sheet = check(SLIPWAY, inventory.catalog, inventory.fitted), check(SLIPWAY, SHELF, fitted)

    assert {finding.text for finding in by_memory if not finding.unknown} == {
        finding.text for finding in by_sheet if not finding.unknown and finding.rule != "temperature"
    }
    assert {finding.rule for finding in by_memory if finding.unknown} - {finding.rule for finding in by_sheet if finding.unknown} == {"temperature"}


def test_single_strand_pair_of_1310_and_1550_nm_is_unknown_and_not_wrong(tmp_path: Path) -> None:
    """Both carry the code of the standard's pair of 1310 and 1490 nm, so the near end cannot be told from one for 1490 nm."""
    at_1550 = SHELF.module_by_part["GW-BXU"].model_copy(update={"part": "GW-B55", "standard": None, "strands": 1, "tx_nm": (1540.0, 1560.0)})
    dumped(tmp_path, SOUND)
    dumped(tmp_path, {"core/2": "GW-B55"}, Catalog(modules=[at_1550]))

    inventory = Inventory.from_memory(tmp_path)
    findings = check(SLIPWAY, inventory.catalog, inventory.fitted)
    assert [finding.text for finding in findings if not finding.unknown] == []
    assert "wavelength" in {finding.rule for finding in findings}


def test_figures_of_the_catalog_come_first(tmp_path: Path) -> None:
    inventory = Inventory.from_memory(dumped(tmp_path, SOUND), SHELF)

    assert inventory.catalog == SHELF
    assert inventory.notes == ()
    assert check(SLIPWAY, inventory.catalog, inventory.fitted) == check(SLIPWAY, SHELF, SOUND)


def test_module_that_is_not_what_its_part_number_says_is_audited_as_what_it_is(tmp_path: Path) -> None:
    passed_off = Catalog(modules=[SHELF.module_by_part["GW-SX"].model_copy(update={"part": "GW-LX"})])
    dumped(tmp_path, SOUND)
    dumped(tmp_path, {"cam/up": "GW-LX"}, passed_off)

    inventory = Inventory.from_memory(tmp_path, SHELF)
    assert inventory.fitted["cam/up"] == "GW-LX (memory of cam port up)"
    assert inventory.notes == (
        "cam/up: the module says GW-LX and is not that of the catalog: mode multimode in memory, single-mode in the catalog; "
        "sends 770-860 nm in memory, 1270-1355 nm in the catalog; its memory is audited, as GW-LX (memory of cam port up)",
    )
    assert {"fiber-mode", "wavelength"} <= {finding.rule for finding in check(SLIPWAY, inventory.catalog, inventory.fitted) if not finding.unknown}


def test_two_kinds_under_one_part_number_get_a_name_each(tmp_path: Path) -> None:
    hotter = Catalog(modules=[SHELF.module_by_part["GW-LX"].model_copy(update={"power_w": 1.5})])
    dumped(tmp_path, SOUND)
    dumped(tmp_path, {"core/1": "GW-LX"}, hotter)

    inventory = Inventory.from_memory(tmp_path)
    assert [inventory.fitted[port] for port in ("cam/up", "core/1")] == ["GW-LX", "GW-LX (memory of core port 1)"]
    assert [inventory.catalog.module_by_part[inventory.fitted[port]].power_w for port in ("cam/up", "core/1")] == [1.0, 1.5]


def test_length_beyond_the_standard_is_a_note(tmp_path: Path) -> None:
    far = Catalog(modules=[Module(part="GW-LX", standard="1000BASE-LX", form="SFP", rates=("1G",), reach_m={"single-mode": 10_000})])

    assert Inventory.from_memory(dumped(tmp_path, {"core/1": "GW-LX"}, far)).notes == (
        "core/1: GW-LX states 10000 m where 1000BASE-LX has 5000 m; its light is still reckoned by that standard, which is the least that it does: "
        "give its data sheet's figures in the catalog where that is too little",
    )


def test_port_that_is_not_in_the_network_is_named(tmp_path: Path) -> None:
    inventory = Inventory.from_memory(dumped(tmp_path, {"core/9": "GW-LX", "shed/1": "GW-LX"}))

    with pytest.raises(UnknownNameError, match=r"device 'core' has no port '9'\n.*there is no device 'shed'"):
        check(SLIPWAY, inventory.catalog, inventory.fitted)


@pytest.mark.parametrize(("coding", "unknown"), [([], [True, True]), (["marram"], []), (["open"], [False, False])])
def test_coding_is_what_the_caller_says_and_unknown_without(coding: list[str], unknown: list[bool], tmp_path: Path) -> None:
    core, *others = SLIPWAY.devices
    choosy = [core.model_copy(update={"accepts": ("marram",)}), *others]
    network = Network(sites=SLIPWAY.sites, devices=choosy, runs=SLIPWAY.runs, links=SLIPWAY.links)
    inventory = Inventory.from_memory(dumped(tmp_path, SOUND), coding=coding)

    assert [finding.unknown for finding in check(network, inventory.catalog, inventory.fitted) if finding.rule == "coding"] == unknown


def test_rates_of_which_none_is_common_contradict_one_another() -> None:
    told = contradictions(Module(part="GW-X", form="SFP", rates=["10G"]), Module(part="GW-X", form="SFP", rates=["1G", "100M"]))
    assert list(told) == ["rates 10G in memory, 1G, 100M in the catalog"]
