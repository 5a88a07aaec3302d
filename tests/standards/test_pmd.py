"""The PMDs: their names, their pairs, and what is told about a name that is not one."""

import pytest

from optiselect.errors import UnknownNameError
from optiselect.standards.pmd import family_of, pmd, pmd_names

SINGLE_STRAND = ["100BASE-BX10", "1000BASE-BX10", "10GBASE-BR10"]
TEN_GIGABIT_AND_UP = [
    "10GBASE-SR",
    "10GBASE-LRM",
    "10GBASE-LR",
    "10GBASE-ER",
    "25GBASE-SR",
    "25GBASE-LR",
    "40GBASE-SR4",
    "40GBASE-LR4",
    "100GBASE-SR4",
    "100GBASE-LR4",
]


def test_a_standard_that_is_not_known_lists_those_that_are() -> None:
    with pytest.raises(UnknownNameError, match=r"there is no standard '1000BASE-ZX'; known: .*1000BASE-LX10.*100GBASE-LR4"):
        pmd("1000BASE-ZX")


def test_d_and_u_are_of_one_family() -> None:
    assert {pmd("1000BASE-BX10-D").family, pmd("1000BASE-BX10-U").family} == {"1000BASE-BX10"}
    assert family_of("1000BASE-LX10") == "1000BASE-LX10"


@pytest.mark.parametrize("family", SINGLE_STRAND)
def test_on_one_strand_each_side_hears_what_the_other_sends(family: str) -> None:
    """The mating rule: a D faces a U (a maker's installation guide, facts got.bx.pair)."""
    down, up = pmd(f"{family}-D").figures, pmd(f"{family}-U").figures
    assert (down.tx_nm, down.rx_nm) == (up.rx_nm, up.tx_nm)
    assert down.strands == up.strands == 1


@pytest.mark.parametrize("family", SINGLE_STRAND)
def test_a_d_does_not_hear_a_d(family: str) -> None:
    down = pmd(f"{family}-D").figures
    assert down.tx_nm is not None and down.rx_nm is not None
    assert down.tx_nm[0] > down.rx_nm[1]


@pytest.mark.parametrize("name", TEN_GIGABIT_AND_UP)
def test_at_10_gigabit_and_above_the_average_minima_hold_the_penalties(name: str) -> None:
    """Rx minimum = Tx minimum - channel insertion loss (IEEE 802.3 Clauses 52, 86, 95, 112), so nothing more comes off."""
    assert pmd(name).figures.penalty_db == 0.0


@pytest.mark.parametrize("name", [name for name in pmd_names() if pmd(name).figures.tx_dbm is not None])
def test_no_standard_overloads_itself_but_10gbase_er(name: str) -> None:
    """Tx maximum at most the Rx maximum (facts got.overload.lr); 10GBASE-ER needs 5 dB (got.overload.er)."""
    figures = pmd(name).figures
    powers = figures.tx_dbm
    assert powers is not None and figures.rx_dbm is not None
    ranges = list(powers.values()) if isinstance(powers, dict) else [powers]
    allowed_db = {"10GBASE-ER": 5.0}.get(name, 0.0)
    assert max(high for _, high in ranges) - figures.rx_dbm[1] == allowed_db
