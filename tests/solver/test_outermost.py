"""Links that are alike but for lengths and losses: when the outermost of them speak for those between, and when each speaks for itself."""

from __future__ import annotations

import pytest

from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedLink
from optiselect.rules.light import directions_of
from optiselect.solver.alike import _compared, _rise_together, _shares_an_attenuator
from tests.rules.fitting import attenuator, built_to, copper, fiber, link

LX, LONE = built_to("1000BASE-LX10"), built_to("1000BASE-BX10-D")
LONE_FAR = built_to("1000BASE-BX10-U")


@pytest.mark.parametrize(
    ("fitted", "shares"),
    [
        (link(LX, LX, fiber(100)), False),
        (link(LX, LX, fiber(100), attenuators=(attenuator(5), attenuator(5))), False),
        (link(LONE, LONE_FAR, fiber(100)), False),
        (link(LONE, LONE_FAR, fiber(100), attenuators=(attenuator(5), None)), True),
        (link(LONE, LONE_FAR, fiber(100), attenuators=(None, attenuator(5))), True),
        (link(LONE, LX, fiber(100), attenuators=(attenuator(5), None)), True),
        (link(None, None, copper(10, "Cat6")), False),
    ],
)
def test_attenuator_of_one_strand_is_for_both_directions(fitted: FittedLink, shares: bool) -> None:
    assert _shares_an_attenuator(fitted) is shares


@pytest.mark.parametrize(
    ("one", "other", "together"),
    [
        ((1, 2, 3), (10, 20, 30), True),
        ((3, 1, 2), (30, 10, 20), True),
        ((1, 2, 3), (10, 30, 20), False),
        ((2, 1, 3), (10, 20, 30), False),
        ((1, 1), (2, 1), True),
    ],
)
def test_losses_rise_together(one: tuple[float, ...], other: tuple[float, ...], together: bool) -> None:
    assert _rise_together(one, other) is together


def test_link_is_compared_by_its_length_and_the_losses_of_either_direction() -> None:
    fitted = link(LX, LX, fiber(100))
    there, back = directions_of(fitted)
    assert tuple(_compared(fitted, (there, back)) or ()) == (100, there.loss_min_db, there.loss_max_db, back.loss_min_db, back.loss_max_db)


def test_link_of_own_rules_or_of_which_a_loss_is_not_known_speaks_for_itself() -> None:
    ruled = link(LX, LX, fiber(100), policy=Policy(rules=(lambda _: True,)))
    assert _compared(ruled, directions_of(ruled)) is None
    odd = link(built_to("1000BASE-LX10", tx_nm=(1000, 1100)), LX, fiber(100))
    assert _compared(odd, directions_of(odd)) is None


def test_link_that_passes_less_with_distance_at_one_end_only_speaks_for_itself() -> None:
    slow = link(LX, built_to("1000BASE-LX10", throughput_mbit_s={100: 1000, 200: 500}), fiber(100))
    assert _compared(slow, directions_of(slow)) is None
