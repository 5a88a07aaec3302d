"""The memories of real modules, as posted in public, against the fields that were worked from them by hand.

eeprom.yaml says where each was posted. The fields there agree with SFF-8472, SFF-8636 and SFF-8024 in every entry; `reading` is the
judgment of a careful planner, and holds as well, in the words of a catalog: a copper cable assembly is coax, and an interface of which no
figures are known, or that something speaks against, is no standard of the module.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from optiselect.formats.eeprom import read_memory
from optiselect.model.memory import ModuleMemory
from optiselect.standards.remembered import module_of
from optiselect.standards.transceiver import transceiver

MODULES: dict[str, Any] = {entry["id"]: entry for entry in yaml.safe_load((Path(__file__).parent / "eeprom.yaml").read_text(encoding="utf-8"))}
DUMPED = [name for name, entry in MODULES.items() if "hex" in entry]
LISTED = [name for name, entry in MODULES.items() if entry["kind"] == "decoded-listing"]

CONNECTORS = {"LC": 0x07, "MPO": 0x0C, "copper pigtail": 0x21, "no separable connector": 0x23}
EXTENDED = {"100GBASE-SR4 / 25GBASE-SR": 0x02, "100GBASE-CR4 / 25GBASE-CR CA-25G-L": 0x0B}
TECHNOLOGIES = {"850 nm VCSEL": 0x00, None: 0xA0}
NO_STANDARD = {
    "SFP+ direct attach, passive": None,
    "40GBASE-CR4": None,
    "100GBASE-CR4, also 40GBASE-CR4": None,
    "single-strand 1G, 1550 nm (not 1000BASE-BX10-D, which is 1480-1500 nm)": None,
    "10GBASE-LR by its code, 2 km": None,
    "10GBASE-SR and 1000BASE-SX": "10GBASE-SR",
}
GRADES = {"reach_smf_m": "OS2", "reach_om1_m": "OM1", "reach_om2_m": "OM2", "reach_om3_m": "OM3", "reach_om4_m": "OM4", "reach_m": "Cat6", "length_m": "coax"}
LENGTHS = {"smf_m": "single-mode", "om1_m": "OM1", "om2_m": "OM2", "om3_m": "OM3", "om4_m": "OM4", "copper_m": "cable", "cable_m": "cable"}


def with_sums(memory: bytearray, *sums: tuple[int, int]) -> bytes:
    for first, check_at in sums:
        memory[check_at] = sum(memory[first:check_at]) & 0xFF
    return bytes(memory)


def tenths_uw(dbm: float) -> bytes:
    return round(10 ** (dbm / 10) * 10_000).to_bytes(2, "big")


def sfp_of_listing(fields: dict[str, Any]) -> bytes:
    """A0h with what a listing printed, and A2h where it printed thresholds."""
    memory = bytearray(512)
    codes = bytes.fromhex(fields["codes"])
    memory[0], memory[2], memory[3:11] = 0x03, CONNECTORS[fields.get("connector", "LC")], codes[:8]
    memory[12], memory[14], memory[18] = fields.get("bit_rate_mbd", 0) // 100, fields.get("smf_m", 0) // 1000, fields.get("copper_m", 0)
    memory[60:62] = fields.get("wavelength_nm", 0).to_bytes(2, "big")
    memory[92] = 0x68 if fields.get("diagnostics") else 0x00
    for key, at in (("tx_power_warning_dbm", 28), ("rx_power_warning_dbm", 36)):
        memory[256 + at : 256 + at + 4] = b"".join(tenths_uw(dbm) for dbm in reversed(fields.get(key, [-40, -40])))
    low_c, high_c = fields.get("temperature_warning_c", [0, 0])
    memory[260:264] = (high_c * 256).to_bytes(2, "big") + (low_c * 256).to_bytes(2, "big", signed=True)
    return with_sums(memory, (0, 63), (64, 95), (256, 351))


def qsfp_of_listing(fields: dict[str, Any]) -> bytes:
    """Upper page 00h with what a listing printed."""
    memory = bytearray(128)
    memory[0], memory[2], memory[3:11] = int(fields["identifier"], 16), CONNECTORS[fields["connector"]], bytes.fromhex(fields["codes"])
    memory[12], memory[94], memory[64] = 255, fields["bit_rate_mbd"] // 250, EXTENDED[fields["ext_compliance"]]
    memory[15], memory[18], memory[19] = fields["om3_m"] // 2, fields.get("byte146_listed_as_cable_m", 0), TECHNOLOGIES[fields.get("technology")]
    memory[58:60] = (fields.get("wavelength_nm", 0) * 20).to_bytes(2, "big")
    memory[60:62] = (fields.get("wavelength_tolerance_nm", 0) * 200).to_bytes(2, "big")
    return with_sums(memory, (0, 63), (64, 95))


def memory_of(name: str) -> ModuleMemory:
    entry = MODULES[name]
    if "hex" in entry:
        return read_memory("\n".join(entry["hex"]).encode())
    fields = entry["fields"]
    return read_memory((sfp_of_listing if fields.get("identifier", "0x03") == "0x03" else qsfp_of_listing)(fields))


@pytest.mark.parametrize("name", DUMPED)
def test_dump_decodes_as_worked_by_hand(name: str) -> None:
    fields, memory = MODULES[name]["fields"], memory_of(name)
    worked = (
        fields["connector"],
        fields["compliance"],
        fields.get("ext_compliance", ""),
        fields["encoding"],
        fields["bit_rate_mbd"],
        fields.get("wavelength_nm"),
        fields.get("wavelength_tolerance_nm"),
        fields.get("technology"),
        {LENGTHS[key]: length_m for key, length_m in fields["lengths"].items()},
    )

    assert (
        memory.connector,
        list(memory.codes),
        memory.extended,
        memory.encoding,
        memory.bit_rate_mbd,
        memory.wavelength_nm,
        memory.wavelength_tolerance_nm,
        memory.technology,
        memory.lengths_m,
    ) == worked


@pytest.mark.parametrize("name", [name for name in DUMPED if "power_level" in MODULES[name]["fields"]])
def test_power_level_1_is_one_watt(name: str) -> None:
    assert (MODULES[name]["fields"]["power_level"], memory_of(name).power_w) == (1, 1.0)


@pytest.mark.parametrize("name", [name for name in DUMPED if "power_class_w_byte129" in MODULES[name]["fields"]])
def test_power_class_and_highest_case_temperature_of_a_qsfp(name: str) -> None:
    fields, memory = MODULES[name]["fields"], memory_of(name)

    assert (memory.power_w, memory.max_case_c) == (fields["power_class_w_byte129"], 70.0)


@pytest.mark.parametrize("name", [name for name in LISTED if "compliance" in MODULES[name]["fields"]])
def test_listing_decodes_into_the_codes_that_it_names(name: str) -> None:
    assert list(memory_of(name).codes) == MODULES[name]["fields"]["compliance"]


@pytest.mark.parametrize("name", LISTED)
def test_listing_decodes_into_the_one_extended_code_that_it_names(name: str) -> None:
    assert memory_of(name).extended == MODULES[name]["fields"].get("ext_compliance", "")


@pytest.mark.parametrize("name", MODULES)
def test_module_is_what_a_careful_planner_reads(name: str) -> None:
    reading, module = MODULES[name]["reading"], module_of(memory_of(name))

    assert module.standard == NO_STANDARD.get(reading["standard"], reading["standard"])
    assert set(module.rates or ()) == set(reading["rates"] or ())


@pytest.mark.parametrize(
    ("name", "key"), [(name, key) for name, entry in MODULES.items() for key in ("mode", "connector", "strands") if key in entry["reading"]]
)
def test_module_has_the_nature_that_was_read(name: str, key: str) -> None:
    module = module_of(memory_of(name))

    assert getattr(transceiver(module, (module.rates or ("10G",))[-1]), key) == MODULES[name]["reading"][key]


@pytest.mark.parametrize("name", [name for name, entry in MODULES.items() if "medium" in entry["reading"]])
def test_cable_assembly_of_copper_is_coax_and_other_media_stay(name: str) -> None:
    medium = MODULES[name]["reading"]["medium"]

    assert module_of(memory_of(name)).medium == {"copper cable assembly": "coax"}.get(medium, medium)


@pytest.mark.parametrize(("name", "key"), [(name, key) for name, entry in MODULES.items() for key in GRADES if key in entry["reading"]])
def test_module_reaches_as_far_as_was_read(name: str, key: str) -> None:
    module = module_of(memory_of(name))

    assert transceiver(module, (module.rates or ("10G",))[-1]).reach_for(GRADES[key]) == MODULES[name]["reading"][key]  # type: ignore[arg-type]


def test_thresholds_are_read_and_stay_out_of_the_figures() -> None:
    fields, memory = MODULES["bx-1310-10km-decoded"]["fields"], memory_of("bx-1310-10km-decoded")
    levels = memory.thresholds

    assert levels is not None
    assert levels.tx_warning_dbm == pytest.approx(fields["tx_power_warning_dbm"], abs=0.02)
    assert levels.rx_warning_dbm == pytest.approx(fields["rx_power_warning_dbm"], abs=0.02)
    assert levels.temperature_warning_c == tuple(fields["temperature_warning_c"])
    module = module_of(memory)
    assert (module.tx_dbm, module.rx_dbm, module.temperature_c) == (None, None, None)


def test_length_of_an_optical_qsfp_in_byte_146_is_om4_and_of_a_cable_its_own() -> None:
    assert memory_of("qsfp28-sr4-decoded").lengths_m == {"OM3": 70, "OM4": 100}
    assert memory_of("qsfp-cr4-40g-1m").lengths_m == {"cable": 1}
