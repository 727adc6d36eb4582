"""Batches on a Dask cluster whose workers are killed, and in an object storage (moto's S3 server)."""

from __future__ import annotations

import csv
import io
import json
import logging
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.support.many_jobs import digests, tiny_jobs
from tests.support.run_folders import files_without_times
from tests.support.workers import pretend, run_or_kill_once, tasks_for

from padwright.batch.cluster import Cluster
from padwright.batch.mirror import Brought
from padwright.batch.one_job import run_task
from padwright.batch.plan import plan_batch
from padwright.batch.record import JobRecord
from padwright.batch.running import run_batch, write_tables
from padwright.batch.stores import open_store
from padwright.batch.waiting import Ended, Waiting
from padwright.cli.main import main
from padwright.core.base.errors import ExportError, PadwrightError

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.version_info[:2] != (3, 11), reason="the libraries are put into one environment alone"),
    # Dask's and moto's own doings at the end of a cluster and of a server.
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning", "ignore::FutureWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    distributed = pytest.importorskip("distributed")
    import dask

    # A machine with more to do takes long to start a process anew; the cluster must not give up its place meanwhile.
    # A job is given up with its second worker, not its fourth: each in place of a lost one takes seconds to start.
    settings = {"distributed.deploy.lost-worker-timeout": "300s", "distributed.scheduler.allowed-failures": 1}
    with (
        dask.config.set(settings),
        distributed.LocalCluster(
            n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
        ) as found,
    ):
        yield found


def test_twenty_jobs_on_three_workers_of_which_some_are_killed(cluster, tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    names = tiny_jobs(tmp_path, 20)
    (tmp_path / "wearer-7" / "base.stl").write_bytes(b"solid nothing")
    (tmp_path / ".padwright-batch").mkdir()
    plan = plan_batch(str(tmp_path))
    workers = Cluster(cluster.scheduler_address, run_or_kill_once)
    assert workers.check((plan.jobs, plan.parts)) == () and workers.count == 3
    said: list[str] = []
    fresh: dict[str, JobRecord] = {}
    run_batch(plan, workers, said.append, fresh)
    assert sorted(fresh) == sorted(names)
    assert {name: each.code for name, each in fresh.items() if each.code} == {"wearer-7/job.toml": 3}
    killed = sorted(path.name for path in (tmp_path / ".padwright-batch").glob("killed-*"))
    assert killed == ["killed-wearer-11", "killed-wearer-17", "killed-wearer-5"]
    assert len({each.worker for each in fresh.values()}) >= 5  # three, and those in place of the killed ones
    assert any("; about " in each for each in said) and said[-1].startswith("[20/20]")
    assert any(each.startswith("  lost      worker tcp://") for each in said)
    ended = write_tables(plan, fresh, 20.0)
    assert ended.count("made") == 19 and ended.rows[0].job.name == "wearer-7/job.toml"
    # Byte for byte what single runs make, here of those whose workers were killed.
    single = tmp_path / "single"
    for number in (5, 11, 17):
        out = single / f"wearer-{number}" / "out"
        assert main(["run", str(tmp_path / f"wearer-{number}" / "job.toml"), "--out", str(out)]) == 0
        assert files_without_times(out) == files_without_times(tmp_path / f"wearer-{number}" / "out")
    again = plan_batch(str(tmp_path))
    assert again.tasks == () and len(again.known) == 20


def test_a_job_that_kills_workers_is_named_and_those_beside_it_are_done(cluster, tmp_path):
    names = ["killer", *(f"job-{each}" for each in range(8)), "bug"]
    ended = list(Cluster(cluster.scheduler_address, pretend).work(Waiting(tasks_for(tmp_path, names), {})))
    done = {each.record.job: each.record for each in ended if isinstance(each, Ended) and each.record is not None}
    assert sorted(done) == sorted(names)
    assert done["killer"].code == 4 and "worker died" in done["killer"].message
    assert done["bug"].code == 1 and "ZeroDivisionError" in done["bug"].message
    assert all(done[name].is_done for name in names if name.startswith("job-"))


def test_a_cluster_that_sees_no_folder_or_is_not_there_is_told(cluster, tmp_path):
    with pytest.raises(PadwrightError, match="is not there for tcp://"):
        Cluster(cluster.scheduler_address).check((open_store(str(tmp_path / "nowhere")),))
    with pytest.raises(PadwrightError, match="No scheduler answers"):
        Cluster("nonsense://there")


@pytest.fixture(scope="module")
def storage() -> Iterator[Any]:
    """An S3 server of this process, and a file system on it with the bucket "shop"."""
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    pytest.importorskip("s3fs")
    server = pytest.importorskip("moto.server").ThreadedMotoServer(port=0, verbose=False)
    server.start()
    address = "http://{}:{}".format(*server.get_host_and_port())
    names = {
        "FSSPEC_S3_ENDPOINT_URL": address,
        "AWS_ACCESS_KEY_ID": "test",
        "AWS_SECRET_ACCESS_KEY": "test",
        "AWS_DEFAULT_REGION": "us-east-1",
        "SOURCE_DATE_EPOCH": "1700000000",
    }
    with pytest.MonkeyPatch.context() as patch:
        for name, value in names.items():
            patch.setenv(name, value)
        import fsspec

        fsspec.config.set_conf_env(fsspec.config.conf)
        files = fsspec.filesystem("s3", skip_instance_cache=True)
        files.mkdir("shop")
        yield files
        fsspec.config.conf.clear()
    server.stop()


def upload(files: Any, root: Path, address: str) -> None:
    for path in root.rglob("*.*"):
        if path.is_file():
            files.pipe_file(f"{address}/{path.relative_to(root).as_posix()}", path.read_bytes())


def there(files: Any, folder: str, target: Path) -> dict[str, bytes]:
    """Return what lies in a folder of the storage, as `files_without_times` does."""
    files.invalidate_cache()
    target.mkdir(parents=True, exist_ok=True)
    for path in files.ls(folder, detail=False):
        (target / path.rpartition("/")[2]).write_bytes(files.cat_file(path))
    return files_without_times(target)


def test_a_batch_in_an_object_storage_makes_what_one_on_disk_does(storage, tmp_path):
    tiny_jobs(tmp_path / "jobs", 2)
    # A scan that lies elsewhere in the storage than its job.
    moved = (tmp_path / "jobs" / "wearer-2" / "job.toml").read_text().replace('"base.stl"', '"../scans/b.stl"')
    (tmp_path / "jobs" / "wearer-2" / "job.toml").write_text(moved)
    (tmp_path / "jobs" / "scans").mkdir()
    (tmp_path / "jobs" / "wearer-2" / "base.stl").rename(tmp_path / "jobs" / "scans" / "b.stl")
    upload(storage, tmp_path / "jobs", "shop/jobs")
    command = [sys.executable, "-m", "padwright", "batch", "s3://shop/jobs", "--jobs", "1"]
    subprocess.run(command, check=True, timeout=300, stdout=subprocess.DEVNULL)
    assert [run_task(each).code for each in plan_batch(str(tmp_path / "jobs")).tasks] == [0, 0]
    for number in (1, 2):
        local = files_without_times(tmp_path / "jobs" / f"wearer-{number}" / "out")
        assert there(storage, f"shop/jobs/wearer-{number}/out", tmp_path / f"there-{number}") == local
    rows = list(csv.DictReader(io.StringIO(storage.cat_file("shop/jobs/batch.csv").decode())))
    assert [each["state"] for each in rows] == ["made", "made"]
    assert storage.cat_file("shop/jobs/batch.html").startswith(b"<!DOCTYPE html>")
    # Nothing is left to do, until a scan is another one.
    assert plan_batch("s3://shop/jobs").tasks == ()
    storage.pipe_file("shop/jobs/scans/b.stl", storage.cat_file("shop/jobs/scans/b.stl")[:-2] + b"\1\0")
    assert [each.name for each in plan_batch("s3://shop/jobs").tasks] == ["wearer-2/job.toml"]


def test_a_part_in_a_storage_is_put_there_whole_and_nothing_of_others_is_touched(storage, tmp_path):
    tiny_jobs(tmp_path, 1)
    upload(storage, tmp_path, "shop/one")
    task = plan_batch("s3://shop/one").tasks[0]
    out = "shop/one/wearer-1/out"
    storage.pipe_file(f"{out}/W-1.settings.json", b"another's")
    record = run_task(task)
    assert record.code == ExportError.exit_code and "W-1.settings.json" in record.message
    assert storage.cat_file(f"{out}/W-1.settings.json") == b"another's"
    storage.rm_file(f"{out}/W-1.settings.json")
    assert run_task(task).is_done
    # As a worker leaves it that dies in the middle: the run document is gone, its journal is there.
    names = [path.rpartition("/")[2] for path in storage.ls(out, detail=False)]
    storage.pipe_file(f"{out}/.padwright-journal.json", json.dumps(names).encode())
    storage.rm_file(f"{out}/W-1.run.json")
    assert [each.name for each in plan_batch("s3://shop/one").tasks] == ["wearer-1/job.toml"]
    assert run_task(task).is_done
    storage.invalidate_cache()
    assert sorted(path.rpartition("/")[2] for path in storage.ls(out, detail=False)) == sorted(names)
    # A fault in a job is told with the storage's addresses.
    storage.rm_file("shop/one/wearer-1/base.stl")
    missing = run_task(task)
    assert missing.code == 2 and str(tmp_path) not in missing.message and "padwright-" not in missing.message


def test_all_that_a_job_needs_is_brought_and_nothing_else(tmp_path):
    fsspec = pytest.importorskip("fsspec")
    files = fsspec.filesystem("memory")
    part = '[part]\nname = "A"\nnumber = "N"\nfamily = "seat_pad"\nrevision = "3"\nprevious = "out-2"\n'
    there = {
        "all/w/job.toml": f'{part}[base]\nscan = "../scans/clay marks.obj"\n[material]\ncard = "my.toml"\n',
        "all/scans/clay marks.obj": "mtllib clay marks.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "all/scans/clay marks.mtl": "newmtl a\n  map_Kd -s 1 1 1 my skin.png\n",
        "all/scans/my skin.png": "png",
        "all/scans/other.obj": "v 0 0 0\n",
        "all/w/my.toml": "id = 'x'\n",
        "all/w/N.trials.toml": "# none\n",
        "all/w/job-2.toml": part,
        "all/w/out-2/N.run.json": '{"part": {"previous": "out"}}',
        "all/w/out-2/N.project.3mf": "model",
        "all/w/out-2/N.rest.stl": "not needed",
        "all/w/out/N.run.json": '{"part": {"previous": null}}',
    }
    for name, text in there.items():
        files.pipe_file(f"/{name}", text.encode())
    path = Brought(open_store("memory://all"), tmp_path).bring_job("/all/w/job.toml")
    assert path == tmp_path / "all" / "w" / "job.toml"
    brought = {each.relative_to(tmp_path).as_posix() for each in tmp_path.rglob("*") if each.is_file()}
    assert set(there) - brought == {"all/scans/other.obj", "all/w/out-2/N.rest.stl"}
    with pytest.raises(PadwrightError, match="lies outside"):
        Brought(open_store("memory://all"), tmp_path).here("/../x")


def test_memory_serves_as_a_storage_of_this_process(tmp_path):
    fsspec = pytest.importorskip("fsspec")
    tiny_jobs(tmp_path, 1)
    files = fsspec.filesystem("memory")
    upload(files, tmp_path, "/jobs")
    assert main(["batch", "memory://jobs", "--no-progress"]) == 0
    assert files.exists("/jobs/batch.html") and files.exists("/jobs/wearer-1/out/W-1.run.json")


def test_a_cluster_is_interrupted_and_goes_on(cluster, tmp_path):
    tiny_jobs(tmp_path, 4, pictures=0)
    plan = plan_batch(str(tmp_path))
    running = Cluster(cluster.scheduler_address).work(Waiting(plan.tasks, {}))
    assert next(running).record.is_done
    running.close()
    time.sleep(0.5)
    assert threading.active_count() < 50
    left = plan_batch(str(tmp_path))
    assert len(left.tasks) <= 3
    fresh: dict[str, JobRecord] = {}
    run_batch(left, Cluster(cluster.scheduler_address), lambda _: None, fresh)
    assert len(digests(tmp_path)) == 4 * len(os.listdir(tmp_path / "wearer-1" / "out"))
