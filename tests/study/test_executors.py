"""The same study on every kind of executor, workers and parents that are killed, and a store that resumes."""

import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import time
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager

import pytest

from optiselect import errors
from optiselect.errors import Fault, OptiselectError
from optiselect.study import Scale, Spread, Study, Variant, compare, worker, workers
from tests.study.harbor import harbor

SPAWN = multiprocessing.get_context("spawn")


def study(case=None):
    """Removals of routes, margins, draws; two of them equal."""
    case = case or harbor()
    draws = Variant.draws(case, Spread(place="runs.*.fiber.length_m", low=0.8, high=1.6), 3)
    return Study(case, [*Variant.removals(case, ["routes"]), *draws], axes={"policy.design_margin_db": [3, 6]})


@pytest.fixture(scope="module")
def alone():
    return study().run()


@contextmanager
def loky_pool():
    loky = pytest.importorskip("loky")
    executor = loky.ProcessPoolExecutor(max_workers=2)
    try:
        yield executor
    finally:
        executor.shutdown(kill_workers=True)


@contextmanager
def dask_cluster():
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client.get_executor()


EXECUTORS = {
    "threads": lambda: ThreadPoolExecutor(2),
    "spawned processes": lambda: ProcessPoolExecutor(2, mp_context=SPAWN),
    "loky": loky_pool,
    "dask": dask_cluster,
}


@pytest.mark.parametrize("kind", EXECUTORS)
def test_every_executor_gives_the_result_of_none(kind, alone):
    with EXECUTORS[kind]() as executor:
        result = study().run(executor)

    assert result == alone
    assert all(result.frame(table).equals(alone.frame(table)) for table in ("variants", "values", "links", "parts", "unserved"))


def test_an_executor_that_was_given_is_left_open():
    with ThreadPoolExecutor(1) as executor:
        study().run(executor)

        assert executor.submit(int, "7").result() == 7


def kill_workers_at_first_answer(executor):
    def kill(event):
        if event.done == 2:
            for pid in list(executor._processes):
                os.kill(pid, signal.SIGKILL)

    return kill


def test_killed_workers_lose_nothing(alone):
    with ProcessPoolExecutor(2, mp_context=SPAWN) as executor:
        result = study().run(executor, on_progress=kill_workers_at_first_answer(executor))

    assert result == alone


def dies_in_mid_answer():
    """Be killed when the length of an answer is written and the answer is not: whoever reads it waits for the rest."""
    frame = sys._getframe()
    while "result_queue" not in frame.f_locals:
        frame = frame.f_back
    os.write(frame.f_locals["result_queue"]._writer.fileno(), (10_000).to_bytes(4, "big"))
    os.kill(os.getpid(), signal.SIGKILL)


def dies_at(name):
    """Make the worker that this runs in die at a variant."""
    answered = worker.answered
    worker.answered = lambda variant, *rest: dies_in_mid_answer() if variant.name == name else answered(variant, *rest)


def test_worker_that_dies_in_mid_answer_loses_nothing_and_its_pool_can_be_closed(alone):
    name = study().variants[-1].name
    with ProcessPoolExecutor(2, mp_context=SPAWN, initializer=dies_at, initargs=(name,)) as executor:
        result = study().run(executor)

    assert result == alone


def dies_at_once(*_):
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.parametrize("death", [dies_at_once, dies_in_mid_answer])
def test_answers_of_workers_that_died_are_refused_with_what_to_do(death):
    with (
        ProcessPoolExecutor(1, mp_context=SPAWN) as executor,
        pytest.raises(OptiselectError, match=r"ended before it had answered .* leave the executor out"),
    ):
        workers.all_of(executor, death, [()])


# -- store --------------------------------------------------------------------------------------------------------


def test_a_second_run_solves_nothing_that_is_stored(tmp_path, alone, monkeypatch):
    study().run(store=tmp_path)
    monkeypatch.setattr("optiselect.study.follower.Follower.plan_of", None)

    assert study().run(store=tmp_path) == alone


def test_a_study_of_more_variants_solves_only_the_new_ones(tmp_path):
    Study(harbor(), axes={"policy.design_margin_db": [4, 5]}).run(store=tmp_path)
    before = {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    Study(harbor(), axes={"policy.design_margin_db": [4, 5, 6]}).run(store=tmp_path)
    after = {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()}

    assert len(after) == len(before) + 1
    assert before.items() <= after.items()


SPOILED = [b"", b"{", b"[]", b"null", b'{"format": "optiselect-answer/1"}', b"\xff\xfe", b"[" * 100_000]


@pytest.mark.parametrize("content", SPOILED, ids=lambda content: repr(content[:12]))
def test_an_answer_that_cannot_be_read_is_solved_again(tmp_path, content):
    small = Study(harbor(), axes={"policy.design_margin_db": [4]})
    first = small.run(store=tmp_path)
    for path in tmp_path.iterdir():
        path.write_bytes(content)

    assert small.run(store=tmp_path) == first


def test_a_store_that_cannot_be_made_is_refused(tmp_path):
    (tmp_path / "file").write_text("")

    with pytest.raises(OptiselectError, match="cannot be made"):
        study().run(store=tmp_path / "file")


_PARENT = """
import sys
import time
from tests.study.test_executors import study
study().run(store=sys.argv[1], on_progress=lambda event: print(event.done, flush=True))
"""


def test_a_killed_parent_resumes_where_it_was(tmp_path, alone):
    with subprocess.Popen([sys.executable, "-c", _PARENT, str(tmp_path)], stdout=subprocess.PIPE, text=True) as parent:
        assert "3\n" in iter(parent.stdout.readline, "")
        parent.kill()
    stored = {path.name: path.stat().st_mtime_ns for path in tmp_path.glob("*.json")}
    result = study().run(store=tmp_path)

    assert len(stored) >= 2  # one of the three equals the base
    assert result == alone
    assert stored.items() <= {path.name: path.stat().st_mtime_ns for path in tmp_path.glob("*.json")}.items()


# -- what crosses -------------------------------------------------------------------------------------------------


def test_rules_of_the_user_stay_in_this_process(tmp_path):
    own = study(harbor(rules=(bool,)))

    assert own.run().base.status == "optimal"
    with pytest.raises(OptiselectError, match="rules of your own are Python"):
        own.run(store=tmp_path)


def values():
    case = harbor()
    result = study().run()
    nouns = [case.network, case.catalog, case.policy, result.base.plan, *case.network.runs, *case.catalog.modules, *result.base.plan.links]
    return [case, result, *result, *nouns, Variant.named("a", Scale("parts.*.price", 2)), compare(result.base.plan, result.base.plan)]


def test_every_value_survives_being_pickled():
    given = values()

    assert pickle.loads(pickle.dumps(given)) == given


RAISED = [
    errors.OptiselectError("plain"),
    errors.DocumentError([Fault("a", "b", "c")], "network"),
    errors.NewerFormatError([Fault("format", "newer")], "plan"),
    errors.UnknownNameError("none"),
    errors.Cancelled(),
    errors.PlanCheckError(["finding"]),
    errors.SolverDisagreement("cost", {"network": {}}),
    errors.MissingExtraError("study"),
    errors.MismatchError(["network"]),
]


@pytest.mark.parametrize("error", RAISED, ids=lambda error: type(error).__name__)
def test_every_error_survives_being_pickled(error):
    told = pickle.loads(pickle.dumps(error))

    assert type(told) is type(error)
    assert (str(told), told.args) == (str(error), error.args)


def test_no_error_is_left_out():
    ours = {name for name, thing in vars(errors).items() if isinstance(thing, type) and issubclass(thing, Exception)}

    assert ours == {type(error).__name__ for error in RAISED}


class BreaksWhileItStartsTheSecond(ProcessPoolExecutor):
    """A pool whose first worker is killed while it starts the second, and which has ended the rest before that one is there."""

    def _spawn_process(self):
        for process in self._processes.values():
            os.kill(process.pid, signal.SIGKILL)
            self._executor_manager_thread.join(2)
        super()._spawn_process()


def test_pool_that_breaks_while_it_starts_a_worker_loses_nothing_and_can_be_closed(alone):
    with BreaksWhileItStartsTheSecond(2, mp_context=SPAWN) as executor:
        result = study().run(executor)

    assert result == alone


class BrokeWhileItStarted(ProcessPoolExecutor):
    """A pool that is broken, with a worker that it started after it had ended the others, and what it says of that."""

    said: Exception

    def submit(self, *_, **__):
        self._processes = {1: SPAWN.Process(target=time.sleep, args=(600,))}
        self._processes[1].start()
        self._broken = "a worker was killed"
        raise self.said


def asks_for_all(pool):
    with pytest.raises(OptiselectError, match="ended before it had answered"):
        workers.all_of(pool, int, [("7",)])


@pytest.mark.parametrize("said", [BrokenExecutor("a worker was killed"), OSError("handle is closed")], ids=repr)
@pytest.mark.parametrize("asked", [lambda pool: study().run(pool), asks_for_all])
def test_worker_that_a_broken_pool_has_left_is_ended(asked, said):
    pool = BrokeWhileItStarted(1, mp_context=SPAWN)
    pool.said = said
    asked(pool)
    (left,) = pool._processes.values()
    left.join(10)
    assert left.exitcode == -signal.SIGKILL


class NoMoreWorkers(ThreadPoolExecutor):
    def submit(self, *_, **__):
        raise OSError("no memory for one more worker")


@pytest.mark.parametrize("asked", [lambda pool: study().run(pool), lambda pool: workers.all_of(pool, int, [("7",)])])
def test_what_a_pool_that_is_not_broken_says_is_passed_on(asked):
    with NoMoreWorkers(1) as pool, pytest.raises(OSError, match="no memory for one more worker"):
        asked(pool)
