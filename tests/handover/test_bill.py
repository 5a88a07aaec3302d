"""The bill: what to order, for how much, and for which links."""

from __future__ import annotations

import pytest

from optiselect.handover.bill import bill, describe
from tests.handover.pier import CATALOG, NETWORK, plan


def test_bill_lists_modules_first_and_sums_to_the_cost_of_the_plan() -> None:
    order = bill(plan(), CATALOG)

    assert [line.part for line in order.lines] == ["LAN-LX", "LAN-MC", "LAN-CORD"]
    assert order.total == 71.5


def test_bill_says_who_sells_a_part_how_long_it_takes_and_which_links_need_it() -> None:
    line = bill(plan(), CATALOG).lines[0]

    assert (line.supplier, line.lead_time_days, line.links) == ("Gull & Sons", 30, ("L1",))


def test_slowest_part_that_is_ordered_sets_the_lead_time() -> None:
    assert bill(plan(), CATALOG).longest_lead_time_days == 30


def test_bill_text_is_ready_to_mail() -> None:
    assert bill(plan(), CATALOG).text() == (
        "part      description                       supplier     used  spares  order  unit price  total  lead time, days\n"
        "LAN-LX    SFP 1000BASE-LX10 2 strands LC    Gull & Sons     2       0      2       31.00  62.00               30\n"
        "LAN-MC    media converter 100M to SFP       Gull & Sons     0       1      1           -   0.00                -\n"
        "LAN-CORD  cord OS2 LC UPC-SC APC 2 strands                  1       0      1        9.50   9.50                -\n"
        "\n"
        "Total 71.50 EUR\n"
        "Not in the total, because the catalog states no price: LAN-MC"
    )


def test_bill_as_a_paper_names_the_currency_and_leaves_an_unknown_price_open() -> None:
    paper = plan().paper("bill", NETWORK, CATALOG)
    rows = paper.records()

    assert [column.heading for column in paper.columns if column.name in ("unit_price", "total")] == ["unit price, EUR", "total, EUR"]
    assert (rows[0]["order"], rows[0]["unit_price"], rows[0]["total"], rows[0]["links"]) == (2, 31.0, 62.0, "L1")
    assert rows[1]["unit_price"] is None
    assert paper.totals == {"used": 3, "spares": 1, "order": 4, "total": 71.5}


def test_bill_without_a_catalog_still_counts() -> None:
    line = bill(plan()).lines[0]

    assert (line.part, line.order, line.description) == ("LAN-LX", 2, "")


def test_bill_of_a_plan_that_needs_nothing() -> None:
    assert bill(plan(parts=())).text() == "Nothing to order."


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("LAN-LX", "SFP 1000BASE-LX10 2 strands LC"),
        ("LAN-MC", "media converter 100M to SFP"),
        ("LAN-CORD", "cord OS2 LC UPC-SC APC 2 strands"),
        ("LAN-ATT", "attenuator 5 dB single-mode LC"),
    ],
)
def test_a_part_without_a_description_is_described_by_its_figures(part: str, words: str) -> None:
    items = {**CATALOG.module_by_part, **CATALOG.converter_by_part, **CATALOG.cord_by_part, **CATALOG.attenuator_by_part}

    assert describe(items[part]) == words
