"""What is concluded from a module's memory: only what can be relied on. Invented memories, each changed in the one thing at hand."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.demo import demo_catalog
from optiselect.demo.memory import demo_memory, dump_text
from optiselect.errors import OptiselectError
from optiselect.model.catalog import Module
from optiselect.standards.transceiver import transceiver
from tests.formats.invented_memory import Bytes, qsfp, sfp

NM_1310, NM_1550, NM_1490, NM_1270 = ((nm).to_bytes(2, "big") for nm in (1310, 1550, 1490, 1270))
NO_LENGTHS: Bytes = {14: 0, 15: 0, 16: 0, 17: 0, 18: 0, 19: 0}
KM_10: Bytes = {**NO_LENGTHS, 14: 10, 15: 100}
KM_40: Bytes = {**NO_LENGTHS, 14: 40, 15: 255}
GIGABIT: Bytes = {3: 0, 11: 0x01, 12: 13}
ONE_STRAND: Bytes = {**GIGABIT, **KM_10, 6: 0x40}
TWISTED_PAIR: Bytes = {**NO_LENGTHS, 2: 0x22, 3: 0, 60: b"\x00\x00"}


@pytest.mark.parametrize(
    ("changes", "standard", "rates"),
    [
        ({}, "10GBASE-SR", ("10G",)),
        ({3: 0x20, 60: NM_1310, **KM_10}, "10GBASE-LR", ("10G",)),
        ({3: 0x40, 60: NM_1310}, "10GBASE-LRM", ("10G",)),
        ({3: 0x80, 60: NM_1550, **KM_40}, "10GBASE-ER", ("10G",)),
        ({**GIGABIT, 6: 0x01}, "1000BASE-SX", ("1G",)),
        ({**GIGABIT, **KM_10, 6: 0x02, 60: NM_1310}, "1000BASE-LX", ("1G",)),
        ({**ONE_STRAND, 60: NM_1310}, "1000BASE-BX10-U", ("1G",)),
        ({**ONE_STRAND, 60: NM_1490}, "1000BASE-BX10-D", ("1G",)),
        ({**ONE_STRAND, 12: 1, 60: NM_1550}, "100BASE-BX10-D", ("100M",)),
        ({3: 0, 6: 0x20, 12: 1, 60: NM_1310, **NO_LENGTHS}, "100BASE-FX", ("100M",)),
        ({3: 0, 6: 0x10, 12: 1, 60: NM_1310, **KM_10}, "100BASE-LX10", ("100M",)),
        ({3: 0, 12: 255, 66: 103, 36: 0x02}, "25GBASE-SR", ("25G",)),
        ({3: 0, 12: 255, 66: 103, 36: 0x03, 60: NM_1310, **KM_10}, "25GBASE-LR", ("25G",)),
        ({**TWISTED_PAIR, 6: 0x08, 12: 12}, "1000BASE-T", ("1G",)),
        ({**TWISTED_PAIR, 36: 0x1E, 12: 0}, "2.5GBASE-T", ("2.5G",)),
        ({**TWISTED_PAIR, 36: 0x1D, 12: 0}, "5GBASE-T", ("5G",)),
        ({**TWISTED_PAIR, 36: 0x16}, "10GBASE-T", ("10G",)),
        ({6: 0x01}, "10GBASE-SR", ("1G", "10G")),
    ],
)
def test_standard_that_the_codes_claim_is_believed(changes: Bytes, standard: str, rates: tuple[str, ...]) -> None:
    module = Module.from_memory(sfp(changes))

    assert (module.standard, module.rates) == (standard, rates)


@pytest.mark.parametrize(
    ("changes", "rates", "mode"),
    [
        ({3: 0x20, **KM_10, 60: NM_1270}, ("10G",), "single-mode"),
        ({**GIGABIT, 6: 0x02, **KM_40, 60: NM_1550}, ("1G",), "single-mode"),
        ({**ONE_STRAND, 60: NM_1550}, ("1G",), "single-mode"),
        ({**ONE_STRAND, **KM_40, 60: NM_1310}, ("1G",), "single-mode"),
        ({3: 0x20, **KM_10, 12: 98, 60: NM_1310}, None, "single-mode"),
        ({3: 0x30}, ("10G",), "multimode"),
        ({3: 0, **KM_40, 60: NM_1550}, ("10G",), "single-mode"),
        ({3: 0, 6: 0, 12: 0}, None, "multimode"),
    ],
    ids=["lr-1270", "lx-1550", "bx10-1550", "bx10-40km", "lr-9800-mbd", "sr-and-lr", "no-code", "no-code-no-rate"],
)
def test_standard_that_something_speaks_against_is_left_out(changes: Bytes, rates: tuple[str, ...] | None, mode: str) -> None:
    module = Module.from_memory(sfp(changes))

    assert (module.standard, module.rates, module.mode) == (None, rates, mode)


@pytest.mark.parametrize(
    ("changes", "medium", "standard"),
    [
        ({2: 0x22}, "copper", "10GBASE-T"),
        ({2: 0x22, **GIGABIT, 6: 0x01}, "copper", "1000BASE-T"),
        ({2: 0x21}, "coax", None),
        ({2: 0x07}, "fiber", "10GBASE-SR"),
    ],
)
def test_plug_tells_the_medium_whatever_interface_a_module_gives_itself_out_for(changes: Bytes, medium: str, standard: str | None) -> None:
    module = Module.from_memory(sfp(changes))

    assert (module.medium, module.standard) == (medium, standard)


def test_sender_without_a_standard_sends_at_its_nominal_wavelength_and_hears_nobody_knows_what() -> None:
    module = Module.from_memory(sfp({**ONE_STRAND, 60: NM_1550}))

    assert (module.tx_nm, module.rx_nm, module.strands) == ((1550, 1550), None, 1)


def test_tolerance_of_a_qsfp_makes_a_window() -> None:
    assert Module.from_memory(qsfp({131: 0})).tx_nm == (1294.5, 1307.5)


@pytest.mark.parametrize("key", ["tx_dbm", "rx_dbm", "rx_nm", "temperature_c", "laser_class", "penalty_db", "channel_loss_db", "dispersion_ps_nm"])
@pytest.mark.parametrize("memory", [sfp(), qsfp()], ids=["sfp", "qsfp"])
def test_what_no_memory_states_is_left_out(memory: bytes, key: str) -> None:
    assert getattr(Module.from_memory(memory), key) is None


@pytest.mark.parametrize(
    ("changes", "reaches"),
    [
        ({}, {"OM1": 30, "OM2": 80, "OM3": 300, "OM4": 400}),
        ({16: 0, 17: 0, 19: 10}, {"OM2": None, "OM3": 100, "OM4": 100}),
        ({16: 30, 17: 15, 19: 30}, {"OM1": 33, "OM2": 82, "OM3": 300}),
        ({**GIGABIT, 6: 0x01, 16: 55, 17: 50, 19: 0}, {"OM1": 500, "OM2": 550, "OM3": 550}),
        ({**GIGABIT, 6: 0x01, 12: 21, 16: 30, 17: 15, 19: 0}, {"OM1": 275, "OM2": 550}),
        ({**GIGABIT, **KM_10, 6: 0x02, 60: NM_1310}, {"OS2": 10_000, "OM2": 550}),
        ({3: 0x20, **NO_LENGTHS, 14: 2, 60: NM_1310}, {"OS2": 2000}),
        ({**TWISTED_PAIR, 36: 0x1C}, {"Cat6A": 30}),
        ({**TWISTED_PAIR, 36: 0x16, 18: 80}, {"Cat6A": 80}),
        ({**TWISTED_PAIR, 36: 0x16}, {"Cat6A": 30}),
        ({**NO_LENGTHS, 2: 0x21, 3: 0, 8: 0x04, 18: 3}, {"coax": 3}),
    ],
    ids=["as-published", "short-on-om3", "too-long-at-10g", "beyond-at-1g", "of-a-faster-line", "lx-10km", "lr-2km", "t-30m", "t-80m", "t-unstated", "twinax"],
)
def test_reach_is_what_memory_and_standard_allow_together(changes: Bytes, reaches: dict[str, float | None]) -> None:
    module = Module.from_memory(sfp(changes))
    light = transceiver(module, (module.rates or ("10G",))[-1])

    assert {grade: light.reach_for(grade) for grade in reaches} == reaches  # type: ignore[arg-type]


def test_lengths_of_a_module_of_two_rates_belong_to_neither() -> None:
    module = Module.from_memory(sfp({6: 0x01, 16: 30, 17: 15, 19: 0}))

    assert [transceiver(module, rate).reach_for("OM2") for rate in ("1G", "10G")] == [550, 82]


@pytest.mark.parametrize(
    ("memory", "form"),
    [(sfp({**GIGABIT, 6: 0x01}), "SFP"), (sfp(), "SFP+"), (sfp({3: 0, 12: 255, 66: 103}), "SFP28"), (sfp({3: 0, 12: 98}), "SFP+"), (sfp({3: 0, 12: 0}), None)],
)
def test_form_of_an_sfp_follows_its_rate(memory: bytes, form: str | None) -> None:
    assert Module.from_memory(memory).form == form


def test_part_number_with_a_slash_becomes_an_id() -> None:
    assert Module.from_memory(sfp({40: b"GW-10SR/A       "})).part == "GW-10SR-A"


def test_module_without_a_part_number_is_named_for_its_interface() -> None:
    assert Module.from_memory(sfp({40: b" " * 16})).part == "no part number (SFP 10GBASE-SR)"


def test_description_tells_the_monitor_apart_from_the_limits() -> None:
    assert Module.from_memory(sfp()).description == (
        "Read from the module's memory; nominal 850 nm; 10300 MBd; "
        "its monitor warns outside -10 to 0 dBm sent, -26.99 to -1 dBm received, 0 to 70 C, which are no limits of the module"
    )


def remembered(module: Module) -> Module | None:
    try:
        return Module.from_memory(dump_text(demo_memory(module)).encode())
    except OptiselectError:
        return None


WRITTEN = {module.part: (module, found) for module in demo_catalog().modules if (found := remembered(module)) is not None}
SAME_STANDARD = [part for part, (module, found) in WRITTEN.items() if found.standard is not None]


def test_most_of_the_demo_catalog_has_a_memory() -> None:
    assert len(WRITTEN) > 0.8 * len(demo_catalog().modules)


@pytest.mark.parametrize("part", SAME_STANDARD)
def test_module_of_a_standard_is_the_same_after_its_memory(part: str) -> None:
    module, found = (transceiver(each, (each.rates or ("1G",))[-1]) for each in WRITTEN[part])

    assert (found.form, found.rate, found.medium, found.mode, found.strands, found.connector) == (
        module.form,
        module.rate,
        module.medium,
        module.mode,
        module.strands,
        module.connector,
    )


@pytest.mark.parametrize("part", WRITTEN)
def test_memory_never_promises_more_than_the_catalog(part: str) -> None:
    """A figure that both state: the reach is no longer, the power no less, the sender not elsewhere."""
    stated, found = (transceiver(each, (each.rates or ("1G",))[-1]) for each in WRITTEN[part])
    grades: tuple[Any, ...] = ("OS2", "OM1", "OM2", "OM3", "OM4", "Cat6A")

    assert [grade for grade in grades if (found.reach_for(grade) or 0) > (stated.reach_for(grade) or 0)] == []
    assert (found.power_w or 0) >= (stated.power_w or 0)
    sent_nm, sends_nm = found.tx_nm or stated.tx_nm or (0, 0), stated.tx_nm or (0, 10_000)
    assert sent_nm[0] <= sends_nm[1] and sends_nm[0] <= sent_nm[1]


def test_reach_of_a_socket_of_two_standards_is_not_known() -> None:
    module = Module.from_memory(sfp({**TWISTED_PAIR, 6: 0x08, 36: 0x16}))
    assert (module.rates, module.reach_m) == (("1G", "10G"), None)


def test_monitor_that_warns_of_nothing_is_not_told() -> None:
    silent = Module.from_memory(sfp({256: bytes(8), 280: bytes(16), 346: 1}))
    assert "monitor" in str(Module.from_memory(sfp()).description)
    assert "monitor" not in str(silent.description)
