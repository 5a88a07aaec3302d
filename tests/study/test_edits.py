"""Edits of network, catalog and policy: what each changes, what it takes along, and what is refused."""

import pytest
from pydantic import TypeAdapter

from optiselect.errors import DocumentError
from optiselect.study.edits import Add, BuyOnly, Edit, Remove, Scale, Set, Shift
from optiselect.study.variants import Variant
from tests.study.harbor import harbor


def changed(*edits):
    return Variant(name="v", edits=edits).applied_to(harbor())


def faults(*edits):
    with pytest.raises(DocumentError) as refused:
        changed(*edits)
    return [str(fault) for fault in refused.value.faults]


CHANGES = [
    (Set("runs.F1.fiber.length_m", 1850), lambda case: case.network.run_by_id["F1"].fiber.length_m, 1850),
    (Set("runs.F1.fiber.measured_loss_db.1310", 1.9), lambda case: dict(case.network.run_by_id["F1"].fiber.measured_loss_db), {1310.0: 1.9}),
    (Set("runs.*.fiber.grade", "OS2"), lambda case: {run.fiber.grade for run in case.network.runs}, {"OS2"}),
    (Set("devices.core.ports.1-6.rates", ["1G", "100M"]), lambda case: case.network.device_by_id["core"].port("3").rates, ("1G", "100M")),
    (Set("sites.outside.ambient_c.1", 55), lambda case: case.network.site_by_id["outside"].ambient_c, (-20, 55)),
    (Set("installed.core/1", "NO-LX"), lambda case: dict(case.network.installed), {"core/1": "NO-LX"}),
    (Set("policy.spares.restock_days", 45), lambda case: (case.policy.spares.restock_days, case.policy.spares.service_level), (45, 0.95)),
    (Set("links.mast.rate", None), lambda case: next(link for link in case.network.wanted if link.id == "mast").rate, None),
    (Scale("parts.*.price", 1.1), lambda case: case.catalog.module_by_part["NO-LX"].price, 44.0),
    (Scale("modules.NO-*.price", 2), lambda case: [module.price for module in case.catalog.modules], [80, 30, 380, 34, 120]),
    (Shift("runs.*.fiber.strands", -2), lambda case: {run.fiber.strands for run in case.network.runs}, {2}),
    (Shift("runs.F1.fiber.splices", 2), lambda case: case.network.run_by_id["F1"].fiber.splices, 2),
    (Add("links", {"id": "spare", "ends": ["core", "mast"]}), lambda case: case.network.wanted[-1].id, "spare"),
    (Remove("modules.SO-*"), lambda case: [module.part for module in case.catalog.modules], ["NO-LX", "NO-SX", "NO-FAR"]),
    (Remove("runs.F1.routes"), lambda case: case.network.run_by_id["F1"].routes, ()),
    (BuyOnly("supplier", ("North",)), lambda case: case.policy.exclude_parts, ("SO-LONG", "SO-LX")),
]


@pytest.mark.parametrize(("edit", "seen", "expected"), CHANGES, ids=[str(edit)[:60] for edit, _, _ in CHANGES])
def test_an_edit_changes_what_it_names(edit, seen, expected):
    assert seen(changed(edit)) == expected


@pytest.mark.parametrize("edit", [edit for edit, _, _ in CHANGES], ids=lambda edit: str(edit)[:60])
def test_an_edit_survives_being_written_as_json(edit):
    kind = TypeAdapter(Edit)

    assert kind.validate_json(kind.dump_json(edit)) == edit
    assert hash(edit) == hash(kind.validate_json(kind.dump_json(edit)))


TAKEN_ALONG = [
    ("runs.F5", {"F5"}, {"camera"}),
    ("routes.duct-2", {"F2", "F4", "F7"}, set()),
    ("devices.mast", {"F4", "F5"}, {"mast", "camera"}),
    ("panels.frame", {"F3", "F4"}, set()),
    ("sites.outside", {"F1", "F2", "F4", "F5", "F7"}, {"quay-1", "quay-2", "mast", "camera", "light"}),
    ("links.quay-1", set(), {"quay-1"}),
]


@pytest.mark.parametrize(("place", "runs", "links"), TAKEN_ALONG)
def test_removing_takes_along_what_cannot_be_there_without_it(place, runs, links):
    before, after = harbor().network, changed(Remove(place)).network

    assert {run.id for run in before.runs} - {run.id for run in after.runs} == runs
    assert {link.id for link in before.wanted} - {link.id for link in after.wanted} == links


REFUSED = [
    (Set("runs.F9.fiber.length_m", 5), "runs.F9.fiber.length_m: there is no run 'F9'"),
    (Set("modules.NO-LY.price", 5), "modules.NO-LY.price: there is no module 'NO-LY'; is 'NO-LX' meant?"),
    (Set("runs.F1.fiber.length_m", -5), "runs.F1.fiber.length_m: at least 0 is due here, not -5"),
    (Set("runs.F1.fiber.lenght_m", 5), "runs.F1.fiber.lenght_m: unknown key"),
    (Set("runs.F1.id", "F2"), "runs.F1.id: an id stays what it is; use Remove and Add"),
    (Set("runs.*.copper.length_m", 5), "runs.*.copper.length_m: nothing there has this key"),
    (Set("policy.design_margin_db", -3), "policy.design_margin_db: at least 0 is due here, not -3"),
    (Scale("runs.F1.fiber.grade", 2), "runs.F1.fiber.grade: a figure is due here, and this is none"),
    (Scale("runs.F1.fiber.measured_loss_db.1310", 2), "runs.F1.fiber.measured_loss_db.1310: no figure is stated there"),
    (Add("links", {"id": "mast"}), "links.mast: this is there already; use Set to change it"),
    (Remove("routes.duct-3"), "routes.duct-3: no run lies in a route 'duct-3'; is 'duct-2' meant?"),
    (Remove("installed.core/1"), "installed.core/1: no module is stated to be there"),
    (BuyOnly("supplier", ("West",)), "supplier: no part of the catalog has 'West' there; there are 'North', 'South'"),
]


@pytest.mark.parametrize(("edit", "sentence"), REFUSED, ids=lambda value: str(value)[:50])
def test_a_faulty_edit_is_refused_at_its_place(edit, sentence):
    assert faults(edit) == [sentence]


def test_all_faulty_edits_of_a_variant_are_told_at_once():
    assert len(faults(Set("runs.F9.fiber.length_m", 5), Set("policy.design_margin_db", -3), Scale("parts.*.prize", 2))) == 3


def test_an_edit_of_the_policy_keeps_the_rules_of_the_user():
    case = harbor(rules=(bool,))

    assert Variant.named("v", {"policy.design_margin_db": 4}).applied_to(case).policy.rules == (bool,)


def test_an_id_with_a_dot_is_found_as_it_stands():
    case = changed(Add("modules", {"part": "NO-1.5", "price": 10}))

    assert Variant.named("v", {"modules.NO-1.5.price": 12}).applied_to(case).catalog.module_by_part["NO-1.5"].price == 12


def test_what_is_not_touched_stays_the_same_object():
    case = harbor()
    after = Variant.named("v", {"policy.design_margin_db": 4}).applied_to(case)

    assert after.network is case.network
    assert after.catalog is case.catalog
