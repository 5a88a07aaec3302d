"""What people carry to the ports: port schedule, cord list, labels."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.handover.dossier import Dossier
from optiselect.handover.papers import paper
from optiselect.handover.ports import in_ranges
from optiselect.model.document import Figures
from optiselect.model.network import expand_ids
from tests.handover.causeway import causeway


def _row(of: Dossier, name: str, **wanted: Any) -> dict[str, Any]:
    (found,) = [record for record in paper(of, name).records() if all(record[key] == value for key, value in wanted.items())]
    return found


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ([], ""),
        (["1"], "1"),
        (["1", "2", "3", "7"], "1-3, 7"),
        (["a1", "a2", "b3", "up"], "a1-a2, b3, up"),
        (["01", "02"], "01, 02"),
        (["9", "10", "11"], "9-11"),
    ],
)
def test_neighbors_are_joined(names: list[str], said: str) -> None:
    assert in_ranges(names) == said


def test_every_port_of_every_device_is_on_the_schedule(terminal: Dossier) -> None:
    shown: list[str] = []
    for row in paper(terminal, "ports").records():
        device = terminal.network.device_by_id[str(row["device"])]
        shown += [f"{device.id}/{name}" for name in ([row["port"]] if row["port"] in device.port_by_id else list(expand_ids(str(row["port"]))))]

    assert sorted(shown) == sorted(f"{device.id}/{name}" for device in terminal.network.devices for name in device.port_by_id)


def test_expected_power_is_what_the_plan_says_arrives_there(terminal: Dossier) -> None:
    arrives = {way.to: way.rx_dbm for link in terminal.plan.links for way in link.directions}
    shown = {f"{row['device']}/{row['port']}": (row["rx_low_dbm"], row["rx_high_dbm"]) for row in paper(terminal, "ports").records() if row["rx_low_dbm"]}

    assert shown == arrives


def test_power_that_is_expected_lies_within_what_the_receiver_bears(terminal: Dossier) -> None:
    rows = [row for row in paper(terminal, "ports").records() if row["rx_low_dbm"] is not None]

    assert all(row["rx_sensitivity_dbm"] <= row["rx_low_dbm"] <= row["rx_high_dbm"] <= row["rx_overload_dbm"] for row in rows)  # type: ignore[operator]
    assert len(rows) == 72


@pytest.mark.parametrize(
    ("device", "port", "action"),
    [
        ("harbor-sw", "up", "plug into the fixed optic"),
        ("core-a", "1", "EL-S13-LX5 is in it; leave it until its use is known"),
        ("ap-1", "up", "plug into the copper socket"),
    ],
)
def test_schedule_says_what_to_do(device: str, port: str, action: str, terminal: Dossier) -> None:
    assert _row(terminal, "ports", device=device, port=port)["action"] == action


@pytest.mark.parametrize(
    ("installed", "keep", "action"),
    [
        ({}, "no", "fit STD-1000BASE-LX10"),
        ({"core/1": "STD-1000BASE-SX"}, "no", "take out STD-1000BASE-SX, then fit STD-1000BASE-LX10"),
        ({"core/1": "STD-1000BASE-LX10"}, "prefer", "STD-1000BASE-LX10 stays"),
        ({"core/1": "STD-1000BASE-LX10"}, "no", "take out STD-1000BASE-LX10, fit a new one"),
    ],
    ids=["empty", "another module", "stays", "not to be kept"],
)
def test_what_is_in_the_cage_decides_what_to_do(installed: dict[str, str], keep: str, action: str) -> None:
    of = causeway()
    network = of.network.model_copy(update={"installed": Figures(installed)})
    changed = Dossier(of.plan, network, of.catalog, of.policy.model_copy(update={"keep_installed": keep}))

    assert _row(changed, "ports", device="core", port="1")["action"] == action


def test_attenuator_says_where_it_sits(terminal: Dossier) -> None:
    rows = [row for row in paper(terminal, "ports").records() if row["attenuator"]]

    assert [(row["device"], row["attenuator_at"]) for row in rows] == [
        ("core-b", "in the receive leg of this port"),
        ("harbor-sw", "in the receive leg of this port"),
    ]


def test_strands_of_the_two_ends_of_a_pair_are_crossed() -> None:
    here, there = (_row(causeway(), "ports", link="pair", device=device) for device in ("core", "beacon"))

    assert (here["transmit_strand"], here["receive_strand"]) == ("13", "14")
    assert (there["transmit_strand"], there["receive_strand"]) == ("4", "3")


def test_label_names_port_link_far_end_run_and_strands() -> None:
    assert _row(causeway(), "labels", device="core", link="pair")["text"] == "core/1 | pair | to beacon/1 | A 13-14"


def test_hybrid_cord_is_called_out_with_its_plugs_and_legs() -> None:
    """Run B shows SC at the beacon, and the module has LC."""
    row = _row(causeway(), "cords", link="pair", at="beacon/1")

    assert (row["near"], row["far"], row["special"], row["legs"]) == ("LC", "SC", "hybrid", "transmit to strand 4, receive from strand 3")


def test_mode_conditioning_cord_says_which_leg_goes_to_the_transmitter(terminal: Dossier) -> None:
    """IEEE 802.3, 38.11.4: the offset-launch leg is at the transmitter."""
    rows = [row for row in paper(terminal, "cords").records() if row["link"] == "gate-1"]

    assert {row["special"] for row in rows} == {"mode-conditioning, hybrid"}
    assert all(
        str(row["legs"]).startswith("single-mode leg (offset launch) to the transmitter, multimode leg to the receiver; transmit to strand") for row in rows
    )


def test_cords_are_those_of_the_plan(terminal: Dossier) -> None:
    planned = sorted(end.cord for link in terminal.plan.links for end in link.ends if end.cord)

    assert sorted(str(cord) for cord in paper(terminal, "cords").column("cord")) == planned


def test_there_is_a_label_for_each_end_and_copies_for_its_cord(terminal: Dossier) -> None:
    rows = paper(terminal, "labels").records()

    assert len(rows) == 2 * len(terminal.plan.links)
    assert sum(int(row["copies"] or 0) for row in rows) == len(rows) + 2 * sum(end.cord is not None for link in terminal.plan.links for end in link.ends)
