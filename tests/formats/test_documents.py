"""Documents: read strictly, every fault with its place, written as a whole, nothing lost."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import networkx
import pytest

from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.errors import DocumentError, NewerFormatError, OptiselectError
from optiselect.formats.schema import json_schema
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from tests.formats.quay import QUAY, SHELF

DOCUMENTS: list[Document] = [demo_network(), demo_catalog(), demo_policy(), QUAY, SHELF]
DEVICE = "devices:\n  - id: pier\n"


@pytest.mark.parametrize("suffix", [".yaml", ".json"])
@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: f"{document.what}-{getattr(document, 'name', '')}")
def test_what_is_saved_reads_back_equal(document: Document, suffix: str, tmp_path: Path) -> None:
    document.save(tmp_path / f"it{suffix}")
    assert type(document).load(tmp_path / f"it{suffix}") == document


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: f"{document.what}-{getattr(document, 'name', '')}")
def test_published_schema_accepts_what_is_saved(document: Document, tmp_path: Path) -> None:
    document.save(tmp_path / "it.json")
    jsonschema.validate(json.loads((tmp_path / "it.json").read_text(encoding="utf-8")), json_schema(type(document)))


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("a: &x 1\nb: *x\n", "it.yaml:1:4", "anchors"),
        ("name: !!str 1\n", "it.yaml:1:7", "tags"),
        ("name: x\nname: y\n", "it.yaml:2:1", "in lines 1 and 2"),
        ("[" * 40 + "]" * 40, "it.yaml:1:33", "deep"),
        ("name: [x\n", "it.yaml:2:1", "not YAML"),
        ("", "it.yaml", "empty"),
        ("- x\n", "it.yaml", "no keys and values"),
        ("zzz: 1\n", "it.yaml:1:1", "unknown key"),
        ("format: other/1\n", "it.yaml:1:1", "optiselect-network/1"),
        (DEVICE + "    module_power_w: 010\n", "it.yaml:3:5", "plain decimal number"),
        (DEVICE + "    module_power_w: 12:30\n", "it.yaml:3:5", "plain decimal number"),
        (DEVICE + "    module_power_w: 1e999\n", "it.yaml:3:5", "finite"),
        (DEVICE + "    module_power_w: .nan\n", "it.yaml:3:5", "plain decimal number"),
        (DEVICE + '    module_power_w: "12"\n', "it.yaml:3:5", "without quotes"),
        ("sites:\n  - {id: a, outdoor: no}\n", "it.yaml:2:13", "true or false"),
    ],
)
def test_fault_names_its_place(text: str, place: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "it.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        Network.load(tmp_path / "it.yaml")
    assert caught.value.faults[0].place == place
    assert words in caught.value.faults[0].message


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ('{\n  "name": NaN}', "it.json:2:11", "NaN is not a number"),
        ('{"name": "NaN -Infinity",\n "links": -Infinity}', "it.json:2:11", "-Infinity is not a number"),
        ('{"name": "a",\n "name": "b"}', "it.json:2:2", "in lines 1 and 2"),
        ('{"sites": [{"id": "a",\n  "id": "a"}]}', "it.json:2:3", "in lines 1 and 2"),
        ("[" * 100_000, "it.json:1:33", "nested deeper than 32"),
        ('{"name": "[[",\n "links": ' + "[" * 32 + "]" * 32 + "}", "it.json:2:42", "nested deeper than 32"),
        ('{"links": ' + "[" * 900 + "]" * 900 + ',\n "links": []}', "it.json:1:42", "nested deeper than 32"),
        ('{"devices": [{"id": "a",\n "module_power_w": 1e999}]}', "it.json:2:20", "1e999 is beyond"),
        ('{"name": "9",\n"links": -' + "9" * 5000 + "}", "it.json:2:10", "too long"),
        ('{"name":\n "\\ud800"}', "it.json:2:2", "surrogate"),
        ("{", "it.json:1:2", "not JSON"),
        ("[]", "it.json", "no keys and values"),
        (" ", "it.json", "empty"),
    ],
    ids=lambda value: str(value)[:24],
)
def test_hostile_json_is_refused_at_its_place(text: str, place: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "it.json").write_text(text, encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        Network.load(tmp_path / "it.json")
    assert [fault.place for fault in caught.value.faults] == [place]
    assert words in caught.value.faults[0].message


def test_faults_of_json_have_places_too(tmp_path: Path) -> None:
    (tmp_path / "it.json").write_text('{\n  "devices": [\n    {"id": "a", "site": "nowhere"}\n  ]\n}', encoding="utf-8")
    with pytest.raises(DocumentError, match=r"it\.json:3:17 devices\[0\]\.site: there is no site 'nowhere'"):
        Network.load(tmp_path / "it.json")


def test_ids_keep_their_text(tmp_path: Path) -> None:
    (tmp_path / "it.yaml").write_text("devices: [{id: 1}, {id: no}, {id: 010}, {id: 12:30}, {id: 1e3}]\n", encoding="utf-8")
    assert [device.id for device in Network.load(tmp_path / "it.yaml").devices] == ["1", "no", "010", "12:30", "1e3"]


def test_all_faults_are_listed_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = "devices:\n  - {id: a, module_power_w: -1}\n  - {id: b}\n  - {id: b}\nruns:\n  - {id: R, ends: [a, z], copper: {category: Cat6, length_m: -5}}\n"
    text += "links:\n  - {id: L, ends: [b, q]}\n"
    (tmp_path / "it.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        Network.load(tmp_path / "it.yaml")
    paths = [fault.path for fault in caught.value.faults]
    assert paths == ["devices[0].module_power_w", "devices[2].id", "runs[0].copper.length_m", "links[0].ends[1]"]


def test_newer_format_is_refused_with_a_clear_word(tmp_path: Path) -> None:
    (tmp_path / "it.yaml").write_text("format: optiselect-network/2\n", encoding="utf-8")
    with pytest.raises(NewerFormatError, match="install a newer optiselect"):
        Network.load(tmp_path / "it.yaml")


@pytest.mark.parametrize("name", ["missing.yaml", "it.txt"])
def test_file_that_cannot_be_read_is_one_clear_fault(name: str, tmp_path: Path) -> None:
    with pytest.raises(DocumentError) as caught:
        Policy.load(tmp_path / name)
    assert len(caught.value.faults) == 1


def test_failed_save_leaves_the_old_file_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "it.yaml"
    Catalog(name="old").save(target)
    before = target.read_bytes()

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OptiselectError, match="No space left"):
        Catalog(name="new").save(target)
    assert target.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["it.yaml"]


@pytest.mark.parametrize("flat", [False, True])
@pytest.mark.parametrize("network", [demo_network(), QUAY], ids=lambda network: network.name)
def test_graph_loses_nothing(network: Network, flat: bool) -> None:
    assert Network.from_graph(network.to_graph(flat=flat)) == network


def test_flat_graph_goes_through_graphml_and_node_link_files(tmp_path: Path) -> None:
    network = demo_network()
    networkx.write_graphml(network.to_graph(flat=True), tmp_path / "it.graphml")
    node_link = json.loads(json.dumps(networkx.node_link_data(network.to_graph(flat=True), edges="edges")))
    assert Network.from_graph(networkx.read_graphml(tmp_path / "it.graphml", force_multigraph=True)) == network
    assert Network.from_graph(networkx.node_link_graph(node_link, edges="edges")) == network
