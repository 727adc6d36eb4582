"""Blocks to press: what they span, that they are solids, told apart, large enough for scale and ruler, and packed."""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import load_material
from padwright.core.run.coupons import pack_coupons, read_record
from padwright.core.stages.material.coupons.coupons import (
    HEIGHT_MM,
    CouponWish,
    coupon_load_kg,
    plan_coupons,
    solid_share,
)
from padwright.core.stages.material.fill import region_curve
from padwright.core.stages.material.material_model import model_from_card
from support.documents import sidecar_faults


def plan(card_name="tpu_85a", **wish):
    card = load_material(card_name)
    return plan_coupons(model_from_card(card), card, CouponWish(**wish))


@pytest.fixture(scope="module")
def usual():
    return plan()


def test_the_blocks_span_densities_patterns_contours_and_the_solid(usual):
    assert [block.coupon.words for block in usual.blocks] == [
        "gyroid 10 %, no contours",
        "gyroid 15 %, no contours",
        "gyroid 25 %, no contours",
        "gyroid 15 %, 2 contours",
        "honeycomb 15 %, no contours",
        "solid, no contours",
    ]


def test_each_block_is_a_solid_with_its_number_in_notches(usual):
    for block in usual.blocks:
        mesh, coupon = block.mesh, block.coupon
        assert mesh.is_closed
        assert np.ptp(mesh.vertices[:, 2]) == HEIGHT_MM
        # A V 3 mm wide and 2.5 mm deep takes 3.75 mm2 from the square.
        missing = coupon.edge_mm**2 * HEIGHT_MM - mesh.volume
        assert missing / (0.5 * 3.0 * 2.5 * HEIGHT_MM) == pytest.approx(coupon.number)
        assert coupon.geometry.area_mm2 * HEIGHT_MM == pytest.approx(mesh.volume)
        flat = np.abs(mesh.face_normals[:, 2]) > 0.5
        assert coupon.geometry.perimeter_mm * HEIGHT_MM == pytest.approx(mesh.face_areas[~flat].sum())


def test_blocks_lie_on_the_bed_apart_from_each_other(usual):
    boxes = [block.mesh.bounds[:, :2] for block in usual.blocks]
    for index, box in enumerate(boxes):
        assert box.min() >= -1e-9 and box.max() <= 220.0
        for other in boxes[:index]:
            assert np.any(box[0] - other[1] >= 7.99) or np.any(other[0] - box[1] >= 7.99)


def test_loads_rise_within_reach_and_move_more_than_a_ruler_needs(usual):
    for block in usual.blocks:
        loads = np.array(block.loads_kg)
        sinks = np.array([sink.value for sink in block.sinks_mm])
        assert len(loads) >= 4 and (np.diff(loads) > 0).all() and loads[-1] <= usual.most_load_kg == 35.0
        assert (np.diff(sinks) > 0).all() and sinks[-1] >= 1.0
        assert block.tenth_error < 0.2
        assert all(sink.low <= sink.value <= sink.high for sink in block.sinks_mm)


def test_the_sum_is_that_of_the_parts_own_curve(usual):
    block = usual.blocks[4]  # walls stand upright: nothing spreads, so plates change nothing
    curve = region_curve(block.coupon.settings, model_from_card(load_material("tpu_85a")), block.coupon.geometry).value
    by_hand = curve.stress(np.array(0.1)) * block.coupon.geometry.area_mm2 / 1000.0 / 9.80665
    assert block.tenth_load_kg.value == pytest.approx(float(by_hand))
    assert coupon_load_kg(block.coupon, curve, 0.05) == pytest.approx(
        float(curve.stress(np.array(0.05))) * block.coupon.geometry.area_mm2 / 9806.65
    )


def test_mass_is_walls_fill_and_skins(usual):
    block = usual.blocks[3]  # gyroid 15 %, 2 contours, 40 mm
    wall = (0.45 - 0.2) + np.pi * 0.2 / 4.0
    share = 2 * wall * block.coupon.geometry.perimeter_mm / block.coupon.geometry.area_mm2
    skins = 4 * 0.2 / HEIGHT_MM
    assert solid_share(block.coupon) == pytest.approx(skins + (1 - skins) * (share + (1 - share) * 0.15))
    assert block.mass_g == pytest.approx(solid_share(block.coupon) * block.mesh.volume * 1.21e-3)


def test_what_a_person_cannot_press_is_left_out_and_said():
    stiff = plan("tpu_64d")
    assert len(stiff.blocks) < 6
    assert any("Left out solid" in note for note in stiff.notes)
    with pytest.raises(InputError, match="No block of this filament gives way"):
        plan("tpu_64d", solid_shares_pct=(50.0,), body_mass_kg=20.0)


def test_blocks_of_a_stiff_filament_get_smaller_until_a_person_can_press_them():
    blocks = {block.coupon.words: block for block in plan("tpu_95a").blocks}
    soft = {block.coupon.words: block for block in plan("tpu_85a").blocks}
    block = blocks["gyroid 15 %, 2 contours"]
    assert block.coupon.edge_mm < soft["gyroid 15 %, 2 contours"].coupon.edge_mm
    assert block.tenth_load_kg.value <= 35.0
    assert any("few for its size" in note for note in plan("tpu_95a").notes)


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ({"structures": ("coil",)}, 'no model for "coil"'),
        ({"solid_shares_pct": (80.0,)}, "3 to 50 %"),
        ({"contours": (9,)}, "0 to 6 contours"),
        ({"contours": ()}, "at least one value"),
        ({"solid_shares_pct": (15.0, 15.0)}, "none twice"),
        ({"body_mass_kg": 5.0}, "out of range"),
        ({"bed_mm": (100.0, 60.0)}, "do not fit a bed of 100 x 60 mm"),
        ({"solid_shares_pct": tuple(float(d) for d in range(5, 17))}, "14 blocks|notches can tell 12"),
    ],
)
def test_a_wish_that_cannot_be_met_is_told(wish, said):
    with pytest.raises(InputError, match=said):
        plan(**wish)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("blocks")
    assert cli.main(["coupons", "--material", "tpu_85a", "--out", str(out)]) == 0
    return out


def test_the_files_are_those_of_a_part(folder, monkeypatch):
    names = {path.name for path in folder.iterdir()}
    number = "COUPONS-tpu_85a"
    assert {f"{number}.{end}" for end in ("project.3mf", "settings.json", "sheet.txt", "run.json")} <= names
    assert {f"{number}.block-{index}.stl" for index in range(1, 7)} <= names and "readings.csv" in names
    sidecar = (folder / f"{number}.settings.json").read_bytes()
    assert sidecar_faults(json.loads(sidecar)) == []
    with zipfile.ZipFile(folder / f"{number}.project.3mf") as package:
        assert package.read("3D/Other/settings.json") == sidecar
    regions = json.loads(sidecar)["regions"]
    assert [region["settings"]["contour_count"] for region in regions] == [0, 0, 0, 2, 0, 0]
    assert regions[4]["settings"]["fill_structure"] == "honeycomb"


def test_the_sheet_tells_each_block_its_sum_and_the_dangers(folder):
    text = (folder / "COUPONS-tpu_85a.sheet.txt").read_text("utf-8")
    for index in range(1, 7):
        assert f"Block {index} ({index} notch" in text
    assert text.count("The sum: 1 kg and 0.1 mm make") == 6
    assert "do not stand, kneel or jump" in text


def test_the_record_reads_back_to_the_same_blocks(folder):
    card = load_material("tpu_85a")
    number, again, coupons = read_record((folder / "COUPONS-tpu_85a.run.json").read_bytes(), "run.json")
    packed = pack_coupons(card, CouponWish())
    assert (number, again) == ("COUPONS-tpu_85a", card)
    bare = [replace(b.coupon, settings=replace(b.coupon.settings, basis={})) for b in packed.plan.blocks]
    assert list(coupons) == bare
    for broken in (b"{}", b"[]", b"[" * 200_000, b'{"coupons": 1e999}', b'{"coupons": {"blocks": "abc"}}', b"\xff"):
        with pytest.raises(InputError, match="does not say which blocks"):
            read_record(broken, "run.json")


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("number", 1e999), ("number", "one"), ("edge_mm", -5), ("edge_mm", float("nan")), ("geometry", {}),
        ("geometry", "flat"), ("settings", []), ("settings.fill_structure", "foam"), ("settings.bead_width_mm", 1e-9),
        ("settings.solid_share_pct", "dense"), ("geometry.area_mm2", 0), ("geometry.thickness_mm", None),
    ],
)  # fmt: skip
def test_a_record_that_was_changed_is_refused(folder, key, value):
    record = json.loads((folder / "COUPONS-tpu_85a.run.json").read_bytes())
    *tables, name = key.split(".")
    place = record["coupons"]["blocks"][0]
    for table in tables:
        place = place[table]
    place[name] = value
    with pytest.raises(InputError, match="does not say which blocks"):
        read_record(json.dumps(record).encode(), "run.json")


def test_from_blocks_to_a_card_on_the_command_line(folder, capsys):
    rows = (folder / "readings.csv").read_text("utf-8").splitlines()
    record = json.loads((folder / "COUPONS-tpu_85a.run.json").read_bytes())["coupons"]
    expected = {
        (block["number"], load): HEIGHT_MM - sink["value"]
        for block in record["blocks"]
        for load, sink in zip(block["loads_kg"], block["sinks_mm"], strict=True)
    }
    filled = []
    for row in rows:
        cells = row.split(",")
        if cells[0].isdigit():
            cells[2] = f"{expected.get((int(cells[0]), float(cells[1])), HEIGHT_MM):.1f}"
        filled.append(",".join(cells))
    (folder / "filled.csv").write_text("\n".join(filled), "utf-8")
    card = folder / "mine.toml"
    capsys.readouterr()
    assert cli.main(["calibrate", str(folder / "filled.csv"), "--out", str(card)]) == 0
    said = capsys.readouterr().out
    assert "36 readings on 6 blocks" in said and "before" in said and "now" in said
    found = load_material("mine.toml", folder)
    # What was read is what the card said, so the middle stays and only the spread shrinks.
    assert np.abs(found.calibration.unknowns).max() < 0.1
    assert model_from_card(found).solid.high < 0.8 * model_from_card(load_material("tpu_85a")).solid.high
    assert cli.main(["calibrate", str(folder / "filled.csv"), "--out", str(card)]) == 2
    assert "is there already" in capsys.readouterr().err


def test_an_existing_table_is_never_overwritten(folder, capsys):
    (folder / "readings.csv").write_text("mine", "utf-8")
    assert cli.main(["coupons", "--material", "tpu_85a", "--out", str(folder)]) == 0
    assert "is left as it is" in capsys.readouterr().out
    assert (folder / "readings.csv").read_text("utf-8") == "mine"
