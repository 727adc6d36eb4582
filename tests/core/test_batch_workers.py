"""Workers of a batch on this machine: they die, are stopped, share the memory; no job is lost or done twice."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest
from tests.support.workers import pretend, tasks_for

from padwright.batch import memory
from padwright.batch.local_pool import LocalPool
from padwright.batch.stores import open_store
from padwright.batch.waiting import MOST_TRIES, Waiting

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")


def work(root: Path, names: list[str], count: int = 2, **more):
    """Return what came of jobs that are only pretended, in the order in which they ended."""
    waiting = Waiting(tasks_for(root, names), more.get("after", {}))
    return list(LocalPool(count, None, pretend).work(waiting))


def begun(root: Path, name: str) -> int:
    return (root / f"{name.replace('/', '_')}.begun").read_text().count("begun")


def test_every_job_is_done_once_by_as_many_processes_as_were_asked_for(tmp_path):
    names = [f"job-{each}" for each in range(12)]
    ended = work(tmp_path, names)
    assert sorted(each.record.job for each in ended) == sorted(names)
    assert [begun(tmp_path, name) for name in names] == [1] * 12
    by = {each.record.worker for each in ended}
    assert len(by) == 2 and str(os.getpid()) not in by
    assert {each.record.tries for each in ended} == {1}


def test_a_job_whose_worker_dies_is_begun_again_and_the_others_do_not_notice(tmp_path):
    names = ["job-1", "once", "job-2", "job-3", "job-4"]
    ended = work(tmp_path, names)
    done = {each.record.job: each.record for each in ended if each.record is not None}
    assert sorted(done) == sorted(names) and all(each.is_done for each in done.values())
    assert done["once"].tries == 2 and begun(tmp_path, "once") == 2
    assert [each.why for each in ended if each.record is None] == ["ended by SIGKILL"]
    assert all(begun(tmp_path, name) == 1 for name in names if name != "once")


def test_a_job_that_kills_every_worker_is_named_and_stops_nothing(tmp_path):
    names = ["job-1", "killer", *(f"job-{each}" for each in range(2, 8))]
    ended = work(tmp_path, names, count=3)
    done = {each.record.job: each.record for each in ended if each.record is not None}
    assert sorted(done) == sorted(names)
    killer = done.pop("killer")
    assert (killer.code, killer.tries, begun(tmp_path, "killer")) == (4, MOST_TRIES, MOST_TRIES)
    assert "died each of 3 times" in killer.message and "SIGKILL" in killer.message and killer.hint
    assert all(each.is_done for each in done.values())
    # The last try has nothing beside it, so all others are done before.
    assert ended[-1].task.name == "killer"


def test_a_fault_of_the_tool_fails_its_job_alone_and_is_not_tried_again(tmp_path):
    ended = work(tmp_path, ["job-1", "bug", "job-2"])
    done = {each.record.job: each.record for each in ended}
    assert done["bug"].code == 1 and "ZeroDivisionError: a planted fault" in done["bug"].message
    assert begun(tmp_path, "bug") == 1
    assert done["job-1"].is_done and done["job-2"].is_done


def test_closing_stops_what_runs_within_seconds(tmp_path):
    waiting = Waiting(tasks_for(tmp_path, ["job-1", "slow"]), {})
    running = LocalPool(2, None, pretend).work(waiting)
    assert next(running).record.job == "job-1"
    while not (tmp_path / "slow.begun").exists():
        time.sleep(0.05)
    start = time.monotonic()
    running.close()
    assert time.monotonic() - start < 15.0  # the job alone would take 60


def test_a_job_waits_for_the_one_that_makes_the_revision_before(tmp_path):
    ended = work(tmp_path, ["b", "a", "c"], after={"b": "c", "c": "a"})
    assert [each.record.job for each in ended] == ["a", "c", "b"]


def test_jobs_that_do_not_fit_beside_each_other_run_one_after_the_other(tmp_path):
    tasks = tasks_for(tmp_path, ["once-a", "job-b", "job-c"], need_bytes=600)
    pool = LocalPool(3, 1000, pretend)
    most = 0
    waiting = Waiting(tasks, {})
    for _ in pool.work(waiting):
        most = max(most, sum(each.task is not None for each in pool._workers))
    assert most <= 1 and not waiting
    assert Waiting(tasks, {}).take(500) is None and Waiting(tasks, {}).take(600) == tasks[0]


def test_one_job_runs_even_where_it_is_likely_not_to_fit(tmp_path):
    tasks = tasks_for(tmp_path, ["job"], need_bytes=10**15)
    assert [each.record.is_done for each in LocalPool(2, 1000, pretend).work(Waiting(tasks, {}))] == [True]


def test_what_a_job_needs_grows_with_its_scans_by_their_kind(tmp_path):
    for name in ("a.ply", "a.stl"):
        (tmp_path / name).write_bytes(bytes(1_900_000))
    store = open_store(str(tmp_path))
    ply, stl = (memory.need_bytes([str(tmp_path / name)], store) for name in ("a.ply", "a.stl"))
    assert ply == memory.BASE_BYTES + 100_000 * memory.TRIANGLE_BYTES
    assert memory.BASE_BYTES < stl < ply  # an STL takes 50 bytes a triangle
    assert memory.need_bytes([str(tmp_path / "not-there.ply")], store) == memory.BASE_BYTES


def test_this_machine_tells_what_it_has():
    assert memory.usable_cores() >= 1
    room = memory.usable_bytes()
    assert room is None or 10**7 < room < 10**14
