"""A job whose zones come from marks of two pens on a textured scan: found in its evidence, outdated by its picture."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from padwright.core.base.errors import ScanError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.job.read import read_job
from padwright.core.run.memory import StageMemory
from padwright.core.stages.scans.formats import obj_texture
from padwright.core.stages.zones.evidence import zones_evidence
from padwright.core.stages.zones.work import PlannedZones
from scan_making import ply_bytes
from support.cases import make_case
from support.painted import BLUE, RED, obj_files, rings, textured

JOB = """\
schema = 1
[part]
name = "Seat"
number = "SEAT-1"
family = "seat_pad"
[base]
scan = "base.ply"
unit = "mm"
[impression]
scan = "scans/clay.obj"
unit = "mm"
[body]
press_direction = {press}
[[zones]]
name = "sore"
level = 1
source = "color_marks"
color = "red"
[[zones]]
name = "firm"
level = 4
source = "color_marks"
color = "blue"
[[zones]]
name = "rest"
level = 2
source = "rest"
"""


@pytest.fixture(scope="module")
def job_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    case = make_case("seat", triangles=12_000, noise_mm=0.1, pose="small", turntable=False)
    press = np.asarray(case.press_direction_in_base)
    across = np.linalg.svd((case.impression_to_base[:3, :3].T @ press)[None])[2][1:]
    mesh = TriMesh(case.impression.vertices, case.impression.faces)
    middle = (mesh.vertices @ across.T).mean(axis=0)
    paint = rings(((0, 0), 25, 1.0, RED), ((0, 60), 20, 1.0, BLUE))
    scan = textured(mesh, lambda at: paint(np.column_stack([at @ across.T - middle, np.zeros(len(at))])), 14)
    folder = tmp_path_factory.mktemp("job")
    (folder / "scans").mkdir()
    for name, data in obj_files(scan).items():
        (folder / "scans" / name).write_bytes(data)
    (folder / "base.ply").write_bytes(ply_bytes(case.base.vertices, case.base.faces))
    (folder / "job.toml").write_text(JOB.format(press=[round(float(each), 6) for each in press]))
    return folder / "job.toml"


def test_a_job_takes_zones_from_two_pens_and_knows_when_the_picture_changes(
    job_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, memory = read_job(job_file), StageMemory()
    drain(memory.reach(job, job_file.parent, "pad"))
    parsed: list[int] = []
    monkeypatch.setattr(obj_texture, "read_obj", lambda data: parsed.append(len(data)))
    part = drain(memory.reach(job, job_file.parent, "zones"))
    assert not parsed  # its points and faces are those that cleaning had
    told = zones_evidence(part)
    assert [(each["zone"], each["color"]) for each in told["marks"]] == [("sore", "red"), ("firm", "blue")]
    for mark, radius in zip(told["marks"], (25.5, 20.5), strict=True):
        # Pixels are some 0.3 mm; across the press direction, which is known to a degree, so much less than 1 %.
        assert [each["area_cm2"] for each in mark["pieces"]] == pytest.approx([np.pi * radius**2 / 100], rel=0.02)
    read = {each.file for each in part.of(PlannedZones).inputs}
    assert read == {"scans/clay.mtl", "scans/clay.png"}
    before = memory.key(job, job_file.parent, "zones"), memory.key(job, job_file.parent, "pad")
    picture = job_file.parent / "scans" / "clay.png"
    picture.rename(picture.with_name("away.png"))
    assert memory.key(job, job_file.parent, "zones") != before[0]
    assert memory.key(job, job_file.parent, "pad") == before[1]
    with pytest.raises(ScanError, match=r"clay\.png"):
        drain(memory.reach(job, job_file.parent, "zones"))
