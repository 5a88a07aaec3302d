"""From what is plugged in to a target: the fewest changes, in order of work.

Links whose modules change are steps. Where a link is to take a port in which another link is today, that one moves first;
links that wait for one another move together. Steps that only plug into empty cages come first, for they stop nothing. In which
port a link is today is known as far as its module tells (`plugged`); where it does not, no step waits for it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from optiselect.model.plan import Plan, PlannedEnd, PlannedLink
from optiselect.model.policy import Policy
from optiselect.solver.audit import check
from optiselect.solver.paths import Paths
from optiselect.solver.plugged import PluggedIn
from optiselect.solver.solve import solve_bare
from optiselect.study.case import Case

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class PortWork:
    """What is done at one port; part numbers, "" for nothing."""

    link: str
    port: str
    take_out: str = ""
    put_in: str = ""

    def __str__(self) -> str:
        done = [f"{self.take_out} out" if self.take_out else "", f"{self.put_in} in" if self.put_in else ""]
        return f"{self.port}: {', '.join(filter(None, done))}"


@dataclass(frozen=True)
class Step:
    """Work that is done in one go.

    Attributes:
        links: the links that are changed; more than one where they wait for one another's ports.
        work: port by port.
        interrupts: whether a module that is in place is taken out.
        together: whether both ends must be changed at the same time, for the link does not run with one end old and one new.
        first: where one end may go first with the link running in between, that port; else "".
    """

    links: tuple[str, ...]
    work: tuple[PortWork, ...]
    interrupts: bool
    together: bool
    first: str = ""

    def text(self) -> str:
        """In words."""
        how = "plug in, nothing is interrupted"
        if self.interrupts:
            how = "both ends at the same time" if self.together else f"{self.first} first, the link runs in between" if self.first else "one visit"
        return "\n".join([f"{', '.join(self.links)} ({how})", *(f"  {work}" for work in self.work)])


@dataclass(frozen=True)
class Migration:
    """The target and the way to it.

    Attributes:
        plan: the target.
        steps: in order of work.
        left_over: (port, part number) of modules that no link of the target uses where they are.
    """

    plan: Plan
    steps: tuple[Step, ...]
    left_over: tuple[tuple[str, str], ...]

    @property
    def freed(self) -> dict[str, int]:
        """Units by part number that come out, or are not used where they are."""
        out = Counter(work.take_out for step in self.steps for work in step.work if work.take_out)
        return dict(sorted((out + Counter(part for _, part in self.left_over)).items()))

    def text(self) -> str:
        """The steps in words, what is left over, and the cautions of the plan."""
        if not self.steps:
            return "Nothing is to be changed."
        lines = [f"{number}. {step.text()}" for number, step in enumerate(self.steps, 1)]
        if self.left_over:
            lines.append(f"Not used where they are: {', '.join(f'{part} in {port}' for port, part in self.left_over)}")
        return "\n".join([*lines, "", *self.plan.cautions]).rstrip()

    def frame(self) -> pandas.DataFrame:
        """A row a port that is worked at, with the number of its step."""
        import pandas

        rows = [
            (number, work.link, work.port, work.take_out, work.put_in, step.interrupts, step.together, step.first)
            for number, step in enumerate(self.steps, 1)
            for work in step.work
        ]
        return pandas.DataFrame(rows, columns=["step", "link", "port", "take_out", "put_in", "interrupts", "together", "first"])

    def _repr_html_(self) -> str:
        from html import escape

        return f"<pre>{escape(self.text())}</pre>"


def migration(case: Case, target: Plan | None = None) -> Migration:
    """Put the change from `network.installed` to a target in order.

    Args:
        target: a plan of this network and catalog; omitted = the best plan with the fewest changes to what is installed.

    Raises:
        UnknownNameError: when the target, or what is installed, is not of this network and catalog.
    """
    plan = target if target is not None else solve_bare(case.network, case.catalog, _fewest_changes(case.policy))
    planner = _Planner(case, plan)
    used = {f"{end.device}/{end.port}" for link in plan.links for end in link.ends}
    left_over = tuple((port, part) for port, part in sorted(case.network.installed.items()) if port not in used)
    return Migration(plan, tuple(planner.steps()), left_over)


def _fewest_changes(policy: Policy) -> Policy:
    keep = "prefer" if policy.keep_installed == "no" else policy.keep_installed
    objective = ["links", "changes", *(name for name in policy.objective if name not in ("links", "changes"))]
    return Policy(**policy.stated() | {"objective": objective, "keep_installed": keep}, **({"rules": policy.rules} if policy.rules else {}))


class _Planner:
    def __init__(self, case: Case, plan: Plan) -> None:
        self._case, self._plan = case, plan
        self._installed = dict(case.network.installed)
        check(case.network, case.catalog, plan, case.policy)  # refuses a plan of another network
        self._links = {link.id: link for link in case.network.wanted}
        self._work = {link.id: work for link in plan.links if (work := tuple(self._of_link(link)))}

    def steps(self) -> Iterator[Step]:
        """The steps, each after those that it waits for; else what stops nothing first, critical links last, then by id."""
        import networkx

        waits: networkx.DiGraph[str] = networkx.DiGraph()
        waits.add_nodes_from(self._work)
        for link_id in self._work:
            waits.add_edges_from((other, link_id) for other in self._in_the_way(link_id))
        groups: Any = networkx.condensation(waits)
        steps = {node: self._step(tuple(sorted(groups.nodes[node]["members"]))) for node in groups}

        def rank(node: Any) -> tuple[Any, ...]:
            step = steps[node]
            return step.interrupts, any(self._links[link].critical for link in step.links), step.links

        yield from (steps[node] for node in networkx.lexicographical_topological_sort(groups, key=rank))

    def _of_link(self, link: PlannedLink) -> Iterator[PortWork]:
        for end in link.ends:
            port = f"{end.device}/{end.port}"
            there, wanted = self._installed.get(port, ""), _in_cage(end)
            if there != wanted:
                yield PortWork(link.id, port, there, wanted)

    def _in_the_way(self, link_id: str) -> list[str]:
        """The links that are today in a port that this link is to have, and that are to leave it."""
        wanted = {work.port for work in self._work[link_id]}
        return sorted(other for other in self._work if other != link_id and wanted & self._today.get(other, set()))

    @cached_property
    def _today(self) -> dict[str, set[str]]:
        """The ports in which each link is today, as far as what is installed tells."""
        network = self._case.network
        paths = Paths(network)
        plugged = PluggedIn(network, self._case.catalog, self._installed, {link.id: paths.of(link) for link in network.wanted})
        return {link.id: {f"{end.end.device}/{end.end.port}" for end in plugged.at(link) if end.end is not None and end.end.module} for link in network.wanted}

    def _step(self, links: tuple[str, ...]) -> Step:
        work = tuple(each for link in links for each in self._work[link])
        interrupts = any(each.take_out for each in work)
        swapped = [each for each in work if each.take_out and each.put_in]
        both = len(links) == 1 and len(swapped) == 2
        first = next((each.port for each in swapped if self._runs_with_only(each, swapped)), "") if both else ""
        return Step(links, work, interrupts, len(links) > 1 or (both and not first), first)

    def _runs_with_only(self, changed: PortWork, swapped: list[PortWork]) -> bool:
        """Whether the link runs with this end new and the other as it is today."""
        (other,) = (each for each in swapped if each.port != changed.port)
        mixed = {changed.port: changed.put_in, other.port: other.take_out}
        network = self._case.network
        alone = self._links[changed.link]
        pinned = alone.model_copy(update={"ends": tuple(self._port_at(alone.id, side) for side in (0, 1)), "diverse_from": ()})
        fields = {name: getattr(network, name) for name in network.model_fields_set if name != "format_"}
        only = type(network)(**fields | {"links": (pinned,), "installed": mixed})
        return not any(not finding.unknown and not finding.waived for finding in check(only, self._case.catalog, mixed, self._case.policy))

    def _port_at(self, link_id: str, side: int) -> str:
        (planned,) = (link for link in self._plan.links if link.id == link_id)
        return f"{planned.ends[side].device}/{planned.ends[side].port}"


def _in_cage(end: PlannedEnd) -> str:
    """The module in the port's own cage; a converter hangs on its copper socket."""
    return end.module if end.module is not None and end.converter is None else ""
