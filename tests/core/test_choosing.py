"""Settings chosen by modulus: the region as printed meets its target, or says by how much it does not and why."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError, SolidError
from padwright.core.base.mesh import TriMesh
from padwright.core.stages.material.choosing import NEAR, Chosen, PrintLimits, choose_settings, flow_speed
from padwright.core.stages.material.fill import RegionGeometry, region_curve
from padwright.core.stages.material.material_model import MaterialModel
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.material.region_size import region_size
from support.packing import block

MODEL = MaterialModel(13_240.0, 0.48)
PAD = RegionGeometry(20.0, 8000.0, 320.0)
WISHED = RegionSettings("tpu_85a", 0.4, 0.45, 0.2, "gyroid", 15.0, 2, 3, 3, 30.0, 3.0)


def chosen(target: float, *, geometry: RegionGeometry = PAD, model: MaterialModel = MODEL, **limits: object) -> Chosen:
    return choose_settings(target, PrintLimits(**limits), model, geometry, WISHED)  # type: ignore[arg-type]


@pytest.mark.parametrize("target", np.geomspace(220.0, 1500.0, 7))
def test_the_region_as_printed_meets_its_target(target: float) -> None:
    found = chosen(target)
    assert found.binding is None
    # Judged by the curve of the whole region, contours and skins in it, not by what the choice says of itself.
    again = region_curve(found.settings, MODEL, PAD).value.secant_kpa(0.10)
    assert again == pytest.approx(target, rel=NEAR)
    assert found.reached_kpa == again


def test_contours_that_carry_much_leave_a_sparser_fill() -> None:
    """On a small block the two contours carry most of the load (Voigt: shares of area times modulus)."""
    wide = chosen(700.0, contour_counts=(2, 2))
    small = chosen(700.0, contour_counts=(2, 2), geometry=RegionGeometry(20.0, 900.0, 120.0))
    assert small.settings.solid_share_pct < wide.settings.solid_share_pct - 2.0
    assert small.reached_kpa == pytest.approx(wide.reached_kpa, rel=2 * NEAR)


def test_out_of_reach_says_how_far_which_limit_and_what_would_help() -> None:
    soft = chosen(20.0)
    assert soft.binding == "too soft to print"
    assert soft.settings.solid_share_pct == 5.0 and soft.settings.contour_count == 1
    (note,) = [note for note in soft.notes if "nearest" in note]
    assert f"{100 * soft.miss:.0f} % firmer than wished" in note
    for help_ in ("softer filament", "sparser than 5 %", "no contours"):
        assert help_ in note
    # The filament it asks for would do: the modulus scales with the solid's.
    softer = choose_settings(20.0, PrintLimits(), MaterialModel(13_240.0 * 20.0 / soft.reached_kpa, 0.48), PAD, WISHED)
    assert softer.reached_kpa == pytest.approx(20.0, rel=0.03)
    firm = chosen(9000.0)
    assert firm.binding == "too firm to print"
    assert firm.settings.solid_share_pct == 40.0 and firm.settings.contour_count == 3
    assert "softer than wished" in firm.notes[0] and "firmer filament" in firm.notes[0]


def test_nothing_else_in_reach_is_nearer_than_what_was_chosen() -> None:
    limits = PrintLimits(bead_widths_mm=(0.45, 0.6), fill_structures=("gyroid", "honeycomb"))
    for target in (30.0, 5000.0):
        found = choose_settings(target, limits, MODEL, PAD, WISHED)
        for structure in limits.fill_structures:
            for bead in limits.bead_widths_mm:
                for contours in (1, 2, 3):
                    for density in (5.0, 20.0, 40.0):
                        other = replace(
                            WISHED, fill_structure=structure, bead_width_mm=bead, contour_count=contours,
                            solid_share_pct=density,
                        )  # fmt: skip
                        reached = region_curve(other, MODEL, PAD).value.secant_kpa()
                        assert abs(np.log(reached / target)) >= abs(np.log(found.reached_kpa / target)) - 1e-9


def test_wider_limits_never_miss_by_more() -> None:
    misses = [abs(np.log1p(chosen(60.0, solid_share_pct=(low, 40.0)).miss)) for low in (20.0, 10.0, 5.0, 2.0)]
    assert misses == sorted(misses, reverse=True) and misses[-1] < misses[0]


def test_solid_is_chosen_as_solid() -> None:
    found = chosen(40_000.0, fill_structures=("gyroid", "solid"))
    assert (found.settings.fill_structure, found.settings.solid_share_pct) == ("solid", 100.0)


def test_settings_say_what_they_rest_on_and_stay_under_the_flow() -> None:
    wished = replace(WISHED, max_speed_mm_s=200.0, basis={"bead_width_mm": "user", "layer_thickness_mm": "user"})
    found = choose_settings(500.0, PrintLimits(bead_widths_mm=(0.6,)), MODEL, PAD, wished).settings
    assert found.basis["solid_share_pct"] == found.basis["contour_count"] == "model"
    assert found.basis["bead_width_mm"] == found.basis["layer_thickness_mm"] == "user"
    assert found.basis["body_side_layer_count"] == "assumed"
    assert set(found.basis) == set(found.as_json())
    assert 3.0 - 0.002 < found.max_speed_mm_s * 0.6 * 0.2 <= 3.0
    # Flow over the area of a bead with rounded sides: 36.848 mm/s for 3 mm3/s through 0.45 x 0.2 mm.
    assert flow_speed(0.45, 0.2, 3.0) == pytest.approx(36.848, abs=5e-4)


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"solid_share_pct": (30.0, 20.0)}, "30 to 20 %"),
        ({"solid_share_pct": (5.0, 90.0)}, "5 to 90 %"),
        ({"contour_counts": (3, 2)}, "3 to 2"),
        ({"bead_widths_mm": ()}, "No bead width"),
        ({"fill_structures": ("none",)}, "none"),
    ],
)
def test_limits_that_leave_nothing_are_told(limits: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        PrintLimits(**limits)  # type: ignore[arg-type]


def test_wishes_that_make_no_sense_are_told() -> None:
    with pytest.raises(InputError, match="aimed at 0 kPa"):
        chosen(0.0)
    with pytest.raises(InputError, match="thicker than every allowed bead"):
        chosen(500.0, bead_widths_mm=(0.15,))


def turned(mesh: TriMesh) -> tuple[TriMesh, np.ndarray]:
    axis = np.array([1.0, 2.0, 3.0]) / np.sqrt(14.0)
    cross = np.cross(np.eye(3), axis)
    turn = np.eye(3) * np.cos(1.0) + (1 - np.cos(1.0)) * np.outer(axis, axis) - np.sin(1.0) * cross
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    return mesh.transformed(matrix), turn @ np.array([0.0, 0.0, -1.0])


def test_a_block_has_the_size_of_a_block_in_any_pose() -> None:
    mesh, press = turned(block((0.0, 0.0, 0.0), (40.0, 30.0, 12.0), 4))
    size = region_size(mesh, press)
    assert (size.thickness_mm, size.area_mm2, size.perimeter_mm) == pytest.approx((12.0, 1200.0, 140.0), rel=1e-9)


def test_a_region_pressed_along_its_own_plane_has_no_size() -> None:
    flat = TriMesh(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 0]]), np.array([[0, 1, 2], [3, 2, 1]]))
    with pytest.raises(SolidError, match="no thickness"):
        region_size(flat, np.array([1.0, 0.0, 0.0]))


def test_a_sleeve_is_measured_along_its_own_normals() -> None:
    from support.pad_shapes import sleeve_pad

    pad = sleeve_pad(step=2.0)
    size = region_size(pad.mesh, None, pad)
    # A tube of radii 12 and about 18 (it waves by 1.2) and 60 long; its ends are rounded by 1.5.
    mean_area = 2.0 * np.pi * 15.0 * 60.0
    assert size.area_mm2 == pytest.approx(mean_area, rel=0.1)
    assert size.thickness_mm == pytest.approx(pad.mesh.volume / size.area_mm2)
    assert size.thickness_mm == pytest.approx(6.0, rel=0.1)


def test_a_grip_whose_outside_is_all_body_side_has_no_walls_and_a_curve() -> None:
    from support.pad_shapes import ShapedPad, sleeve_pad

    pad = sleeve_pad(step=2.0)
    side = np.where(np.hypot(*pad.mesh.vertices[:, :2].T) < 12.5, 2, 1)  # as an envelope of one's own is
    own = ShapedPad(pad.mesh, side, None)
    size = region_size(own.mesh, None, own)
    assert size.perimeter_mm >= 0.0
    closed = region_size(own.mesh, None, ShapedPad(pad.mesh, np.ones(len(side)), None))
    assert closed.perimeter_mm == 0.0
    for each in (size, closed):
        assert 0.0 <= region_curve(WISHED, MODEL, each).value.wall_share <= 1.0
