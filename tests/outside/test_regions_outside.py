"""Regions against solids made by other libraries.

manifold3d cuts the same pads with exact prisms and cylinders along the press direction; trimesh measures closedness
and volumes by its own code.
"""

from functools import cache, reduce
from itertools import combinations
from operator import add

import manifold3d
import numpy as np
import pytest
import trimesh

from padwright.core.base.mesh import Float
from padwright.core.base.progress import drain
from padwright.core.geometry.query import NearestSurface, winding_numbers
from padwright.core.stages.regions.regions import RegionCut, cut_regions
from padwright.core.stages.zones.blends import BlendWish
from padwright.core.stages.zones.zone_sources import Outline, Rest, Weights
from padwright.core.stages.zones.zones import ZoneRequest, plan_zones
from support.pad_shapes import ShapedPad, seat_pad, sleeve_pad
from support.solids import to_manifold

REST = ZoneRequest("rest", 2.0, Rest())


def circle(x: float, y: float, radius: float) -> Float:
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn), 0 * turn], axis=1)


@cache
def seat() -> ShapedPad:
    return seat_pad(step=1.5)


@cache
def seat_cut() -> RegionCut:
    wishes = [
        ZoneRequest("left", 4, Outline(circle(-36, -5, 20))),
        ZoneRequest("right", 4, Outline(circle(36, -5, 20))),
        ZoneRequest("front", 1, Outline(np.array([[-99, 28.0, 0], [99, 28, 0], [99, 99, 0], [-99, 99, 0]]))),
        REST,
    ]
    return drain(cut_regions(seat(), plan_zones(seat(), None, wishes), least_width_mm=1.0))


def solids(result: RegionCut) -> list[manifold3d.Manifold]:
    return [to_manifold(region.mesh, region.name) for region in result.regions]


def test_volumes_are_those_of_exact_cuts_with_the_rounded_outlines():
    pad = to_manifold(seat().mesh)
    radius = 20 - 2.5**2 / (2 * 20)  # rounding over 2.5 mm moves a border of this radius in by s^2 / (2 r)
    tower = manifold3d.Manifold.cylinder(80, radius, radius, 256).translate((0, 0, -20))
    beam = manifold3d.Manifold.cube((200, 99, 80)).translate((-100, 28, -20))
    exact = {
        "left": (pad ^ tower.translate((-36, -5, 0))).volume(),
        "right": (pad ^ tower.translate((36, -5, 0))).volume(),
        "front": (pad ^ beam).volume(),
    }
    for region in seat_cut().regions:
        if region.id in exact:
            # a border follows the drawn line to 0.1 mm (see test_regions): 0.1 mm x its length x the thickness
            assert region.mesh.volume == pytest.approx(exact[region.id], rel=0.01)


def overlapping_scenes() -> list[RegionCut]:
    sleeve = sleeve_pad()
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    palm = np.stack([18 * np.cos(0.6 * np.cos(turn)), 18 * np.sin(0.6 * np.cos(turn)), 12 * np.sin(turn)], axis=1)
    upper = Weights(sleeve.mesh.vertices, (sleeve.mesh.vertices[:, 2] > 4).astype(float))
    wishes = [ZoneRequest("palm", 3, Outline(palm)), ZoneRequest("top", 1, upper), REST]
    opening = seat_pad(step=2.0, hole_mm=14.0)
    beside = [ZoneRequest("a", 4, Outline(circle(12, 3, 18))), ZoneRequest("b", 1, Outline(circle(-50, 20, 30))), REST]
    return [
        seat_cut(),
        drain(cut_regions(sleeve, plan_zones(sleeve, None, wishes, blends=[BlendWish(1, 5.0)]), least_width_mm=1.0)),
        drain(cut_regions(opening, plan_zones(opening, None, beside, blends=[BlendWish(2, 9.0)]), least_width_mm=1.0)),
    ]


@pytest.mark.parametrize("number", range(3))
def test_regions_do_not_run_into_each_other(number: int):
    result = overlapping_scenes()[number]
    whole = sum(region.mesh.volume for region in result.regions)
    common = sum(abs((one ^ two).volume()) for one, two in combinations(solids(result), 2))
    # walls are straight between points of the two sides, whose borders agree to a tenth of an edge; where three meet
    # they can cross by that much
    assert common < 1e-5 * whole


def test_the_union_of_the_regions_is_the_pad():
    together = reduce(add, solids(seat_cut()))
    pad = to_manifold(seat().mesh)
    assert (pad - together).volume() + (together - pad).volume() < 1e-5 * pad.volume()


def test_trimesh_finds_every_region_watertight_and_the_volumes_adding_up():
    meshes = [trimesh.Trimesh(r.mesh.vertices, r.mesh.faces, process=False) for r in seat_cut().regions]
    assert all(mesh.is_watertight and mesh.is_winding_consistent for mesh in meshes)
    assert all(mesh.body_count == 1 for mesh in meshes)
    pad = trimesh.Trimesh(seat().mesh.vertices, seat().mesh.faces, process=False)
    assert sum(mesh.volume for mesh in meshes) == pytest.approx(pad.volume, rel=1e-6)


def test_walls_lie_inside_the_pad():
    meshes = {region.id: region.mesh for region in seat_cut().regions}
    for contact in seat_cut().contacts:
        middle = meshes[contact.first].triangles[contact.first_faces].mean(axis=1)
        distance = NearestSurface(seat().mesh).find(middle).distance
        # on a wavy side a straight edge of 1.5 mm leaves the surface by edge^2 / (8 radius): 0.03 mm at 9 mm
        assert (winding_numbers(seat().mesh, middle[distance > 0.05]) > 0.9).all()
