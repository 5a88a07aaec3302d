"""What is told of one end: the place, what the socket or the policy asks, and what is there or not stated."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.model.catalog import Converter
from optiselect.model.network import CopperPort, SharedPort
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedLink
from tests.rules.fitting import breaches, built_to, copper, fiber, holds, link, sentences, with_end

LX10 = built_to("1000BASE-LX10")
PLAIN = link(LX10, LX10, fiber(100))
BARE = Converter(part="MC", copper_rates=["1G"], form="SFP", rates=["1G"])
SEALED = Converter(part="MCF", copper_rates=["1G"], optic={"standard": "1000BASE-LX10", "connector": "SC"})
SOCKET = CopperPort(id="1", rates=["1G"])
SHARED = SharedPort(id="1", form="SFP", rates=["1G"], copper_rates=["100M"])


def at_the_gate(**changes: Any) -> FittedLink:
    return with_end(PLAIN, 1, **changes)


WRONG = {
    "an optic of its own stated for a cage": (
        "form",
        at_the_gate(fitting="fixed", module=None),
        ["gate/1 takes SFP, and what is stated as fitted is an optic of the port's own"],
    ),
    "an optic of its own stated for a converter's cage": (
        "form",
        at_the_gate(fitting="fixed", module=None, converter=BARE, port=SOCKET),
        ["gate/1 takes a copper plug, and what is stated as fitted is an optic of the port's own"],
    ),
    "an optic of its own stated for a shared port": (
        "form",
        at_the_gate(fitting="fixed", module=None, port=SHARED),
        ["gate/1 takes SFP or a copper plug, and what is stated as fitted is an optic of the port's own"],
    ),
    "a cage that runs no rate": (
        "rate",
        at_the_gate(port=SHARED.model_copy(update={"rates": ()})),
        ["gate/1: the link runs 1G, and the cage runs none"],
    ),
    "an optic that a converter has": ("form", at_the_gate(fitting="fixed", module=None, converter=SEALED, port=SOCKET), []),
    "no rate": ("rate", at_the_gate(light={"rates": ()}), ["gate/1: the rate of 1000BASE-LX10 module is not stated, so this cannot be checked"]),
    "no medium": ("medium", at_the_gate(light={"medium": None}), ["gate/1: the medium of 1000BASE-LX10 module is not stated, so this cannot be checked"]),
    "no coding, where any is taken": ("coding", at_the_gate(light={"coding": ()}), []),
    "no coding, where one is asked": (
        "coding",
        at_the_gate(light={"coding": ()}, device=PLAIN.b.device.model_copy(update={"accepts": ("harbor",)})),
        ["gate/1: the coding of 1000BASE-LX10 module is not stated, so this cannot be checked"],
    ),
    "no power": ("cage-power", at_the_gate(light={"power_w": None}), ["gate/1: the power of 1000BASE-LX10 module is not stated, so this cannot be checked"]),
    "no power of an optic that is no module": ("cage-power", at_the_gate(light={"power_w": None}, fitting="fixed", module=None), []),
    "no laser in coax": ("laser-class", at_the_gate(light={"laser_class": None, "medium": "coax"}), []),
    "no laser in copper": ("laser-class", at_the_gate(light={"laser_class": None, "medium": "copper"}), []),
    "no laser class": (
        "laser-class",
        at_the_gate(light={"laser_class": None}),
        ["gate/1: the laser class of 1000BASE-LX10 module is not stated, so this cannot be checked"],
    ),
}


@pytest.mark.parametrize(("rule_id", "fitted", "said"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_or_not_known_at_an_end_is_told_there(rule_id: str, fitted: FittedLink, said: list[str]) -> None:
    known = with_end(fitted, 0, light={"power_w": 1.0})
    assert sentences(rule_id, known) == said


def test_what_is_not_known_is_marked_so_and_never_passes() -> None:
    for rule_id, blank in (("rate", {"rates": ()}), ("medium", {"medium": None}), ("laser-class", {"laser_class": None})):
        assert [breach.unknown for breach in breaches(rule_id, at_the_gate(light=blank))] == [True]


def test_module_that_must_stay_does_not_move_into_a_converter() -> None:
    kept = with_end(link(LX10, LX10, fiber(100), policy=Policy(keep_installed="must")), 1, installed=LX10.part)
    moved = with_end(kept, 1, converter=BARE, port=SOCKET)
    assert holds("installed", kept)
    another = with_end(kept, 1, installed="OTHER")
    assert sentences("installed", another) == [f"gate/1: OTHER is in place and must stay, and {LX10.part} is planned there"]
    assert sentences("installed", moved) == [f"gate/1: {LX10.part} is in place and must stay, and {LX10.part} in MC is planned there"]


@pytest.mark.parametrize(
    ("changes", "stays"),
    [
        ({"installed": LX10.part}, True),
        ({"installed": None}, False),
        ({"installed": "OTHER"}, False),
        ({"installed": LX10.part, "module": None}, False),
        ({"installed": LX10.part, "converter": BARE, "port": SOCKET}, False),
    ],
)
def test_module_stays_where_it_is_only_in_its_own_cage(changes: dict[str, Any], stays: bool) -> None:
    assert at_the_gate(**changes).b.stays is stays


@pytest.mark.parametrize(
    ("fitted", "held"),
    [
        (PLAIN, "1000BASE-LX10 module"),
        (link(None, None, copper(10, "Cat6")), "the copper socket"),
        (at_the_gate(fitting="fixed", module=None), "the fixed optic"),
        (at_the_gate(fitting="fixed", module=None, converter=SEALED), "the optic of MCF"),
    ],
)
def test_what_an_end_holds_has_a_name(fitted: FittedLink, held: str) -> None:
    assert fitted.b.holds == held
