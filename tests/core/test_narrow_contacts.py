"""What the pad around a narrow contact adds: limits, outlines, pieces, the pad's end, and the way into every number."""

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.load.bulging_layers import Bounds, disc_ratio
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.contact_pieces import contact_pieces
from padwright.core.stages.load.felt import thumb_mm
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.load.narrow_contacts import narrow_ratio
from padwright.core.stages.material.curves import CurveBand, constrained_ratio
from support.patches import disc, linear, patch, sheet


def in_a_layer(poisson):
    ratio = float(constrained_ratio(poisson))
    return linear(400.0, poisson=poisson), Bounds(ratio, ratio, ratio)


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.37])
def test_a_very_narrow_contact_is_boussinesqs_punch_and_a_wide_one_stays_columns(poisson):
    curve, ratio = in_a_layer(poisson)
    thin = narrow_ratio(0.01, curve, ratio)
    # 2 E* a d over pi a^2 r E d / h
    half_space = 2.0 / np.pi / (1.0 - poisson**2) / ratio.value / 0.01
    assert thin.value == pytest.approx(half_space, rel=1e-3) and thin.low == pytest.approx(half_space, rel=1e-3)
    for width in (2.0, 3.0, 5.0):
        assert narrow_ratio(width, curve, ratio).value == 1.0
    spreads = [found.high - found.low for found in (narrow_ratio(w, curve, ratio) for w in (0.5, 1.0, 2.0, 4.0, 6.0))]
    assert (np.diff(spreads) < 0.0).all() and spreads[-1] == 0.0


@pytest.mark.parametrize("poisson", [0.0, 0.2, 0.37, 0.45, 0.48])
def test_low_value_and_high_stand_in_order_and_fall_with_the_width(poisson):
    curve, ratio = in_a_layer(poisson)
    every = [narrow_ratio(width, curve, ratio, share) for share in (0.0, 0.6) for width in np.geomspace(0.02, 20.0, 60)]
    assert all(0.0 < each.low <= each.value <= each.high for each in every)
    values = np.array([each.value for each in every]).reshape(2, -1)
    assert (np.diff(values, axis=1) <= 1e-12).all() and (values[1] <= values[0]).all()


def test_outline_and_pieces_of_round_contacts_on_uneven_triangles():
    """Two paraboloids: contacts are cut between the points, so that even coarse triangles give the width."""
    for step in (1.0, 3.0):
        on = patch(sheet(160, 80, step), gap=lambda x, y: ((np.abs(x) - 40) ** 2 + y * y) / 60.0)
        sinkage = 5.0 - on.gaps
        label, pieces = contact_pieces(on, sinkage > 0.0, sinkage)
        # Single points at the rim, in no whole triangle that bears, belong to none.
        assert len(pieces) == 2 and (label[sinkage > 0.0] >= 0).mean() > 0.95 and (label[sinkage <= 0.0] == -1).all()
        for piece in pieces:  # radius sqrt 300 mm on 20 mm
            assert piece.slenderness == pytest.approx(np.sqrt(300.0) / 20.0, rel=0.02 if step < 2 else 0.08)
            assert piece.open_share == 0.0


def test_a_strip_counts_twice_its_half_width_and_a_ring_its_own():
    strip = patch(sheet(400, 20, 2.0))
    everywhere = np.ones(len(strip.position), dtype=bool)
    (piece,) = contact_pieces(strip, everywhere, np.ones(len(everywhere)))[1]
    assert piece.slenderness == pytest.approx(2 * 400 * 20 / 840 / 20, rel=0.03)
    on = patch(disc(60.0, 1.5))
    far = np.linalg.norm(on.position, axis=1)
    sinkage = np.minimum(far - 40.0, 55.0 - far)
    (ring,) = contact_pieces(on, sinkage > 0.0, sinkage)[1]
    assert ring.slenderness == pytest.approx(15.0 / 20.0, rel=0.05)


def test_a_splinter_beside_a_contact_belongs_to_it_and_one_far_off_does_not():
    def bumps(at):
        return lambda x, y: np.minimum(np.hypot(x, y) / 10.0, np.hypot(x - at, y) / 2.5) - 1.0

    for at, count in ((14.0, 1), (60.0, 2)):
        on = patch(sheet(160, 60, 1.0), gap=lambda x, y, at=at: bumps(at)(x, y) + 1.0)
        sinkage = 1.0 - on.gaps
        assert len(contact_pieces(on, sinkage > 0.0, sinkage)[1]) == count


def test_where_the_pad_ends_with_the_contact_nothing_helps():
    curve = linear(400.0, poisson=0.37)
    case = LoadCase(force_n=20.0, tilt="held")
    on = patch(disc(10.0, 0.5))
    alone = 20_000.0 / float(on.area_mm2.sum()) / 400.0 / float(constrained_ratio(0.37)) * 20.0
    count = len(on.position)
    goes_on, ends, half = (
        check_load(case, replace(on, beyond_mm=beyond), [curve])
        for beyond in (None, np.zeros(count), np.full(count, 10.0))
    )
    assert goes_on.sinkage_mm.value < 0.8 * alone and ends.sinkage_mm.value == pytest.approx(alone, rel=0.03)
    assert ends.sinkage_mm.high > 1.3 * alone  # its sides are free there
    assert ends.pieces[0].open_share > 0.9 and goes_on.pieces[0].open_share == 0.0
    assert goes_on.sinkage_mm.value < half.sinkage_mm.value < ends.sinkage_mm.value
    assert any("of its outline, where the pad ends" in note for note in half.notes)


def test_a_narrow_contact_moves_every_number_and_the_note_says_by_how_much():
    two = patch(sheet(120, 60, 2.0), gap=lambda x, y: ((np.abs(x) - 40) ** 2 + y * y) / 40.0)
    told = check_load(LoadCase(force_n=5.0), two, [linear(400.0)])
    for each in (told.sinkage_mm, told.peak_pressure_kpa, told.contact_area_cm2, told.mean_pressure_kpa):
        assert each.low < each.value < each.high
    assert sum("times as stiff as what lies below it alone" in note for note in told.notes) == 2
    wide = check_load(LoadCase(force_n=5.0), patch(sheet(120, 60, 4.0), thickness=5.0), [linear(400.0)])
    assert wide.sinkage_mm.low == wide.sinkage_mm.high and not any("lies below it alone" in note for note in wide.notes)


def test_the_same_contact_on_finer_triangles_or_turned_is_as_stiff():
    def pressed(step, turn=0.0, seed=0):
        mesh = sheet(100, 100, step, seed=seed)
        c, s = np.cos(turn), np.sin(turn)
        return check_load(
            LoadCase(force_n=10.0, tilt="held"),
            patch(mesh, gap=lambda x, y: ((c * x + s * y) ** 2 + 2 * (c * y - s * x) ** 2) / 60.0),
            [linear(400.0, poisson=0.3)],
        ).sinkage_mm

    fine = pressed(1.0)
    for other in (pressed(2.5), pressed(1.5, 0.7, 3)):
        for end in ("low", "value", "high"):
            # A half-width of 10 mm in steps of 2.5 mm is known to some percent.
            assert getattr(other, end) == pytest.approx(getattr(fine, end), rel=0.05)


def test_the_pad_around_matters_less_the_more_of_the_give_is_fleshs():
    gap = lambda x, y: (x * x + y * y) / 80.0  # noqa: E731
    on = patch(sheet(80, 80, 2.0), gap=gap)
    spreads = []
    for kpa in (1e6, 100.0, 10.0):
        motion = check_load(LoadCase(force_n=10.0, tilt="held", flesh=flesh_layer(15.0, kpa)), on, [linear(400.0)])
        spreads.append(motion.body_motion_mm.high / motion.body_motion_mm.low)
    assert spreads[0] > spreads[1] > spreads[2] > 1.0


def test_bounds_with_many_points_are_those_with_few():
    gap = lambda x, y: (x * x + y * y) / 100.0  # noqa: E731
    curve = linear(400.0, poisson=0.3)
    band = CurveBand(curve, curve.scaled(0.8), curve.scaled(1.25), "model", (), (), 1.1)
    case = LoadCase(force_n=10.0)
    many, few = (check_load(case, patch(sheet(70, 70, step), gap=gap), [band]) for step in (0.6, 1.8))
    assert len(many.pressure_kpa) > 4000 * 3
    for name in ("sinkage_mm", "peak_pressure_kpa", "contact_area_cm2"):
        one, other = getattr(many, name), getattr(few, name)
        assert (one.low, one.value, one.high) == pytest.approx((other.low, other.value, other.high), rel=0.05), name


def test_a_thumb_is_a_narrow_contact():
    """50 N on 2 cm2 of a pad 20 mm thick, linear, by the same rule; softer curves and less help let it in deeper."""
    curve = linear(400.0, poisson=0.37)
    radius = np.sqrt(200.0 / np.pi)
    ratio = float(constrained_ratio(0.37))
    stiffer = narrow_ratio(radius / 20.0, curve, Bounds(ratio, ratio, ratio)).value
    assert thumb_mm(curve, 20.0) == pytest.approx(50e3 / 200.0 / 400.0 / ratio / stiffer * 20.0, abs=0.05)
    assert thumb_mm(curve, 20.0, "high") < thumb_mm(curve, 20.0) < thumb_mm(curve, 20.0, "low")


@pytest.mark.parametrize("width", [0.2, 0.45, 1.0, 1.9, 3.5, 5.5])
@pytest.mark.parametrize("open_share", [0.0, 0.4])
def test_the_rule_by_the_page(width, open_share):
    """docs/models/contact.md, narrow contacts: half-space over columns, and how each fades with the width."""
    nu, ratio = 0.37, 1.769369
    eta = (1 - open_share) * 2 / np.pi / (1 - nu**2) / ratio / width
    near, far = max(1 - (width / 2) ** 4, 0), 1 - (width / 6) ** 4
    band = (1 - 1 / ratio) * min(1, 0.5 / width) * far
    free = max(1 - disc_ratio(width, nu, is_held=False) / ratio, band)
    found = narrow_ratio(width, linear(400.0, poisson=nu), Bounds(ratio, ratio, ratio), open_share)
    assert found.value == pytest.approx(np.sqrt(1 + (eta * near) ** 2), rel=1e-6)
    assert found.high == pytest.approx(1 + eta * far, rel=1e-6)
    low = max(1 - (1 - open_share) * band - open_share * free, eta * far)
    assert found.low == pytest.approx(min(low, found.value), rel=1e-6)
    solid = narrow_ratio(width, linear(400.0, poisson=0.48), Bounds(2.0, 1.5, 2.6), open_share)
    eta = (1 - open_share) * 2 / np.pi / (1 - 0.48**2) / 2.0 / width * far
    assert (solid.low, solid.value, solid.high) == pytest.approx((max(1, eta), 1 + eta, 1 + eta), rel=1e-6)
