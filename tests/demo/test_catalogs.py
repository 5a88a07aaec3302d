"""The three suppliers' catalogs, each in another file form, add up to the demo catalog."""

from __future__ import annotations

from pathlib import Path

import pytest

from optiselect import Catalog, DocumentError
from optiselect.demo import demo_catalog

_FOLDER = Path(__file__).parents[2] / "catalogs"
_FILES = ("brackwater.yaml", "ellisande.xlsx", "tinefield")


def test_three_forms_add_up_to_the_demo_catalog() -> None:
    assert Catalog.merge([Catalog.load(_FOLDER / name) for name in _FILES], name="Demo catalog") == demo_catalog()


@pytest.mark.parametrize("name", _FILES)
def test_each_catalog_is_of_one_supplier(name: str) -> None:
    catalog = Catalog.load(_FOLDER / name)
    assert {item.supplier for item in (*catalog.modules, *catalog.converters, *catalog.cords, *catalog.attenuators)} == {catalog.name}


def test_a_catalog_may_be_added_twice() -> None:
    catalog = Catalog.load(_FOLDER / "tinefield")
    assert Catalog.merge([catalog, catalog], name=catalog.name) == catalog


def test_another_price_for_a_known_part_is_a_fault() -> None:
    catalog = Catalog.load(_FOLDER / "brackwater.yaml")
    dearer = Catalog(currency="EUR", modules=(catalog.modules[0].model_copy(update={"price": 99.0}),))
    with pytest.raises(DocumentError, match="BW-FX-C"):
        Catalog.merge([catalog, dearer])
