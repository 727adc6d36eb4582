"""The view to turn: what the browser is given is the part and its values, and nothing in it can act by itself."""

from __future__ import annotations

import base64
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from build_extension import package_files
from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.query import NearestSurface
from padwright.core.geometry.simpler import simpler
from padwright.core.geometry.solids import Solid
from padwright.core.stages.regions.bodies import rounded_mesh
from padwright.core.stages.report.turn_view import TurnField, ViewParts, turn_script, turn_style, turn_view
from support.packing import block

UP = np.array([0.0, 0.6, 0.8])
HOSTILE = 'a</script><b onload="x">&amp;\u2028'


def wavy(cells: int = 60) -> TriMesh:
    """Return a closed slab, 100 x 60 mm, with a wavy top and one triangle more than it needs nearly everywhere."""
    flat = block((0.0, 0.0, 0.0), (100.0, 60.0, 10.0), cells)
    places = flat.vertices.copy()
    top = places[:, 2] > 5.0
    places[top, 2] += 2.0 * np.sin(places[top, 0] / 15.0) * np.cos(places[top, 1] / 12.0)
    return TriMesh(places, flat.faces)


def field(mesh: TriMesh, **changes: object) -> TurnField:
    made = TurnField(
        title="Height",
        places=mesh.vertices,
        values=mesh.vertices @ [1.0, 0.0, 0.0],
        colors=["#ffffff", "#000000"],
        high=100.0,
        unit="mm",
    )
    return replace(made, **changes)


def parts(mesh: TriMesh, *fields: TurnField, up: np.ndarray | None = None) -> ViewParts:
    toward = np.array([0.0, 0.0, 1.0]) if up is None else up
    return ViewParts("Pad", mesh, toward, fields or (field(mesh),), b"png", np.eye(4))


def told(html: str) -> dict:
    found = re.search(r'<script type="application/json" class="turn-data">(.*?)</script>', html, re.DOTALL)
    assert found
    return json.loads(found[1])


def surface(data: dict) -> TriMesh:
    """Return the surface that the browser draws, in the job's axes."""
    steps = np.frombuffer(base64.b64decode(data["vertices"]), dtype="<u2").reshape(-1, 3)
    faces = np.frombuffer(base64.b64decode(data["faces"]), dtype="<u4" if data["wide"] else "<u2").reshape(-1, 3)
    places = np.array(data["low"]) + steps / 65535.0 * np.array(data["size"])
    to_job = np.array(data["toJob"])
    return TriMesh(places @ to_job[:, :3].T + to_job[:, 3], faces.astype(np.int32))


def value_at(data: dict, number: int, place: np.ndarray) -> float | str | None:
    """Return what the browser reads at a place of the job's axes, as the script does."""
    grid, shown = data["grid"], data["fields"][number]
    view = (np.asarray(place) - np.array(data["toJob"])[:, 3]) @ np.array(data["toJob"])[:, :3]
    at = np.clip(np.floor((view - grid["low"]) / grid["step"]).astype(int), 0, np.array(grid["count"]) - 1)
    cell = base64.b64decode(shown["cells"])[at[0] + grid["count"][0] * (at[1] + grid["count"][1] * at[2])]
    if cell == 0:
        return None
    return (
        shown["names"][cell - 1]
        if "names" in shown
        else shown["from"] + (cell - 1) / 254.0 * (shown["to"] - shown["from"])
    )


@pytest.mark.parametrize("up", [np.array([0.0, 0.0, 1.0]), UP, None], ids=["level", "tilted", "round"])
def test_the_browser_draws_the_part_where_it_is(up):
    mesh = wavy()
    view = replace(parts(mesh), up=up)
    data = told(turn_view(view))
    drawn = surface(data)
    assert drawn.is_closed and drawn.volume == pytest.approx(mesh.volume, rel=1e-3)
    # Simplified by the least step, twice that at a few places, and written in 16 bits of a side; the axes to 1e-6.
    allowed = 0.1 + 100.0 / 65535.0 + 1e-3
    assert NearestSurface(mesh).find(drawn.vertices).distance.max() < allowed
    assert NearestSurface(drawn).find(mesh.vertices).distance.max() < allowed


@pytest.mark.parametrize(("mm_per_number", "decimals"), [(1.0, 0), (10.0, 1), (25.4, 2), (1000.0, 3)])
def test_places_are_told_in_the_numbers_of_the_base_scan_to_a_millimeter(mm_per_number, decimals):
    mesh = wavy()
    to_job = np.diag([1.0, 1.0, 1.0, mm_per_number]) / mm_per_number
    to_job[:3, 3] = [3.0, 2.0, 1.0]
    data = told(turn_view(replace(parts(mesh), to_job=to_job)))
    there = (surface(data).vertices - [3.0, 2.0, 1.0]) * mm_per_number
    assert NearestSurface(mesh).find(there).distance.max() < 0.1 + 1e-2  # simplified; numbers to 1e-9 of a meter
    assert data["jobDecimals"] == decimals


def test_simpler_says_how_far_it_moves_the_surface():
    mesh = wavy(120)
    made = simpler(mesh, 3000)
    assert len(made.mesh.faces) <= 3000 < len(mesh.faces) / 8
    assert 0.0 < made.usual_mm <= made.most_mm <= 0.2
    off = NearestSurface(made.mesh).find(mesh.vertices).distance
    assert off.max() == pytest.approx(made.most_mm) and (off > made.usual_mm).sum() <= len(off) // 1000 + 1
    assert NearestSurface(mesh).find(made.mesh.vertices).distance.max() <= made.most_mm


def test_simpler_keeps_the_walls_within_a_part():
    outer, inner = block((0.0, 0.0, 0.0), (40.0, 30.0, 20.0), 40), block((0.8, 0.8, 0.8), (39.2, 29.2, 19.2), 40)
    hollow = Solid.of(outer, "outer").less([Solid.of(inner, "inner")])
    made = simpler(hollow.mesh(), 24)
    assert len(made.mesh.faces) == 24 and made.mesh.volume == pytest.approx(hollow.volume_mm3, rel=1e-6)


def test_values_are_read_where_they_are():
    mesh = wavy()
    data = told(turn_view(parts(mesh, field(mesh), up=UP)))
    for place in mesh.vertices[::97]:
        # A cell is 0.5 mm wide here, what it says comes from the 6 nearest places (0.5 to 1.7 mm apart), in 254 steps.
        assert value_at(data, 0, place) == pytest.approx(place[0], abs=0.5 + 1.7 + 100.0 / 254.0)


def test_a_small_part_has_small_cells():
    mesh = wavy(20)
    small = TriMesh(0.15 * mesh.vertices, mesh.faces)  # 15 mm long, as a nose pad
    data = told(turn_view(parts(small, field(small, high=15.0))))
    assert value_at(data, 0, np.array([5.0, 4.0, 1.5])) == pytest.approx(5.0, abs=0.1 + 0.4 + 15.0 / 254.0)


def test_a_part_gripped_all_around_has_values_by_room():
    mesh = wavy()
    inside = field(mesh, values=mesh.vertices[:, 2], high=12.0)
    data = told(turn_view(replace(parts(mesh, inside), up=None)))
    assert data["grid"]["count"][2] > 1
    below, above = (value_at(data, 0, np.array([50.0, 30.0, height])) for height in (0.2, 9.5))
    assert below < 3.0 < 7.0 < above


@pytest.mark.parametrize("order", [[0, 1, 2], [1, 2, 0], [2, 0, 1]], ids=["along x", "along z", "along y"])
def test_a_part_gripped_all_around_lies_along_its_length(order):
    mesh = wavy(20)
    turned = TriMesh(mesh.vertices[:, order], mesh.faces)
    html = turn_view(replace(parts(turned), up=None))
    assert told(html)["size"][0] == pytest.approx(100.0, abs=0.5)  # the longest of its sides
    assert ">Above<" in html and "Body side" not in html
    assert "Body side" in turn_view(parts(mesh))


def test_where_nothing_is_known_nothing_is_said():
    mesh = wavy()
    near = mesh.vertices[:, 0] < 30.0
    some = field(mesh, places=mesh.vertices[near], values=np.ones(near.sum()), reach_mm=3.0)
    data = told(turn_view(parts(mesh, some)))
    assert value_at(data, 0, np.array([20.0, 30.0, 10.0])) == pytest.approx(1.0)
    assert value_at(data, 0, np.array([60.0, 30.0, 10.0])) is None


def test_names_are_told_by_what_is_nearest():
    mesh = wavy()
    left = np.where(mesh.vertices[:, 0] < 50.0, 0, 1)
    named = field(mesh, values=left, names=["left", "right"])
    data = told(turn_view(parts(mesh, named)))
    assert value_at(data, 0, np.array([20.0, 30.0, 10.0])) == "left"
    assert value_at(data, 0, np.array([80.0, 30.0, 10.0])) == "right"


def test_a_part_of_one_zone_has_one_name():
    mesh = wavy()
    named = field(mesh, values=np.zeros(len(mesh.vertices)), names=["rest"], colors=["#8fbfa8"])
    data = told(turn_view(parts(mesh, named)))
    assert value_at(data, 0, np.array([20.0, 30.0, 10.0])) == "rest"
    assert data["fields"][0]["decimals"] == 0


def test_noise_in_the_last_bits_changes_nothing():
    """How many threads add up changes the last bits of places and values; the surface comes on the files' grid."""
    mesh = rounded_mesh(wavy())
    noise = np.random.default_rng(3).normal(size=(len(mesh.vertices), 4)) * 1e-12
    one = field(mesh, values=np.sin(mesh.vertices[:, 0]), low=-1.0, high=float(np.sin(1.5)))
    other = replace(
        one,
        places=mesh.vertices + noise[:, :3],
        values=one.values + noise[:, 3],
        high=one.high + 1e-12,
        low=-1.0 - 1e-12,
    )
    assert turn_view(parts(mesh, one, up=UP)) == turn_view(parts(mesh, other, up=UP * (1.0 + 1e-15)))
    tilted = [turn_view(parts(mesh, one, up=UP + sign * np.array([1e-13, 1e-13, 0.0]))) for sign in (1.0, -1.0)]
    assert tilted[0] == tilted[1]  # a zero has no sign


def test_what_a_person_wrote_stays_words():
    mesh = wavy(10)
    labels = np.zeros(len(mesh.vertices), dtype=int)
    hostile = field(mesh, title=HOSTILE, values=labels, names=[HOSTILE, "b"], note=HOSTILE, none=HOSTILE)
    html = turn_view(replace(parts(mesh, hostile), name=HOSTILE))
    assert "<b " not in html and html.count("</script>") == 1
    assert told(html)["fields"][0]["names"][0] == HOSTILE


def test_the_scripts_ask_for_nothing_and_run_nothing_that_was_written():
    text = turn_script()
    assert text.count("<script>") == text.count("</script>") == 1
    for word in (
        "eval",
        "Function(",
        "fetch",
        "XMLHttpRequest",
        "innerHTML",
        "import(",
        "http:",
        "https:",
        "document.write",
    ):
        assert word not in text
    assert "url(" not in turn_style() and "@import" not in turn_style()


def test_the_zip_has_the_scripts():
    """Their texts are read from beside the module, in a checkout and in the zip alike."""
    inside = package_files()
    for name in ("turn_mesh.js", "turn_paint.js", "turn_view.js", "turn_view.css"):
        assert inside[f"core/stages/report/{name}"]


def test_each_field_has_a_key_with_its_unit_and_round_numbers():
    mesh = wavy(10)
    stops = field(mesh, title="Stiffness", unit="kPa", stops=[200.0, 350.0], high=1.0)
    html = turn_view(parts(mesh, field(mesh), stops))
    first, second = re.findall(r'<div class="turn-key".*?</div>\n</div>', html, re.DOTALL)
    assert "hidden" not in first.split(">")[0] and "hidden" in second.split(">")[0]
    assert "Height, mm" in first and [">0<" in first, ">20<" in first, ">100<" in first] == [True] * 3
    assert "Stiffness, kPa" in second and ">200<" in second and ">350<" in second


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"values": np.zeros(3)}, "3 values"),
        ({"colors": ["#ffffff"]}, "in 1 colors"),
        ({"low": 100.0}, "from 100 to 100"),
        ({"names": ["one"]}, "2 colors for 1 name"),
    ],
)
def test_what_cannot_be_shown_is_refused(change, words):
    mesh = wavy(10)
    with pytest.raises(InputError, match=words):
        turn_view(parts(mesh, field(mesh, **change)))
    with pytest.raises(InputError, match="nothing to color"):
        turn_view(replace(parts(mesh), fields=()))
