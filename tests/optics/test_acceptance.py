"""The limit of an acceptance test, by reference method and edition."""

import pytest

from optiselect.optics.acceptance import END_CONNECTIONS_SEEN, acceptance_limit_db
from optiselect.standards.fiber import end_connection_db


def test_the_limit_of_127_m_with_one_splice() -> None:
    """0.127 x 3.75 + 2 x 0.75 + 0.3 = 2.28 dB in print (a fiber loss page, TIA/EIA-568; facts test.example1)."""
    assert acceptance_limit_db(127, 3.75, method="one-cord", splices=1) == 2.276


@pytest.mark.parametrize(("method", "limit_db"), [("one-cord", 1.85), ("two-cord", 1.1), ("three-cord", 0.35)])
def test_each_cord_of_the_reference_takes_an_end_connection_away(method: str, limit_db: float) -> None:
    """The same link reads one connection lower (a tester's manual; facts test.ref.1, .2, .3), so the limit drops by 0.75 dB."""
    assert acceptance_limit_db(100, 3.5, method=method) == limit_db  # type: ignore[arg-type]


def test_the_methods_are_those_of_the_standard() -> None:
    """Jumpers 1, 2, 3: end connections included 2, 1, 0 (TIA/EIA-526-14A; facts test.ref.names)."""
    assert END_CONNECTIONS_SEEN == {"one-cord": 2, "two-cord": 1, "three-cord": 0}


@pytest.mark.parametrize(("edition", "limit_db"), [("tia-568.3-d", 0.95), ("tia-568.3-e", 1.35), ("iso-14763-3", 0.95)])
def test_the_edition_sets_the_end_connections(edition: str, limit_db: float) -> None:
    """Multimode end connections to reference-grade cords: 0.3 dB, and 0.5 dB since TIA-568.3-E (facts conn.ref.std.d, .e)."""
    end_db = end_connection_db(edition, "multimode")  # type: ignore[arg-type]
    assert acceptance_limit_db(100, 3.5, method="one-cord", end_connection_loss_db=end_db) == limit_db


def test_a_method_that_is_not_one_is_refused() -> None:
    with pytest.raises(KeyError):
        acceptance_limit_db(100, 3.5, method="four-cord")  # type: ignore[arg-type]


def test_inner_connections_and_splices_take_the_allowances_of_the_cabling_standard() -> None:
    """TIA-568.3: 0.75 dB a connection, 0.3 dB a splice."""
    assert acceptance_limit_db(0, 3.5, method="three-cord", inner_connections=2, splices=1) == 1.8
