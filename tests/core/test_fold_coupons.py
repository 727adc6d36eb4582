"""Blocks of folded walls: solids that print, walls where they should be, loads a scale shows, packed and read back."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.job.material_cards import load_material
from padwright.core.run.coupons import pack_coupons, read_record
from padwright.core.stages.material.coupons.coupons import CouponWish
from padwright.core.stages.material.coupons.fold_coupons import (
    KITCHEN_KG,
    FoldCoupon,
    FoldWish,
    fold_load_kg,
    plan_fold_coupons,
)
from padwright.core.stages.material.coupons.fold_shapes import (
    BRIDGES_MM,
    FoldShape,
    bridge_strip,
    fold_block,
    skins_volume_mm3,
    walls_volume_mm3,
)
from padwright.core.stages.material.folds.law import shear_kpa, stress_kpa
from padwright.core.stages.material.material_model import model_from_card
from padwright.core.stages.shape.slice_report import SliceLimits
from padwright.core.stages.shape.slices import check_slices
from support.documents import sidecar_faults

SHAPE = FoldShape(core_mm=18.0, skin_mm=1.2, wall_mm=1.35, pitch_mm=6.0, slope_deg=45.0, walls_a_half=6)


def plan(card_name="tpu_85a", *, printer=None, **wish):
    card = load_material(card_name)
    return plan_fold_coupons(model_from_card(card), card, FoldWish(printer or CouponWish(), **wish))


def is_inside(mesh: TriMesh, points: np.ndarray) -> np.ndarray:
    """Say of each point (n, 3) if it lies in a closed mesh: the solid angle of its triangles is a whole turn there."""
    turns = np.zeros(len(points))
    for at, point in enumerate(points):
        a, b, c = (mesh.vertices[mesh.faces[:, side]] - point for side in range(3))
        lengths = [np.linalg.norm(each, axis=1) for each in (a, b, c)]
        over = np.einsum("ij,ij->i", a, np.cross(b, c))
        under = lengths[0] * lengths[1] * lengths[2] + sum(
            np.einsum("ij,ij->i", one, two) * length
            for one, two, length in ((a, b, lengths[2]), (b, c, lengths[0]), (c, a, lengths[1]))
        )
        turns[at] = np.arctan2(over, under).sum() / (2.0 * np.pi)
    return turns > 0.5


@pytest.mark.parametrize("slope", [5.0, 25.0, 45.0])
@pytest.mark.parametrize("number", [1, 6])
def test_a_block_is_one_closed_solid_of_walls_skins_and_teeth(slope, number):
    shape = replace(SHAPE, slope_deg=slope)
    mesh = fold_block(shape, number)
    # Vertices a millionth of a millimeter apart would be one in a file: none is, and each edge has two triangles.
    places, same = np.unique(np.round(mesh.vertices, 5), axis=0, return_inverse=True)
    assert len(places) == len(mesh.vertices)
    edges = np.sort(same.reshape(-1)[mesh.faces][:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    assert (np.unique(edges, axis=0, return_counts=True)[1] == 2).all()
    assert mesh.is_closed and np.ptp(mesh.vertices[:, 2]) == pytest.approx(shape.height_mm)
    assert mesh.volume == pytest.approx(walls_volume_mm3(shape) + skins_volume_mm3(shape, number), rel=1e-9)


def test_walls_of_one_half_run_across_those_of_the_other():
    mesh, shape = fold_block(SHAPE, 1), SHAPE
    middle, run = 0.5 * shape.height_mm, shape.run_mm
    feet = (np.arange(6) - 2.5) * 6.0
    away = 0.5 * (run + 0.8)
    for height, lean in ((1.5, 0.3), (middle, shape.lean_mm), (shape.height_mm - 1.5, 0.3)):
        ones = [[-away - foot - lean, along, height] for foot in feet for along in (-0.4 * run, 0.0, 0.4 * run)]
        others = [[away + along, foot + lean, height] for foot in feet for along in (-0.4 * run, 0.0, 0.4 * run)]
        assert is_inside(mesh, np.array(ones + others)).all()
        between = [[x + sign * 0.5 * 6.0, y, z] for x, y, z in ones for sign in (-1.0, 1.0)]
        between += [[x, y + sign * 0.5 * 6.0, z] for x, y, z in others for sign in (-1.0, 1.0)]
        assert not is_inside(mesh, np.array(between)).any()


def test_no_wall_touches_the_other_half():
    """Half way up, where walls lean most, there is air all across between the halves."""
    mesh = fold_block(SHAPE, 2)
    column = np.column_stack([np.zeros(60), np.linspace(-17.0, 17.0, 60), np.full(60, 0.5 * SHAPE.height_mm)])
    assert not is_inside(mesh, column).any()


def test_no_roof_bridges_more_than_a_usual_printer_does():
    for block in plan(beads=(2, 3, 4)).blocks:
        if isinstance(block.coupon, FoldCoupon):
            shape = block.coupon.shape
            assert shape.pitch_mm - shape.wall_mm <= 4.8 + 1e-9
            assert shape.skin_mm >= max(0.8 * shape.wall_mm, 1.0) - 1e-9
            assert shape.skin_mm / 0.2 == pytest.approx(round(shape.skin_mm / 0.2))


def test_blocks_and_strip_print_layer_for_layer():
    """The check that parts of folded walls are held to; the strip may bridge what it is there to show."""
    found = plan(beads=(2,))
    limits = {"block": SliceLimits(skin_mm=1.0), "strip": SliceLimits(skin_mm=1.0, bridge_mm=max(BRIDGES_MM))}
    for name, mesh in (("block", found.blocks[0].mesh), ("strip", found.strip)):
        report = drain(check_slices(mesh, layer_mm=0.2, bead_mm=0.45, limits=limits[name]))
        assert report.errors == () and report.notes == ()


def test_the_strip_has_a_roof_over_each_gap():
    strip = bridge_strip(0.2)
    assert strip.is_closed
    start = strip.bounds[0, 0]
    for gap in BRIDGES_MM:
        start += 3.0
        line = np.array([[start + share * gap, 0.0, z] for share in (0.01, 0.5, 0.99) for z in (0.6, 4.2, 7.8)])
        assert is_inside(strip, line).tolist() == [True, False, True] * 3
        start += gap
    assert start + 3.0 == pytest.approx(strip.bounds[1, 0])


def test_no_block_walks_sideways():
    """Against its pressure a half alone is too weak across its walls, both halves together are not."""
    card = load_material("tpu_85a")
    alone = []
    for block in plan().blocks:
        if isinstance(block.coupon, FoldCoupon):
            pressure = float(block.curve.high.stress(np.array(0.3)))
            across, along = (each[0] for each in shear_kpa(block.coupon.walls, card.modulus_mpa * 1000.0, card.poisson))
            assert 0.5 * (across + along) > 2.0 * pressure
            alone.append(across / pressure)
    assert min(alone) < 1.0


@pytest.mark.parametrize("card", ["tpu_60a", "tpu_85a", "tpu_95a"])
def test_a_scale_shows_the_loads(card):
    for block in plan(card).blocks:
        loads, sinks = np.array(block.loads_kg), np.array([sink.value for sink in block.sinks_mm])
        assert len(loads) == 5 and (np.diff(loads) > 0).all() and (np.diff(sinks) > 0).all()
        assert block.tenth_error < 0.15 and sinks[-1] >= 1.0
        if isinstance(block.coupon, FoldCoupon):
            assert loads[-1] <= KITCHEN_KG or loads[0] >= 5.0  # one scale a block
            assert sinks[-1] <= 0.33 * block.coupon.shape.core_mm


def test_the_load_is_that_of_the_law_over_the_walls_ground():
    block = plan().blocks[2]
    shape, card = block.coupon.shape, load_material("tpu_85a")
    stress = stress_kpa(block.coupon.walls, np.array([0.1]), card.modulus_mpa * 1000.0, card.poisson)[0, 0]
    segment = 9.0 / np.cos(np.radians(45.0))
    by_hand = stress * 14 * 6.0 * (shape.run_mm - 0.08 * segment) / 1000.0 / 9.80665
    assert fold_load_kg(block.coupon, block.curve.value, 0.1) == pytest.approx(by_hand, rel=1e-6)
    assert block.tenth_load_kg.value == pytest.approx(by_hand, rel=1e-6)


def test_blocks_and_strip_lie_apart_on_the_bed():
    found = plan()
    boxes = [mesh.bounds[:, :2] for mesh in (*(block.mesh for block in found.blocks), found.strip)]
    for index, box in enumerate(boxes):
        assert box.min() >= -1e-9 and box.max() <= 220.0
        for other in boxes[:index]:
            assert np.any(box[0] - other[1] >= 7.99) or np.any(other[0] - box[1] >= 7.99)


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ({"beads": ()}, "at least one value"),
        ({"beads": (3, 3)}, "none twice"),
        ({"beads": (1, 2, 3, 4), "slopes_deg": (20.0, 40.0)}, "4 widths at 2 slopes"),
        ({"slopes_deg": (2.0,)}, "5 to 60 degrees"),
        ({"core_mm": 3.0}, "6 to 40 mm high"),
        ({"pitch_mm": 2.0}, "leave 0.65 mm"),
        ({"beads": (1,), "slopes_deg": (60.0,), "core_mm": 40.0}, "too soft for a kitchen scale"),
        ({"printer": CouponWish(bed_mm=(100.0, 60.0))}, "do not fit a bed"),
        ({"printer": CouponWish(nozzle_mm=9.0)}, "out of range"),
    ],
)
def test_a_wish_that_cannot_be_met_is_told(wish, said):
    with pytest.raises(InputError, match=said):
        plan(**wish)


def test_a_block_too_soft_for_a_scale_is_left_out_and_said():
    found = plan("tpu_60a", beads=(1, 3))
    assert any("Left out walls of 1 bead, " in note and "too little" in note for note in found.notes)
    assert [block.coupon.number for block in found.blocks] == list(range(1, len(found.blocks) + 1))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("folds")
    assert cli.main(["coupons", "--folds", "--out", str(out)]) == 0
    return out


def test_the_files_are_those_of_blocks(folder):
    number = "COUPONS-tpu_85a-folds"
    sidecar = json.loads((folder / f"{number}.settings.json").read_bytes())
    assert sidecar_faults(sidecar) == []
    assert [each["id"] for each in sidecar["regions"]] == [*(f"block-{index}" for index in range(1, 6)), "bridges"]
    assert {each["settings"]["fill_structure"] for each in sidecar["regions"]} == {"solid"}
    sheet = (folder / f"{number}.sheet.txt").read_text("utf-8")
    assert "longest_bridge_mm" in sheet and "Kitchen scale" in sheet and "(4 teeth)" in sheet
    assert max(map(len, sheet.splitlines())) < 180
    rows = (folder / "readings.csv").read_text("utf-8").splitlines()
    assert sum(row.startswith("1,") for row in rows) == 6


def test_the_record_gives_the_blocks_back(folder):
    data = (folder / "COUPONS-tpu_85a-folds.run.json").read_bytes()
    _, card, coupons = read_record(data, "run.json")
    made = [block.coupon for block in plan().blocks]
    assert coupons == tuple(replace(each, settings=replace(each.settings, basis={})) for each in made)
    assert card == load_material("tpu_85a")


@pytest.mark.parametrize(
    "change", [{"pitch_mm": 0.0}, {"wall_mm": 7.0}, {"slope_deg": 89.0}, {"walls_a_half": 0}, {"x": 1}]
)
def test_a_record_of_no_block_is_refused(folder, change):
    record = json.loads((folder / "COUPONS-tpu_85a-folds.run.json").read_bytes())
    record["coupons"]["blocks"][0]["shape"].update(change)
    with pytest.raises(InputError, match="does not say which blocks"):
        read_record(json.dumps(record).encode(), "run.json")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--folds", "--shares", "10"], "--shares is for fills"),
        (["--walls", "2"], "--walls is for blocks of folded walls"),
    ],
)
def test_options_of_the_other_kind_are_refused(options, said, tmp_path, capsys):
    assert cli.main(["coupons", *options, "--out", str(tmp_path / "out")]) != 0
    assert said in capsys.readouterr().err


def test_two_runs_give_the_same_bytes():
    card = load_material("tpu_85a")
    one, two = (pack_coupons(card, FoldWish(CouponWish())).files for _ in range(2))
    stls = [name for name in one if name.endswith(".stl")]
    assert len(stls) == 6 and all(one[name] == two[name] for name in stls)


def test_each_pair_of_blocks_differs_in_what_it_bears():
    """So that blocks under each other's number are seen."""
    bears = [block.tenth_load_kg.value for block in plan().blocks if isinstance(block.coupon, FoldCoupon)]
    assert min(max(a / b, b / a) for a, b in itertools.combinations(bears, 2)) > 1.3
