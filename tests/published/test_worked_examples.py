"""Worked examples in print, by the library's own functions. Each names where it was read: tests/published/worked_examples.yaml.

Three sets: every figure equals the one worked by hand; where the print is right it equals the print; where the print is
wrong it differs, by as much as is said here.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from optiselect.model.network import Fiber
from optiselect.model.policy import Policy
from optiselect.optics.acceptance import acceptance_limit_db
from optiselect.optics.bandwidth import effective_grade
from optiselect.optics.budget import available_db, channel_loss_db, length_within_km, margin_db, receive_window_dbm, required_attenuation_db, run_loss_pico
from optiselect.optics.decibels import dbm_of_mw, product_db, ratio_db, sum_db
from optiselect.optics.spares import expected_failures, probability_covered, spares_needed
from optiselect.standards.pmd import pmd

Given = dict[str, Any]
EXAMPLES: dict[str, Any] = {example["id"]: example for example in yaml.safe_load((Path(__file__).parent / "worked_examples.yaml").read_text(encoding="utf-8"))}


def _link_db(i: Given, *further: str) -> float:
    return channel_loss_db(
        i["length_km"],
        i["atten_db_km"],
        connections=i.get("connectors", 0),
        connection_loss_db=i.get("connector_db", 0.0),
        splices=i.get("splices", 0),
        splice_loss_db=i.get("splice_db", 0.0),
        further_db=tuple(i[key] for key in further),
    )


def _table_db(i: Given) -> float:
    return channel_loss_db(0, 0, further_db=tuple(i[key] for key in ("cable_db", "two_contacts_db", "factory_splices_db", "repair_splices_db", "ageing_db")))


def _glass_db(i: Given, length_km: float, atten_db_km: float) -> float:
    return channel_loss_db(
        length_km,
        atten_db_km,
        connections=i["contacts"],
        connection_loss_db=i["contact_db"],
        splices=i.get("repair_splices", 0),
        splice_loss_db=i.get("repair_splice_db", 0.0),
        further_db=(i["install_ageing_margin_db"],),
    )


def _led_budget_db(i: Given) -> float:
    return sum_db(available_db(i["tx_min_dbm"], i["rx_sens_dbm"]), -i["led_ageing_db"], -i["insertion_db"])


def _allowed_db(i: Given) -> float:
    return sum_db(available_db(i["tx_min_dbm"], i["rx_sens_dbm"]), -product_db(i["connectors"], i["connector_db"]), -i["buffer_db"])


def _connectors_db(i: Given) -> float:
    return product_db(i["connectors"], i["connector_db"])


def _passive_db(i: Given) -> float:
    return sum_db(i["oadm_add_db"], i["demux_db"], product_db(i["passthrough_nodes"], i["passthrough_db"]))


def _limit_db(i: Given, ends: str) -> float:
    return acceptance_limit_db(
        i["length_km"] * 1000,
        i["atten_db_km"],
        method="one-cord",
        inner_connections=i["inner_connections"],
        splices=i["splices"],
        connection_loss_db=i["inner_connection_db"],
        end_connection_loss_db=i[ends][0],
        splice_loss_db=i["splice_db"],
    )


def _splices_per_km_db(i: Given) -> float:
    return i["atten_db_km"] + i["splice_db"] / i["splice_every_km"]


def _pad_db(i: Given, loss_db: float) -> float:
    return required_attenuation_db(i["tx_dbm"][1], i["rx_window_dbm"][1], loss_db)


def _mean(i: Given) -> float:
    return expected_failures(i["units"], 1e9 / i["mtbf_h"], i["period_h"])


COMPUTED: dict[tuple[str, str], Callable[[Given], Any]] = {
    ("power-margin-01", "link_loss_db"): lambda i: _link_db(i, "higher_order_mode_db", "clock_recovery_db"),
    ("power-margin-01", "margin_db"): lambda i: margin_db(i["power_budget_db"], _link_db(i, "higher_order_mode_db", "clock_recovery_db")),
    ("power-margin-02", "power_budget_db"): lambda i: available_db(i["tx_min_dbm"], i["rx_sens_dbm"]),
    ("power-margin-02", "margin_db"): lambda i: margin_db(available_db(i["tx_min_dbm"], i["rx_sens_dbm"]), _link_db(i, "higher_order_mode_db")),
    ("power-margin-03", "link_loss_db"): _link_db,
    ("power-margin-03", "margin_db"): lambda i: margin_db(i["power_budget_db"], _link_db(i)),
    ("power-margin-04", "attenuation_db"): _link_db,
    ("power-margin-05", "total_db"): lambda i: _glass_db(i, i["length_km"], i["atten_db_km"]),
    ("power-margin-06", "total_db"): lambda i: _glass_db(i, i["length_m"] / 1000, i["atten_db_m"] * 1000),
    **{(f"power-margin-{n}", "total_db"): _table_db for n in ("07", "08", "09", "10")},
    **{(f"power-margin-{n}", "margin_db"): lambda i: margin_db(i["link_budget_db"], _table_db(i)) for n in ("07", "08", "09", "10")},
    ("power-margin-11", "remaining_db"): lambda i: margin_db(i["power_budget_db"], sum_db(i["connectors_and_splices_db"], i["cable_db"])),
    ("power-margin-12", "loss_db"): lambda i: _link_db(i, "margin_db"),
    ("power-margin-12", "derived_allowed_db"): lambda i: available_db(i["tx_dbm"], i["rx_dbm"]),
    ("power-margin-13", "rx_power_dbm"): lambda i: dbm_of_mw(i["tx_mw"]) - ratio_db(1.0, i["na"] ** 2) - _link_db(i, "margin_db"),
    **{(f"max-length-{n}", "worst_budget_db"): _led_budget_db for n in ("01", "02")},
    **{(f"max-length-{n}", "max_km"): lambda i: length_within_km(_led_budget_db(i), 0.0, i["atten_db_km"]) for n in ("01", "02")},
    ("max-length-03", "max_km"): lambda i: length_within_km(i["optical_budget_db"], i["ageing_db"] + i["fittings_db"], i["atten_db_km"]),
    ("max-length-04", "best_budget_db"): lambda i: available_db(i["tx_max_dbm"], i["rx_sens_dbm"]),
    ("max-length-04", "best_km"): lambda i: length_within_km(available_db(i["tx_max_dbm"], i["rx_sens_dbm"]), _connectors_db(i), i["atten_db_km"]),
    ("max-length-04", "worst_budget_db"): lambda i: available_db(i["tx_min_dbm"], i["rx_sens_dbm"]),
    ("max-length-04", "worst_km"): lambda i: length_within_km(available_db(i["tx_min_dbm"], i["rx_sens_dbm"]), _connectors_db(i), i["atten_db_km"]),
    **{(f"max-length-{n}", "allowed_db"): _allowed_db for n in ("05", "06")},
    **{(f"max-length-{n}", "km"): lambda i: length_within_km(_allowed_db(i), 0.0, i["atten_db_km"]) for n in ("05", "06")},
    ("max-length-07", "passive_db"): _passive_db,
    ("max-length-07", "fibre_db"): lambda i: margin_db(i["loss_budget_db"], sum_db(i["margin_db"], _passive_db(i))),
    ("max-length-07", "max_km"): lambda i: length_within_km(i["loss_budget_db"], sum_db(i["margin_db"], _passive_db(i)), i["atten_db_km"]),
    ("max-length-08", "budget_db"): lambda i: ratio_db(i["tx_mw"], i["rx_nw"] * 1e-6),
    ("max-length-08", "available_db"): lambda i: ratio_db(i["tx_mw"], i["rx_nw"] * 1e-6) - _connectors_db(i) - i["margin_db"],
    ("max-length-08", "max_km"): lambda i: length_within_km(ratio_db(i["tx_mw"], i["rx_nw"] * 1e-6), _connectors_db(i) + i["margin_db"], _splices_per_km_db(i)),
    ("acceptance-limit-01", "limit_db"): lambda i: _limit_db(i, "end_connections_to_reference_cords_db"),
    ("acceptance-limit-02", "limit_db"): lambda i: _limit_db(i, "end_connections_db"),
    ("link-loss-01", "total_db"): lambda i: _link_db(i, "safety_db"),
    ("overload-attenuator-01", "rx_dbm"): lambda i: receive_window_dbm((i["tx_dbm"],) * 2, (_link_db(i, "patch_cords_db"),) * 2)[0],
    ("overload-attenuator-01", "derived_rx_at_0p21_dbm"): lambda i: receive_window_dbm(
        (i["tx_dbm"],) * 2, (_link_db(i | {"atten_db_km": 0.21}, "patch_cords_db"),) * 2
    )[0],
    ("overload-attenuator-01", "pad_needed"): lambda i: required_attenuation_db(i["tx_dbm"], i["rx_window_dbm"][1], _link_db(i, "patch_cords_db")) > 0,
    **{
        ("overload-attenuator-02", f"rx_{strand}_dbm"): lambda i, strand=strand: list(
            receive_window_dbm(tuple(i["tx_dbm"]), (i["measured_loss_1550_db"][strand],) * 2)
        )
        for strand in ("fibre1", "fibre2")
    },
    ("overload-attenuator-02", "derived_min_pad_db"): lambda i: [_pad_db(i, i["measured_loss_1550_db"][strand]) for strand in ("fibre1", "fibre2")],
    ("overload-attenuator-03", "min_attenuator_db"): lambda i: required_attenuation_db(i["tx_dbm"], i["rx_max_dbm"], i["total_losses_db"]),
    ("poisson-spares-01", "confidence"): lambda i: probability_covered(i["spares"], _mean(i)),
    ("poisson-spares-01", "derived_p_at_most_spares_minus_1"): lambda i: probability_covered(i["spares"] - 1, _mean(i)),
    ("poisson-spares-01", "derived_spares_for_95"): lambda i: spares_needed(i["units"], 1e9 / i["mtbf_h"], i["period_h"], 0.95),
    ("poisson-spares-02", "spares"): lambda i: [spares_needed(i["units"], 1e9 / mtbf_h, i["period_h"], i["confidence"]) for mtbf_h in i["mtbf_h"]],
    ("poisson-spares-02", "afr_percent"): lambda i: [100 * expected_failures(1, 1e9 / mtbf_h, 8760) for mtbf_h in i["mtbf_h"]],
    ("spares-demand-01", "per_year"): lambda i: expected_failures(2 * i["active"], i["removals_per_1000_ports_year"] / 1000 / 8760 * 1e9, 8760),
}
WRONG_OR_OTHER_IN_PRINT: dict[tuple[str, str], str] = {
    ("power-margin-08", "total_db"): "the lines add to 13.05 dB",
    ("power-margin-08", "margin_db"): "0.05 dB over the budget, printed as 0.95 dB spare",
    ("power-margin-09", "total_db"): "the lines add to 28.44 dB",
    ("power-margin-09", "margin_db"): "1.64 dB over the budget, printed as 0.76 dB spare",
    ("power-margin-10", "total_db"): "the printed sum leaves out the two contacts",
    ("power-margin-10", "margin_db"): "0.46 dB over the budget, printed as 0.14 dB spare",
    ("poisson-spares-01", "confidence"): "the print asks that one spare be left: P(failures <= 2)",
    ("poisson-spares-02", "spares"): "the normal approximation, used where the mean is below 1",
    ("spares-demand-01", "per_year"): "the rate is per port, the population is links of two modules each",
}
RIGHT_IN_PRINT = [key for key in COMPUTED if key[1] in EXAMPLES[key[0]]["expected"] and key not in WRONG_OR_OTHER_IN_PRINT]
WITHOUT_ARITHMETIC = {"dispersion-limit-01", "single-fibre-pairing-01"}
"""Examples of which no number is computed here; each has a test of its own below."""


@pytest.mark.parametrize(("example", "figure"), list(COMPUTED))
def test_the_library_computes_what_the_inputs_give(example: str, figure: str) -> None:
    found = COMPUTED[example, figure](EXAMPLES[example]["inputs"])
    assert found == pytest.approx(EXAMPLES[example]["recomputed"][figure], abs=5e-5)


@pytest.mark.parametrize(("example", "figure"), RIGHT_IN_PRINT)
def test_the_library_agrees_with_the_print(example: str, figure: str) -> None:
    """To the printed digits: lengths are printed to 0.1 km, a received level to a whole dB."""
    found = COMPUTED[example, figure](EXAMPLES[example]["inputs"])
    assert found == pytest.approx(EXAMPLES[example]["expected"][figure], abs=0.05)


@pytest.mark.parametrize(("example", "figure"), list(WRONG_OR_OTHER_IN_PRINT), ids=str)
def test_the_library_differs_where_the_print_is_wrong(example: str, figure: str) -> None:
    found = COMPUTED[example, figure](EXAMPLES[example]["inputs"])
    assert found != pytest.approx(EXAMPLES[example]["expected"][figure], abs=0.04)
    assert EXAMPLES[example]["verdict"] not in ("agrees", "agrees apart from a misprint")


def test_every_example_is_computed_or_has_a_test_of_its_own() -> None:
    assert {example for example, _ in COMPUTED} | WITHOUT_ARITHMETIC == set(EXAMPLES)


def test_a_positive_margin_does_not_say_that_nothing_is_overloaded() -> None:
    """power-margin-03 concludes so from 5.5 dB of margin. With a launch maximum of +4 dBm into a receiver of -3 dBm it is overloaded."""
    given = EXAMPLES["power-margin-03"]["inputs"]
    assert margin_db(given["power_budget_db"], _link_db(given)) > 0
    assert required_attenuation_db(4.0, -3.0, loss_min_db=given["length_km"] * 0.28) == 4.76


def test_a_budget_loss_is_the_wrong_loss_for_overload() -> None:
    """overload-attenuator-01 takes 0.4 dB/km, a greatest figure of 1310 nm, at 1550 nm and finds no pad needed; the least loss says it is."""
    given = EXAMPLES["overload-attenuator-01"]["inputs"]
    least = run_loss_pico(Fiber(grade="OS2", length_m=given["length_km"] * 1000, strands=2), (1550, 1550), 0, Policy())
    assert least is not None
    assert required_attenuation_db(given["tx_dbm"], given["rx_window_dbm"][1], least[0] / 1e12) == 4.95


def test_each_strand_meets_one_attenuator() -> None:
    """overload-attenuator-02: 5 dB a strand leaves -12.53 to -7.53 and -12.0 to -7.0 dBm; pads at both ends do not add."""
    given = EXAMPLES["overload-attenuator-02"]
    losses = given["inputs"]["measured_loss_1550_db"].values()
    found = [list(receive_window_dbm(tuple(given["inputs"]["tx_dbm"]), (sum_db(loss, 5.0),) * 2)) for loss in losses]
    assert found == given["recomputed"]["derived_with_pad_dbm"]


def test_a_received_level_is_printed_as_a_whole_number() -> None:
    """power-margin-13 prints -33 for -33.04 dBm, above the -35 dBm needed."""
    assert COMPUTED["power-margin-13", "rx_power_dbm"](EXAMPLES["power-margin-13"]["inputs"]) > EXAMPLES["power-margin-13"]["inputs"]["rx_dbm"]


def test_the_cores_of_100base_fx_are_not_swapped() -> None:
    """max-length-05 and -06 print -20 dBm for 50 um and -23.5 for 62.5; the larger core takes more light."""
    powers = pmd("100BASE-FX").figures.tx_dbm
    assert powers == {"62.5": (-20.0, -14.0), "50": (-23.5, -14.0)}


def test_enough_light_does_not_excuse_too_little_bandwidth() -> None:
    """max-length-05 gives 4.0 km by light; the standard ends at 2 km by modal bandwidth (a maker's table, facts 100base-fx.reach)."""
    by_light_m = 1000 * COMPUTED["max-length-05", "km"](EXAMPLES["max-length-05"]["inputs"])
    reach_m = pmd("100BASE-FX").figures.reach_m
    assert reach_m is not None and (by_light_m, reach_m["OM1"]) == (4000.0, 2000.0)


def test_modal_bandwidth_is_looked_up_and_not_scaled() -> None:
    """dispersion-limit-01: 2.5 ns/km is 400 MHz km by its own convention, and 1000 MHz at 0.4 km; a switch maker warns not to

    extrapolate the product to lengths. The library takes the row of 400, whatever the length.
    """
    bandwidth_mhz_km = 1000 / EXAMPLES["dispersion-limit-01"]["inputs"]["mode_dispersion_ns_km"]
    runs = [Fiber(grade="OM2", length_m=length_m, strands=2, modal_bandwidth_mhz_km={850: bandwidth_mhz_km}) for length_m in (400, 1000)]
    assert bandwidth_mhz_km == EXAMPLES["dispersion-limit-01"]["recomputed"]["blp_mhz_km"]
    assert [effective_grade(run, (840, 860)) for run in runs] == ["50/400/400", "50/400/400"]


@pytest.mark.parametrize(
    ("pair", "printed"), [(("a", "b"), "valid"), (("b", "a"), "valid"), (("a", "a"), "invalid"), (("b", "b"), "invalid")], ids=lambda value: "-".join(value)
)
def test_only_opposite_wavelengths_make_a_single_strand_pair(pair: tuple[str, str], printed: str) -> None:
    """single-fibre-pairing-01: a sends 1310 (U), b sends 1490 (D); each must hear what the other sends."""
    sides = {"a": pmd("1000BASE-BX10-U").figures, "b": pmd("1000BASE-BX10-D").figures}
    heard = [
        sides[receiver].rx_nm[0] <= EXAMPLES["single-fibre-pairing-01"]["inputs"][sender]["tx_nm"] <= sides[receiver].rx_nm[1]  # type: ignore[index]
        for sender, receiver in (pair, pair[::-1])
    ]
    assert all(heard) == (printed == "valid")


def test_one_strand_a_link_doubles_the_links_of_a_cable() -> None:
    """single-fibre-pairing-01: 20 pairs carry 40 links."""
    example = EXAMPLES["single-fibre-pairing-01"]
    strands = 2 * example["inputs"]["installed_fibre_pairs"]
    assert strands // pmd("1000BASE-BX10-D").figures.strands == example["recomputed"]["links_on_20_pairs"]  # type: ignore[operator]
