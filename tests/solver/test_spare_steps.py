"""Spares as a step function of the units of a part, against its definition: from the i-th figure on one spare more is kept."""

import pytest

from optiselect.solver.choice import SpareSteps

STEPS = [(), (1,), (2, 5, 9), (3, 3, 3, 4), (1, 1, 6, 6, 6)]


@pytest.mark.parametrize("units", STEPS)
def test_the_spares_kept_are_the_steps_that_are_reached(units):
    steps = SpareSteps(units, 1)
    assert [steps.kept(used) for used in range(12)] == [sum(used >= threshold for threshold in units) for used in range(12)]


@pytest.mark.parametrize("units", STEPS)
def test_steps_at_one_number_of_units_are_one_jump(units):
    jumps = SpareSteps(units, 1).jumps
    assert [threshold for threshold, several in jumps for _ in range(several)] == list(units)
    assert len({threshold for threshold, _ in jumps}) == len(jumps)
