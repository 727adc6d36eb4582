"""Fill, bead and block against published values and against finite elements; the source stands beside each check."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from padwright.core.job.material_cards import load_material
from padwright.core.stages.material.curves import CurveBand
from padwright.core.stages.material.fill import RegionGeometry, fill_curve, region_curve, stiffness_ratio
from padwright.core.stages.material.hardness import gent_kpa
from padwright.core.stages.material.lattices import GYROID_AREA, LATTICES, gyroid_density, upper_bound
from padwright.core.stages.material.material_model import model_from_card
from padwright.core.stages.material.region_settings import RegionSettings
from support.block_elements import held_block, held_ratio

VOXEL_RUNS = [
    (0.1, 0.30, 0.030), (0.2, 0.30, 0.067), (0.3, 0.30, 0.111),
    (0.1, 0.48, 0.028), (0.2, 0.48, 0.064), (0.3, 0.48, 0.108),
]  # fmt: skip
"""(solid share, Poisson's ratio of the solid, E/E_solid) of a gyroid sheet: own periodic voxel finite elements, B-bar,
up to 64 voxels a cell; the mesh is good to 5 % at 0.1 and 1 % at 0.2. Unpublished, made before the law was."""

LAW_WITHIN = {0.48: 0.03, 0.30: 0.10}
"""The law was fitted at the ratio of every card, 0.48; at 0.30 it lies 7 to 9 % under the elements."""


@pytest.mark.parametrize(("density", "poisson", "ratio"), VOXEL_RUNS)
def test_the_gyroid_law_agrees_with_finite_elements(density, poisson, ratio):
    assert stiffness_ratio("gyroid", density, poisson) == pytest.approx(ratio, rel=LAW_WITHIN[poisson])


def test_the_gyroid_lies_near_the_bound_as_measured():
    # DeValk & Lakes 2021, Phys. Status Solidi B (abstract): stretch dominated, near the Hashin-Shtrikman bound. The
    # square law of bending-dominated foams (Gibson & Ashby 1997) would be half of it at 15 %.
    ratio = stiffness_ratio("gyroid", 0.15, 0.3)
    assert 0.5 < ratio / upper_bound(0.15, 0.3) < 1.0
    assert ratio / 0.15**2 == pytest.approx(2.1, rel=0.1)


def gyroid(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return sin x cos y + sin y cos z + sin z cos x (n,) and its gradient (n, 3)."""
    sine, cosine = np.sin(points), np.cos(points)
    value = (sine * np.roll(cosine, -1, axis=1)).sum(axis=1)
    return value, cosine * np.roll(cosine, -1, axis=1) - np.roll(sine, 1, axis=1) * sine


def grid(count: int) -> np.ndarray:
    """Return points of a cell of edge 2 pi, on a grid that shuns the surface's symmetries."""
    axes = [(np.arange(count) + shift) / count * 2.0 * np.pi for shift in (0.31, 0.57, 0.94)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def test_the_gyroids_area_by_integration():
    # Co-area formula: the area of {f = 0} is the integral of |grad f| times a hat of width e about 0, per cell of edge
    # 2 pi; Schoen 1970 has 3.0915. The trigonometric surface is 0.1 % smaller; hat and grid leave 0.3 %.
    value, gradient = gyroid(grid(96))
    hat = np.clip(1.0 - np.abs(value) / 0.15, 0.0, None) / 0.15
    slope = np.linalg.norm(gradient, axis=1)
    assert float((slope * hat).mean()) * 2.0 * np.pi == pytest.approx(GYROID_AREA, rel=0.004)


def test_the_gyroids_solid_share_by_distance():
    # Points within half a thickness of the sheet, by their distance to points on it, taken along the normal there.
    points = grid(64)
    value, gradient = gyroid(points)
    near = points[np.abs(value) < 0.12 * np.linalg.norm(gradient, axis=1)]
    for _ in range(3):
        value, gradient = gyroid(near)
        near = near - (value / (gradient**2).sum(axis=1))[:, None] * gradient
    _, gradient = gyroid(near)
    normal = gradient / np.linalg.norm(gradient, axis=1, keepdims=True)
    tree = cKDTree(near % (2.0 * np.pi), boxsize=2.0 * np.pi)
    tried = grid(31)
    _, index = tree.query(tried % (2.0 * np.pi))
    apart = (tried - near[index] + np.pi) % (2.0 * np.pi) - np.pi
    distance = np.abs((apart * normal[index]).sum(axis=1)) / (2.0 * np.pi)
    for thickness in (0.08, 0.10):
        # The cubic term is 1 % of the share; 30,000 points on a grid know it to about 0.5 %.
        assert float((distance < 0.5 * thickness).mean()) == pytest.approx(gyroid_density(thickness), rel=0.006)


@pytest.mark.parametrize(("poisson", "tolerance"), [(0.3, 0.02), (0.37, 0.02), (0.48, 0.06)])
def test_a_block_between_sticking_plates_by_finite_elements(poisson, tolerance):
    # Six bricks along the half edge: within 0.5 % of twelve at 0.37, 1 % at 0.48.
    for width in (0.8, 1.6, 2.4):
        assert held_ratio(poisson, width) == pytest.approx(held_block(width, 1.0, poisson, 6), rel=tolerance)


def test_a_block_that_cannot_swell_shows_youngs_modulus():
    assert held_block(1.0, 1.0, 0.0, 3) == pytest.approx(1.0, rel=1e-6)


def test_a_sheet_foams_modulus_lies_under_the_bound():
    # Closed-cell TPU sheet, ASTM D1621, a maker's table: stress at 10 % strain, MPa, at 0.12 to 0.19 g/cm3. Whatever
    # solid between 60A and 95A it was, it lies under the bound; of the stiffest of them under a fifth of it.
    density, stress = np.array([0.12, 0.15, 0.17, 0.19]), np.array([0.031, 0.040, 0.046, 0.080])
    bound = np.array([upper_bound(share, 0.48) for share in density / 1.2])
    for shore, of_bound in ((60.0, 3.0), (85.0, 0.8), (95.0, 0.25)):
        assert (1000.0 * stress / 0.1 / gent_kpa(shore) < of_bound * bound).all()


@pytest.mark.parametrize(("share_pct", "mpa"), [(60.0, 17.0), (25.0, 10.0)])
def test_published_moduli_of_printed_gyroids_lie_between_low_and_high(share_pct, mpa):
    # TPU 95A, extruded, cells of 10 mm, porosity 40 and 75 % (engtech.spbstu.ru/en/article/2025.134.4, abstract). Size,
    # contours and skins of its blocks are not stated; none are taken, and a block wide enough for its cells.
    printed = RegionSettings(
        "tpu_95a", nozzle_diameter_mm=0.4, bead_width_mm=0.45, layer_thickness_mm=0.2, fill_structure="gyroid",
        solid_share_pct=share_pct, contour_count=0, body_side_layer_count=0, base_side_layer_count=0,
        max_speed_mm_s=30.0,
    )  # fmt: skip
    block = RegionGeometry(50.0, 2500.0, 200.0)
    band = region_curve(printed, model_from_card(load_material("tpu_95a")), block)
    assert band.low.small_strain_kpa < 1000.0 * mpa < band.high.small_strain_kpa


def test_a_published_lattice_modulus_needs_a_stiffer_solid_than_its_hardness_says():
    # The second of them, 10 MPa at 25 %: the bound times the 44 MPa of a 95A is 6.5 MPa, so contours, skins or a
    # stiffer filament were in it, and the law of the fill must not be bent to it.
    bound = upper_bound(0.25, 0.48)
    assert 44.0 * bound < 10.0
    assert 10.0 / bound == pytest.approx(70.0, rel=0.05)


def test_honeycomb_is_stiffer_than_gyroid_at_the_same_solid_share():
    # Extruded TPU: rigidity +30 % (doi 10.3390/polym13172986, abstract). That is of whole samples pressed far; at small
    # strain upright walls are stiffer by more, and past their buckling the ratio falls: it must be above 1 at first.
    for density in (0.1, 0.2, 0.3):
        assert stiffness_ratio("honeycomb", density, 0.48) > 1.3 * stiffness_ratio("gyroid", density, 0.48)


def printed(structure: str, contours: int) -> CurveBand:
    """Return a block of 20 mm of 95A at 15 % with an outline of so many contours, no closed layers."""
    settings = RegionSettings(
        "tpu_95a", nozzle_diameter_mm=0.4, bead_width_mm=0.45, layer_thickness_mm=0.2, fill_structure=structure,
        solid_share_pct=15.0, contour_count=contours, body_side_layer_count=0, base_side_layer_count=0,
        max_speed_mm_s=30.0,
    )  # fmt: skip
    return region_curve(settings, model_from_card(load_material("tpu_95a")), RegionGeometry(20.0, 400.0, 80.0))


@pytest.mark.parametrize("contours", [2, 3])
def test_an_outline_hides_how_much_stiffer_walls_are(contours):
    # The same 1.30. Which way it was pressed, how far and what outline the samples had is not stated: an outline of two
    # or three beads around 20 mm gives it, by what two regions of one print may differ in alone.
    comb, gyroid = printed("honeycomb", contours), printed("gyroid", contours)
    ratio = comb.value.small_strain_kpa / gyroid.value.small_strain_kpa
    apart = comb.own_factor * gyroid.own_factor
    assert ratio / apart < 1.30 < ratio * apart


def test_bare_walls_miss_the_published_ratio_unless_they_lie():
    # Along bare walls it is 3.4 times, across them 1.5 rho^3 over the gyroid's (Gibson & Ashby 1997, 4.3, cited, not
    # read): the published one lies between, so without an outline neither way alone explains it.
    gyroid = stiffness_ratio("gyroid", 0.15, 0.48)
    assert 1.5 * 0.15**3 / gyroid < 0.15 < 1.30 < 3.3 < stiffness_ratio("honeycomb", 0.15, 0.48) / gyroid < 3.5
    assert printed("honeycomb", 0).value.small_strain_kpa > 2.0 * 1.30 * printed("gyroid", 0).value.small_strain_kpa


def test_no_two_fills_differ_by_more_than_cells_were_found_to():
    # Six cells of TPU printed alike: 24.7 to 397 N, 16 times, computed and pressed (doi 10.3390/polym13244341,
    # abstract). Ours are fewer; whatever share and squeeze, none bears more than that many times another.
    strain = np.array([0.01, 0.05, 0.1, 0.3, 0.5])
    for density in (0.1, 0.2, 0.3, 0.4):
        every = [fill_curve(name, density, 1.0, 0.48).stress(strain) for name in LATTICES]
        apart = np.max(every, axis=0) / np.min(every, axis=0)
        assert (apart < 397.0 / 24.7).all() and apart.max() > 1.3
