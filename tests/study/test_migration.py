"""From what is plugged in to a target: what stays, what goes together, what comes first."""

import pytest

from optiselect.errors import UnknownNameError
from optiselect.model.network import Network
from optiselect.solver.solve import solve_bare
from optiselect.study import Case, migration
from tests.study.harbor import NETWORK, harbor


def installed(modules, **policy):
    case = harbor(**policy)
    return Case(Network(**NETWORK, installed=modules), case.catalog, case.policy)


def target(**policy):
    case = harbor(**policy)
    return solve_bare(case.network, case.catalog, case.policy)


def fitted(plan):
    return {f"{end.device}/{end.port}": end.module for link in plan.links for end in link.ends if end.module}


def test_what_is_the_target_already_needs_no_work():
    found = migration(installed(fitted(target())), target())

    assert found.steps == ()
    assert found.text() == "Nothing is to be changed."


def test_empty_cages_are_filled_without_interrupting_anything():
    found = migration(harbor())

    assert {link for step in found.steps for link in step.links} == {"quay-1", "quay-2", "mast", "camera", "light"}
    assert not any(step.interrupts for step in found.steps)
    assert found.steps[-1].links == ("quay-1",)  # the critical link last


def test_as_little_as_can_be_is_changed():
    dearer = {port: "NO-LX" for port, part in fitted(target()).items() if part == "SO-LX"}
    found = migration(installed(dearer))

    assert [step.links for step in found.steps] == [("light",)]
    assert dearer.items() <= fitted(found.plan).items()


def swapped(link, old):
    """The step of one link whose two ends hold something else today."""
    plan = target()
    ends = [f"{end.device}/{end.port}" for planned in plan.links if planned.id == link for end in planned.ends]
    return ends, next(step for step in migration(installed(fitted(plan) | dict.fromkeys(ends, old)), plan).steps if link in step.links)


def test_ends_that_do_not_understand_each_other_are_changed_together():
    ends, step = swapped("camera", "NO-SX")

    assert (step.together, step.first, step.interrupts) == (True, "", True)
    assert [(work.port, work.take_out, work.put_in) for work in step.work] == [(port, "NO-SX", "SO-LX") for port in ends]
    assert step.text().startswith("camera (both ends at the same time)")


def test_ends_that_understand_each_other_are_changed_one_after_another():
    ends, step = swapped("quay-1", "NO-LX")

    assert (step.together, step.first) == (False, ends[0])
    assert step.text().startswith(f"quay-1 ({ends[0]} first, the link runs in between)")


def with_ports_exchanged(plan, device, first, second):
    ports = {first: second, second: first}
    links = [
        link.model_copy(
            update={"ends": tuple(end.model_copy(update={"port": ports.get(end.port, end.port)}) if end.device == device else end for end in link.ends)}
        )
        for link in plan.links
    ]
    return plan.model_copy(update={"links": tuple(links)})


def test_links_that_wait_for_each_others_ports_move_together():
    plan = target(objective=("links", "cost", "part_numbers"))
    ports = {link.id: end.port for link in plan.links for end in link.ends if end.device == "mast"}
    found = migration(installed(fitted(plan)), with_ports_exchanged(plan, "mast", ports["camera"], ports["mast"]))

    assert [step.links for step in found.steps] == [("camera", "mast")]
    assert found.steps[0].together


def test_modules_that_no_link_uses_are_left_over():
    found = migration(installed(fitted(target()) | {"core/6": "NO-SX"}), target())

    assert found.left_over == (("core/6", "NO-SX"),)
    assert found.freed == {"NO-SX": 1}


def test_the_way_is_a_table_and_ends_with_the_cautions():
    found = migration(harbor())

    assert found.frame()["port"].is_unique
    assert "never look into a port" in found.text()


def test_a_target_of_another_network_is_refused():
    stranger = target().model_copy(update={"links": (target().links[0].model_copy(update={"id": "elsewhere"}),)})

    with pytest.raises(UnknownNameError, match="there is no link 'elsewhere'"):
        migration(harbor(), stranger)
