"""Each field of a module's memory: what a byte says, by the specification's table that eeprom_codes, eeprom_sfp and eeprom_qsfp name."""

from __future__ import annotations

import pytest

from optiselect.errors import DocumentError
from optiselect.formats.eeprom import read_memory
from optiselect.model.memory import Thresholds
from tests.formats.invented_memory import Bytes, qsfp, sfp

FULL_RATE_103: Bytes = {12: 255, 66: 103}
NO_MONITOR: Bytes = {92: 0}
AS_READ = Thresholds(
    tx_alarm_dbm=(-12.01, 0.97),
    tx_warning_dbm=(-10.0, 0.0),
    rx_alarm_dbm=(-30.0, 0.0),
    rx_warning_dbm=(-26.99, -1.0),
    temperature_alarm_c=(-5.0, 75.0),
    temperature_warning_c=(0.0, 70.0),
)


@pytest.mark.parametrize(
    ("field", "changes", "due"),
    [
        ("form", {}, "SFP"),
        ("part", {}, "GW-10SR"),
        ("part", {40: bytes(16)}, ""),
        ("part", {40: b"GW\x00\xe9           "}, "GW??"),
        ("connector", {2: 0x01}, "SC"),
        ("connector", {2: 0x22}, "RJ45"),
        ("connector", {2: 0x99}, "code 0x99"),
        ("codes", {3: 0x20}, ("10GBASE-LR",)),
        ("codes", {3: 0x40}, ("10GBASE-LRM",)),
        ("codes", {3: 0x80}, ("10GBASE-ER",)),
        ("codes", {3: 0x10, 6: 0x01}, ("10GBASE-SR", "1000BASE-SX")),
        ("codes", {3: 0, 6: 0xFE}, ("BASE-PX", "BASE-BX10", "100BASE-FX", "100BASE-LX10", "1000BASE-T", "1000BASE-CX", "1000BASE-LX")),
        ("extended", {36: 0x02}, "100GBASE-SR4 / 25GBASE-SR"),
        ("extended", {36: 0xEE}, "code 0xee"),
        ("encoding", {11: 0x05}, "SONET scrambled"),
        ("bit_rate_mbd", {12: 13}, 1300),
        ("bit_rate_mbd", {12: 0}, None),
        ("bit_rate_mbd", FULL_RATE_103, 25_750),
        ("lengths_m", {14: 10, 15: 100, 16: 0, 17: 0, 19: 0}, {"single-mode": 10_000}),
        ("lengths_m", {14: 1, 15: 15, 16: 0, 17: 0, 19: 0}, {"single-mode": 1500}),
        ("lengths_m", {14: 40, 15: 255, 16: 0, 17: 0, 19: 0}, {"single-mode": 40_000}),
        ("lengths_m", {14: 2, 15: 100, 16: 0, 17: 0, 19: 0}, {"single-mode": 2000}),
        ("lengths_m", {14: 0, 15: 255, 16: 0, 17: 0, 19: 0}, {"single-mode": 25_400}),
        ("lengths_m", {14: 255, 15: 255, 16: 0, 17: 0, 19: 0}, {"single-mode": 254_000}),
        ("lengths_m", {16: 55, 17: 27, 18: 40, 19: 30}, {"OM2": 550, "OM1": 270, "OM4": 400, "OM3": 300}),
        ("lengths_m", {2: 0x22, 16: 0, 17: 0, 18: 30, 19: 0}, {"cable": 30}),
        ("wavelength_nm", {60: (1310).to_bytes(2, "big")}, 1310),
        ("wavelength_nm", {60: b"\x00\x00"}, None),
        ("wavelength_nm", {60: b"\xff\xff"}, None),
        ("unread", {60: b"\xff\xff"}, ("bytes 60 and 61 state 65535 nm, which no module sends: the wavelength is not known",)),
        ("wavelength_nm", {2: 0x21, 8: 0x04, 60: b"\x01\x00"}, None),
        ("power_w", {64: 0x00}, 1.0),
        ("power_w", {64: 0x02}, 1.5),
        ("power_w", {64: 0x20}, 2.0),
        ("power_w", {64: 0x20, 94: 0x03}, None),
        ("power_w", {64: 0x40, 322: 28}, 2.8),
        ("power_w", {64: 0x40, **NO_MONITOR}, None),
        ("thresholds", {}, AS_READ),
        ("thresholds", NO_MONITOR, None),
        ("thresholds", {92: 0x58}, None),
        ("thresholds", {256: bytes(96)}, None),
    ],
)
def test_byte_of_an_sfp_is_read_by_its_table(field: str, changes: Bytes, due: object) -> None:
    assert getattr(read_memory(sfp(changes)), field) == due


@pytest.mark.parametrize(
    ("field", "changes", "due"),
    [
        ("form", {}, "QSFP+"),
        ("form", {128: 0x11}, "QSFP28"),
        ("part", {}, "GW-40LR4"),
        ("connector", {130: 0x0C}, "MPO 1x12"),
        ("codes", {}, ("40GBASE-LR4",)),
        ("codes", {131: 0x8C}, ("extended (see byte 192)", "40GBASE-CR4", "40GBASE-SR4")),
        ("extended", {131: 0x80, 192: 0x03}, "100GBASE-LR4 / 25GBASE-LR"),
        ("extended", {192: 0x03}, ""),
        ("encoding", {}, "64B/66B"),
        ("bit_rate_mbd", {140: 255, 222: 103}, 25_750),
        ("lengths_m", {142: 0, 143: 50, 144: 30, 145: 7, 146: 75}, {"OM3": 100, "OM2": 30, "OM1": 7, "OM4": 150}),
        ("lengths_m", {142: 0, 146: 3, 147: 0xA0}, {"cable": 3}),
        ("wavelength_nm", {}, 1301),
        ("wavelength_nm", {147: 0xA0}, None),
        ("wavelength_nm", {186: b"\xff\xff"}, None),
        ("wavelength_tolerance_nm", {}, 6.5),
        ("wavelength_tolerance_nm", {188: b"\xff\xff"}, None),
        ("technology", {147: 0x94}, "1490 nm DFB"),
        ("max_case_c", {190: 85}, 85),
        ("max_case_c", {190: 0}, 70),
        ("power_w", {129: 0x00}, 1.5),
        ("power_w", {129: 0x40}, 2.0),
        ("power_w", {129: 0x80}, 2.5),
        ("power_w", {129: 0xC0}, 3.5),
        ("power_w", {129: 0xC2}, 4.5),
        ("power_w", {129: 0x20, 107: 62}, 6.2),
        ("thresholds", {}, AS_READ),
        ("thresholds", {512: bytes(128)}, None),
    ],
)
def test_byte_of_a_qsfp_is_read_by_its_table(field: str, changes: Bytes, due: object) -> None:
    assert getattr(read_memory(qsfp(changes)), field) == due


@pytest.mark.parametrize("memory", [qsfp()[128:256], qsfp()[:256], qsfp()], ids=["upper-page-alone", "two-pages", "five-pages"])
def test_qsfp_is_read_from_its_upper_page_wherever_the_dump_has_it(memory: bytes) -> None:
    assert read_memory(memory).part == "GW-40LR4"


@pytest.mark.parametrize("length", [64, 96, 128, 256, 384, 512])
def test_sfp_is_read_as_far_as_the_dump_goes(length: int) -> None:
    assert read_memory(sfp()[:length]).part == "GW-10SR"


def test_power_class_8_without_the_lower_page_is_not_known() -> None:
    assert read_memory(qsfp({129: 0x20})[128:256]).power_w is None


def broken(memory: bytes, *places: int) -> bytes:
    return bytes(byte ^ 0x10 if at in places else byte for at, byte in enumerate(memory))


@pytest.mark.parametrize(
    ("memory", "paths"),
    [
        (broken(sfp(), 30), ["byte 63 (CC_BASE)"]),
        (broken(sfp(), 65), ["byte 95 (CC_EXT)"]),
        (broken(sfp(), 300), ["A2h byte 95 (CC_DMI)"]),
        (broken(sfp(), 30, 65, 300), ["byte 63 (CC_BASE)", "byte 95 (CC_EXT)", "A2h byte 95 (CC_DMI)"]),
        (broken(qsfp(), 150), ["byte 191 (CC_BASE)"]),
        (broken(qsfp(), 150, 200), ["byte 191 (CC_BASE)", "byte 223 (CC_EXT)"]),
    ],
)
def test_every_wrong_check_code_is_told_at_once(memory: bytes, paths: list[str]) -> None:
    with pytest.raises(DocumentError) as error:
        read_memory(memory)

    assert [fault.path for fault in error.value.faults] == paths


def test_wrong_check_code_names_offset_computed_and_found() -> None:
    memory = sfp({20: b"GULLWING PHOTONS"})
    due = memory[63]

    with pytest.raises(DocumentError) as error:
        read_memory(memory[:63] + bytes([due ^ 0xFF]) + memory[64:])
    assert str(error.value) == (
        "module memory: 1 fault\n"
        f"  byte 63 (CC_BASE): bytes 0 to 62 add up to 0x{due:02x}, and the memory has 0x{due ^ 0xFF:02x}: it was read wrongly, or changed; read it again"
    )


@pytest.mark.parametrize("memory", [broken(sfp({68: bytes(16)}), 95), broken(qsfp({196: b" " * 16}), 223)], ids=["sfp", "qsfp"])
def test_serial_number_that_was_taken_out_leaves_its_check_code_unchecked_and_says_so(memory: bytes) -> None:
    assert "serial number was taken out" in " ".join(read_memory(memory).unread)


def test_nothing_of_serial_number_date_and_maker_is_kept() -> None:
    kept = repr(read_memory(sfp())) + repr(read_memory(qsfp()))

    assert [secret for secret in ("SERIAL", "GWS", "260107", "GULLWING") if secret in kept] == []
