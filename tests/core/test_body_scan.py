"""A scan of the body beside its imprint: the contact grows as the body comes down, and a misplaced scan is refused."""

import json

import numpy as np
import pytest

from demo_shapes import seat_part
from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.run.memory import StageMemory
from padwright.core.stages.load.body_shape import hovering
from support.cases import make_case
from support.remembered import run_by
from support.scanned import grid
from support.writers import write_job, write_stl_binary

DOWN = np.array([0.0, 0.0, -1.0])


def test_the_body_is_laid_on_the_imprint_s_edge_and_hovers_beyond_by_its_own_height():
    places = grid(np.linspace(-50.0, 50.0, 51), np.linspace(-50.0, 50.0, 51), lambda x, y: 0.0 * x)
    bowl = grid(np.linspace(-70.0, 70.0, 141), np.linspace(-70.0, 70.0, 141), lambda x, y: (x**2 + y**2) / 200.0 - 8.0)
    away = np.hypot(*places.vertices[:, :2].T)
    is_edge = np.abs(away - 30.0) < 1.5
    above = hovering(bowl, places.vertices, DOWN, np.zeros(len(away)), is_edge)
    beyond = away > 32.0
    up = 8.0 - float(np.median(away[is_edge] ** 2)) / 200.0
    assert up == pytest.approx(3.5, abs=0.5)  # the edge is a ring 3 mm wide, and the bowl there 0.3 steep
    # The bowl's triangles of 1 mm stand off its curve by 1/400 of a millimeter at most, here and at the edge.
    assert np.allclose(above[beyond], away[beyond] ** 2 / 200.0 - 8.0 + up, atol=0.005)


@pytest.mark.parametrize(("up", "said"), [(40.0, "40 mm above the edge"), (-25.0, "25 mm below the edge")])
def test_a_body_far_off_its_imprint_is_refused(up, said):
    places = grid(np.linspace(-20.0, 20.0, 21), np.linspace(-20.0, 20.0, 21), lambda x, y: 0.0 * x)
    plate = grid(np.linspace(-40.0, 40.0, 9), np.linspace(-40.0, 40.0, 9), lambda x, y: 0.0 * x + up)
    with pytest.raises(InputError, match=said):
        hovering(
            plate, places.vertices, DOWN, np.zeros(len(places.vertices)), np.ones(len(places.vertices), dtype=bool)
        )


def test_a_body_that_lies_elsewhere_is_refused():
    places = grid(np.linspace(-20.0, 20.0, 21), np.linspace(-20.0, 20.0, 21), lambda x, y: 0.0 * x)
    plate = grid(np.linspace(200.0, 240.0, 9), np.linspace(-40.0, 40.0, 9), lambda x, y: 0.0 * x)
    with pytest.raises(InputError, match="seen over only 0 % of the imprint's edge"):
        hovering(
            plate, places.vertices, DOWN, np.zeros(len(places.vertices)), np.ones(len(places.vertices), dtype=bool)
        )


@pytest.mark.slow
def test_with_a_scan_of_the_body_the_contact_grows_with_the_load(tmp_path):
    case = make_case("seat", triangles=8_000, noise_mm=0.05, pose="none", holes=False, debris=False, turntable=False)
    job = write_job(case, tmp_path)
    part = seat_part()
    low, high = part.outline.min(axis=0) - 20.0, part.outline.max(axis=0) + 20.0
    axes = (np.linspace(low[i], high[i], 90) for i in range(2))
    body = grid(*axes, lambda x, y: np.minimum(part.body(x, y), 90.0))
    write_stl_binary(TriMesh(body.vertices, body.faces[:, ::-1]), tmp_path / "body.stl")
    plain = job.read_text("utf-8")
    assert "[load]" not in plain and 'card = "tpu_85a"' in plain
    load = '[load]\nforce_n = 400\n[[load.cases]]\nname = "heavy"\nforce_n = 1600\n'
    soft = plain.replace("tpu_85a", "tpu_60a") + load
    area, peak, memory = {}, {}, StageMemory()
    for name, text in (("scan", soft.replace("[body]\n", '[body]\nscan = "body.stl"\n')), ("none", soft)):
        job.write_text(text, "utf-8")
        assert run_by(memory.run, str(job), "--out", str(tmp_path / name)) == 0
        (found,) = (tmp_path / name).glob("*.run.json")
        evidence = json.loads(found.read_text("utf-8"))
        for force, bearing in ((400, evidence["load"]), (1600, *evidence["load_cases"])):
            area[name, force] = bearing["contact_area_cm2"]["value"]
            peak[name, force] = bearing["peak_pressure_kPa"]["value"]
    assert area["none", 1600] == pytest.approx(area["none", 400], rel=0.01)
    assert area["scan", 1600] > 1.05 * area["scan", 400] > 1.05 * area["none", 400]
    assert all(peak["scan", force] < peak["none", force] for force in (400, 1600))
