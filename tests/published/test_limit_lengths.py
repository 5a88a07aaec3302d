"""Each PMD at its own limit: published channel loss and reach hold at the published length, and one step beyond nothing does.

Channel: two connections of 0.75 dB and the default attenuation table. Reach and channel loss: IEEE 802.3, by value in
optiselect/standards/pmd, each compared with its citation in tests/standards/test_figures.py.
"""

import pytest

from optiselect.model.catalog import Optics
from optiselect.model.network import Fiber
from optiselect.model.policy import Policy
from optiselect.model.terms import CORE_OF, Grade
from optiselect.optics.budget import margin_db, run_loss_pico
from optiselect.optics.decibels import to_millidecibel
from optiselect.standards.pmd import pmd, pmd_names
from optiselect.standards.transceiver import Transceiver, transceiver

STEP_M = 1
EXCEPTIONS = {("40GBASE-SR4", "OM4"), ("40GBASE-SR4", "OM5"), ("10GBASE-ER", "OS2")}
POWERS_UNKNOWN = {"10GBASE-BR10-D", "10GBASE-BR10-U"}
GRADES: tuple[Grade, ...] = tuple(grade for grade in CORE_OF if grade not in ("OS1", "OS1a"))
"""OS1 and OS1a lose 1.0 dB/km, so that light ends before the published reach; a test of its own says so."""


def light_of(name: str) -> Transceiver:
    """A transceiver that is exactly its standard."""
    rates = pmd(name).figures.rates
    assert rates is not None
    return transceiver(Optics(standard=name), rates[0])


def margin_at(name: str, grade: Grade, length_m: float, connection_loss_db: float = 0.75) -> float:
    """Margin in dB against the published channel loss, with two connections."""
    light = light_of(name)
    channel_db = light.channel_loss_for(grade)
    assert light.tx_nm is not None and channel_db is not None
    loss = run_loss_pico(Fiber(grade=grade, length_m=length_m, strands=12), light.tx_nm, 2, Policy(connection_loss_db=connection_loss_db))
    assert loss is not None
    return margin_db(channel_db, to_millidecibel(loss[1]) / 1000)


def holds(name: str, grade: Grade, length_m: float) -> bool:
    """Whether a channel of that length is within both the published reach and the published channel loss."""
    reach_m = light_of(name).reach_for(grade)
    return reach_m is not None and length_m <= reach_m and margin_at(name, grade, length_m) >= 0


LIMITS = [
    (name, grade)
    for name in pmd_names()
    for grade in GRADES
    if pmd(name).figures.medium == "fiber" and name not in POWERS_UNKNOWN and light_of(name).reach_for(grade) is not None
]


@pytest.mark.parametrize(("name", "grade"), [limit for limit in LIMITS if limit not in EXCEPTIONS])
def test_a_pmd_holds_at_its_published_length_and_not_one_step_beyond(name: str, grade: Grade) -> None:
    reach_m = light_of(name).reach_for(grade)
    assert reach_m is not None
    assert holds(name, grade, reach_m)
    assert not holds(name, grade, reach_m + STEP_M)


def test_the_limits_cover_every_pmd_of_known_power() -> None:
    assert {name for name, _ in LIMITS} == {name for name in pmd_names() if pmd(name).figures.medium == "fiber"} - POWERS_UNKNOWN


def test_10gbase_sr_on_om4_is_exactly_at_its_limit() -> None:
    """400 m: 1.5 + 0.4 x 3.5 = 2.9 dB of 2.9 (Table 52-10); by light alone, 401 m lack 0.004 dB."""
    assert margin_at("10GBASE-SR", "OM4", 400) == 0.0
    assert margin_at("10GBASE-SR", "OM4", 401) == -0.004


@pytest.mark.parametrize("grade", ["OM4", "OM5"])
def test_40gbase_sr4_at_150_m_asks_for_better_connections(grade: Grade) -> None:
    """Its 1.5 dB assumes 1.0 dB of connections (facts 40gbase-sr4.cil), and is 1.54 before rounding: by the table it lacks 0.525 dB with

    two of 0.75 dB, 0.025 dB with two of 0.5 dB, and holds with two of 0.48 dB.
    """
    assert margin_at("40GBASE-SR4", grade, 150) == -0.525
    assert margin_at("40GBASE-SR4", grade, 150, connection_loss_db=0.5) == -0.025
    assert margin_at("40GBASE-SR4", grade, 150, connection_loss_db=0.48) == 0.015


def test_10gbase_er_ends_at_38_km() -> None:
    """40 km is an engineered link (Clause 52): at 0.25 dB/km and 1.5 dB of connections 11.0 dB are used up at 38 km."""
    assert margin_at("10GBASE-ER", "OS2", 38_000) == 0.0
    assert margin_at("10GBASE-ER", "OS2", 40_000) == -0.5


@pytest.mark.parametrize(("name", "length_m"), [("1000BASE-LX10", 4500), ("1000BASE-LX", 3070), ("100BASE-LX10", 4500), ("10GBASE-LR", 4700)])
def test_on_os1_light_ends_before_the_published_reach(name: str, length_m: float) -> None:
    """OS1 is 1.0 dB/km (ISO/IEC 11801:2002), meant for 2 km and less: (channel loss - 1.5) km."""
    reach_m = light_of(name).reach_for("OS1")
    assert reach_m is not None and length_m < reach_m
    assert margin_at(name, "OS1", length_m) == 0.0


@pytest.mark.parametrize("name", sorted(POWERS_UNKNOWN))
def test_where_powers_are_unknown_no_channel_loss_is_guessed(name: str) -> None:
    light = light_of(name)
    assert (light.channel_loss_for("OS2"), light.tx_dbm("9"), light.rx_dbm, light.reach_for("OS2")) == (None, None, None, 10_000)
