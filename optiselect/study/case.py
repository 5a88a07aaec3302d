"""What a study starts from: one network with its catalog and policy, as one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from optiselect.model.catalog import Catalog
from optiselect.model.fingerprint import hashes_of, texts_of
from optiselect.model.network import Network
from optiselect.model.policy import Policy

if TYPE_CHECKING:
    import networkx


@dataclass(frozen=True)
class Case:
    """A network, a catalog and a policy: what `solve` takes, and what a study changes.

    Attributes:
        network: a Network; a networkx graph is read as one (see `Network.from_graph`).
        catalog: what may be chosen.
        policy: omitted = all defaults.

    Raises:
        DocumentError: when a graph is not a usable network.
    """

    network: Network
    catalog: Catalog
    policy: Policy = field(default_factory=Policy)

    def __post_init__(self) -> None:
        given: Network | networkx.Graph[Any] = self.network
        if not isinstance(given, Network):
            object.__setattr__(self, "network", Network.from_graph(given))

    def hashes(self, known: Mapping[int, str] | None = None) -> Mapping[str, str]:
        """The hash of each document, as a plan carries them; `known`: what `texts` said of another case."""
        return hashes_of((self.network, self.catalog, self.policy), known)

    def texts(self) -> dict[int, str]:
        """The text of every item of the documents by its identity, good for as long as the case is kept."""
        return texts_of(self.network) | texts_of(self.catalog) | texts_of(self.policy)
