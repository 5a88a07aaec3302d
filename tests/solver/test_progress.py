"""What a caller is told while the choice is made."""

from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.solver.progress import Progress
from optiselect.solver.solve import solve


def test_each_objective_is_told_in_the_unit_of_the_plan():
    events: list[Progress] = []
    plan = solve(demo_network(), demo_catalog(), demo_policy(), on_progress=events.append)
    told = {event.objective: (event.value, event.bound) for event in events if event.value is not None}
    assert told == {row.name: (row.value, row.bound) for row in plan.objective}
