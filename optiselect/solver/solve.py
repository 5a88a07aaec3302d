"""The main job: a network in, a proven and checked plan out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from optiselect.errors import Cancelled, OptiselectError, SolverDisagreement
from optiselect.model.catalog import Catalog
from optiselect.model.fingerprint import hashes_of
from optiselect.model.network import Network
from optiselect.model.plan import Kind, ObjectiveValue, Plan, PlannedLink, Proof, Refusal
from optiselect.model.policy import Policy
from optiselect.solver.assemble import Assembly, cautions_of, notes_of_bill
from optiselect.solver.checked import CheckedLink, check_links, check_plan
from optiselect.solver.choice import GREATEST, Name, in_unit
from optiselect.solver.chosen import Chosen
from optiselect.solver.confirm import NAMES, Disagreement, confirmed
from optiselect.solver.isolated import solve_isolated
from optiselect.solver.named import fitted_units
from optiselect.solver.option import Pick
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import CancelSignal, Progress, Watch
from optiselect.solver.rounds import choose_in_rounds
from optiselect.solver.task import TaskMaker

if TYPE_CHECKING:
    import networkx

PROVER, SEARCH = "CP-SAT, one configuration", "search over part lists"


def solve(
    network: Network | networkx.Graph[Any],
    catalog: Catalog,
    policy: Policy | None = None,
    *,
    on_progress: Callable[[Progress], object] | None = None,
    cancel: CancelSignal | Callable[[], bool] | None = None,
    isolate: bool = False,
    memory_limit_mb: float | None = None,
) -> Plan:
    """Choose a module for every port end of a network.

    Args:
        network: a Network, or a networkx graph (see `Network.from_graph`).
        catalog: what may be chosen.
        policy: omitted = all defaults.
        on_progress: called with `Progress` events.
        isolate: solve in a child process that is killed two seconds after `Policy.time_limit_s` at the latest. What is left then, or when the
            child crashes, is the plan that was checked before the search.
        memory_limit_mb: how much memory that child may take; beyond it, it ends as if it had crashed. Omitted = what the system gives.
        cancel: anything with ``is_set()``, or a callable; when it says so, the best plan so far is returned.

    Returns:
        The plan. It has passed the independent check of every rule. A link that cannot be served is in `unserved`.

    Raises:
        DocumentError: when a graph is not a usable network.
        OptiselectError: when `isolate` is asked together with rules of the user's own, or `memory_limit_mb` without it or where the system
            does not keep it.
        PlanCheckError: when the plan breaks a rule: a fault of this library.
        SolverDisagreement: when `Policy.confirm` asks somebody else, who says something else of what is best.
        MissingExtraError: when `Policy.confirm` asks for the second solver, and it is not installed (extra ``confirm``).
    """
    network = network if isinstance(network, Network) else Network.from_graph(network)
    policy = policy or Policy()
    if isolate:
        return solve_isolated(network, catalog, policy, on_progress, cancel, memory_limit_mb=memory_limit_mb) or _nothing_yet(network, catalog, policy)
    if memory_limit_mb is not None:
        raise OptiselectError("only a process of its own keeps a limit of memory: ask for isolate=True as well")
    watch = Watch(None, cancel, policy.time_limit_s, policy.effort)  # the reasons are within the limit too
    plan = solve_bare(network, catalog, policy, on_progress=on_progress, cancel=cancel)
    if not plan.unserved:
        return plan
    from optiselect.explain.refusals import explained  # from a layer above, and not loaded where every link is served

    return explained(plan, network, catalog, policy, lambda: watch.out_of_time)


def solve_bare(
    network: Network,
    catalog: Catalog,
    policy: Policy,
    *,
    on_progress: Callable[[Progress], object] | None = None,
    cancel: CancelSignal | Callable[[], bool] | None = None,
    on_first_plan: Callable[[Plan], object] | None = None,
) -> Plan:
    """The same, of documents, where a link that is not served says only of which kind it is.

    `on_first_plan` is called before the search with the plan that a cancel would leave there.

    Raises:
        PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
    """
    watch = Watch(on_progress, cancel, policy.time_limit_s, policy.effort)
    preparation = Preparation(network, catalog, policy, watch)
    try:
        preparation.run()
        if on_first_plan is not None:
            on_first_plan(solved_from(preparation, TaskMaker(network, catalog, policy), Watch(None, lambda: True, 0.0, 0.0)).plan)
        return solved_from(preparation, TaskMaker(network, catalog, policy), watch).plan
    except Cancelled:
        return _nothing_yet(network, catalog, policy)


def solve_within(network: Network, catalog: Catalog, policy: Policy, caps: Iterable[int | None]) -> Iterator[Plan]:
    """As `solve_bare`, once for each cap on the part numbers: so many will do, and what the policy names after them is made best among
    all plans of no more. No cap (None): as few as can be. Where every plan needs more than a cap, it asks nothing.

    Each may take the time and the effort of the policy; what is prepared is prepared once.

    Raises:
        PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
    """
    tasks = TaskMaker(network, catalog, policy)
    preparation: Preparation | None = None
    for cap in caps:
        watch = Watch(None, None, policy.time_limit_s, policy.effort)
        tasks.most_part_numbers = cap
        try:
            if preparation is None:
                fresh = Preparation(network, catalog, policy, watch)
                fresh.run()
                preparation = fresh
            preparation.watch = watch
            yield solved_from(preparation, tasks, watch).plan
        except Cancelled:
            yield _nothing_yet(network, catalog, policy)


@dataclass(frozen=True)
class Solved:
    """A plan, with what was chosen and checked of each of its links, the `fitted_units` of its rows, and at which prices the choice looked."""

    plan: Plan
    picks: Mapping[str, Pick]
    links: Mapping[str, CheckedLink]
    used: Counter[str]
    priced: frozenset[str] | None

    def rows_as(self, picks: Mapping[str, Pick], same: frozenset[str]) -> dict[str, PlannedLink]:
        """Of these links, the rows of those of which the same was chosen."""
        rows: dict[str, PlannedLink] = {}
        for link_id in same & picks.keys() & self.picks.keys():
            was, now = self.picks[link_id], picks[link_id]
            if was is now or was == now:
                rows[link_id] = self.links[link_id].told
        return rows

    def used_with(self, links: Mapping[str, CheckedLink]) -> Counter[str]:
        """The `fitted_units` of these links, of which most are those of this plan."""
        used = Counter(self.used)
        used.subtract(fitted_units(its.told for link_id, its in self.links.items() if links.get(link_id) is not its))
        used.update(fitted_units(its.told for link_id, its in links.items() if self.links.get(link_id) is not its))
        return +used


def solved_from(
    preparation: Preparation,
    tasks: TaskMaker,
    watch: Watch,
    before: Solved | None = None,
    same: frozenset[str] = frozenset(),
    texts: Mapping[int, str] | None = None,
) -> Solved:
    """Choose, prove, assemble and check.

    Args:
        before: what was chosen and checked of another network; of links of which the documents say the same there, and that are planned
            the same again, it stands. same: the ids of those links.
        texts: as of `hash_of`.

    Raises:
        Cancelled: when the caller stops before any options are known.
        PlanCheckError, SolverDisagreement, MissingExtraError: as `solve`.
    """
    network, catalog, policy = preparation.network, preparation.catalog, preparation.policy
    try:
        chosen = choose_in_rounds(preparation, tasks, watch)
        proof = _proof(preparation, chosen, tasks, watch)
    except Disagreement as error:
        documents = {document.what: document.stated() for document in (network, catalog, policy)}
        raise SolverDisagreement(str(error), documents | {"said": str(error)}) from None
    watch.tell("check", 0, 3)
    known = before.links if before is not None else {}
    if not preparation.lends:
        chosen.prepared.forget_clusters()
    assembly = Assembly(preparation, chosen.prepared, chosen.picks, chosen.spares)
    standing = before.rows_as(chosen.picks, same) if before is not None else {}
    others = [known[link_id].told for link_id in known.keys() - standing.keys()]
    checked = check_links(assembly.links(standing, others), network, catalog, policy, preparation.paths_of)
    links = {link_id: checked.get(link_id) or known[link_id] for link_id in sorted(chosen.picks)} if known else checked
    watch.tell("check", 1, 3)
    plan = _plan(preparation, chosen, assembly, links, proof, watch, texts)
    watch.tell("check", 2, 3)
    used = before.used_with(links) if before is not None else fitted_units(plan.links)
    check_plan(plan, links.values(), network, catalog, policy, used)
    watch.tell("check", 3, 3)
    return Solved(plan, chosen.picks, links, used, chosen.priced)


def _proof(preparation: Preparation, chosen: Chosen, tasks: TaskMaker, watch: Watch) -> Proof:
    """Who proved the choice, whether somebody else says the same of everything that could have been chosen, and what is plain without that.

    Raises:
        Disagreement: when somebody else does not.
    """
    by = preparation.policy.confirm
    provers = (PROVER, SEARCH) if chosen.by_lists else (PROVER,)
    names = [stage.name for stage in chosen.stages if stage.name != "disliked"]
    if by == "none" or tasks.most_part_numbers is not None:
        return Proof(by=provers, confirmed_objectives=tuple(name for name in names if _is_plain(name, chosen)))
    agreed = False
    if all(stage.proven for stage in chosen.stages):
        task = tasks.whole(preparation.counting(chosen.counted, may_stop=False), in_haste=watch.is_over_now)
        agreed = confirmed(task, chosen.stages, by, watch)
    sure = names if agreed else [name for name in names if _is_plain(name, chosen)]
    return Proof(by=provers, confirmed=agreed, confirmed_by=(NAMES[by],) if agreed else (), confirmed_objectives=tuple(sure))


def _is_plain(name: Name, chosen: Chosen) -> bool:
    """Whether an objective cannot be better, whatever was searched: all is served that can be, nothing is less than nothing, an enumeration says so."""
    if chosen.prepared.cut:
        return False  # not every path was tried
    if name in GREATEST:
        return len(chosen.picks) == len(chosen.prepared.rows)
    return (name == "part_numbers" and chosen.fewest_confirmed) or any(stage.name == name and not stage.value for stage in chosen.stages)


def _plan(
    preparation: Preparation,
    chosen: Chosen,
    assembly: Assembly,
    checked: Mapping[str, CheckedLink],
    proof: Proof,
    watch: Watch,
    texts: Mapping[int, str] | None,
) -> Plan:
    """The plan of links that are checked, each by itself."""
    network, catalog, policy = preparation.network, preparation.catalog, preparation.policy
    prepared, stages = chosen.prepared, chosen.stages
    proven = all(stage.proven for stage in stages)
    links_proven = all(stage.proven for stage in stages if stage.name in ("critical_links", "links"))
    unserved: list[Refusal] = []
    for link in preparation.links:
        if link.id not in checked:
            kind: Kind = "impossible" if link.id in prepared.impossible else "crowded-out" if links_proven else "not-proven"
            rate = prepared.impossible[link.id] if link.id in prepared.impossible else prepared.rows[link.id].rate
            unserved.append(Refusal(id=link.id, kind=kind, request=link.stated() | {"rate": rate}, candidates=0, tally=()))
    values = tuple(
        ObjectiveValue(name=stage.name, value=value, bound=bound) for stage in stages if stage.name != "disliked" for value, bound in [in_unit(stage)]
    )
    links = tuple([link.told for link in checked.values()])
    parts = assembly.bill()
    notes = notes_of_bill(parts, catalog, policy)
    if prepared.cut:
        notes.append(f"more paths than were tried exist for {', '.join(sorted(prepared.cut))}; state `over` to choose one")
    return Plan(
        network=network.name,
        catalog=catalog.name,
        currency=catalog.currency,
        status="optimal" if proven and not prepared.cut else "feasible",
        reproducible=not watch.clock_cut,
        proof=proof,
        objective=values,
        links=links,
        unserved=tuple(unserved),
        parts=parts,
        notes=tuple(notes),
        cautions=cautions_of((finding for link in checked.values() for finding in link.findings), policy),
        hashes=hashes_of((network, catalog, policy), texts),
    )


def _nothing_yet(network: Network, catalog: Catalog, policy: Policy) -> Plan:
    """The plan when the caller stopped, or the clock ran out, before any option was known."""
    unserved = tuple(
        Refusal(id=link.id, kind="not-proven", request=link.stated(), candidates=0, tally=(), text=f"{link.id}: stopped before it was looked at")
        for link in sorted(network.wanted, key=lambda link: link.id)
    )
    return Plan(
        network=network.name,
        catalog=catalog.name,
        currency=catalog.currency,
        status="feasible",
        reproducible=False,
        unserved=unserved,
        hashes=hashes_of((network, catalog, policy)),
    )
