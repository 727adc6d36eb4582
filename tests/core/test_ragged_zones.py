"""Zones painted raggedly: they are cut into sound regions all the same, or told by name with what to do."""

import re

import numpy as np
import pytest

from padwright.core.base.errors import InputError, SolidError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.regions import settle_labels as settling
from padwright.core.stages.regions.easing import EASINGS, eased, moved
from padwright.core.stages.regions.regions import cut_regions
from padwright.core.stages.zones.zone_sources import Rest, Weights
from padwright.core.stages.zones.zones import ZonePlan, ZoneRequest, plan_zones
from support.pad_shapes import ShapedPad, seat_pad, sleeve_pad

SEAT, SLEEVE = seat_pad(step=2.0), sleeve_pad()


def squares(pad: ShapedPad, size: float, axes: int = 3) -> np.ndarray:
    return (np.floor(pad.mesh.vertices[:, :axes] / size).sum(axis=1) % 2 == 0).astype(float)


def planned(pad: ShapedPad, weights: np.ndarray) -> ZonePlan:
    painted = ZoneRequest("painted", 4.0, Weights(pad.mesh.vertices, weights))
    return plan_zones(pad, None, [painted, ZoneRequest("rest", 2.0, Rest())])


def plane(size: int) -> tuple[np.ndarray, np.ndarray]:
    """Return vertices and faces of a square of millimeter squares cut in two."""
    x, y = np.meshgrid(np.arange(size + 1.0), np.arange(size + 1.0))
    corner = (np.arange(size)[:, None] * (size + 1) + np.arange(size)).ravel()
    first = np.stack([corner, corner + 1, corner + size + 2], axis=1)
    second = np.stack([corner, corner + size + 2, corner + size + 1], axis=1)
    return np.stack([x.ravel(), y.ravel(), 0.0 * x.ravel()], axis=1), np.concatenate([first, second])


# The first two made walls that touch themselves, the third a piece turned inside out.
@pytest.mark.parametrize(
    ("pad", "weights"),
    [
        (SEAT, squares(SEAT, 6.0)),
        (SEAT, squares(SEAT, 10.0, axes=2)),
        (SLEEVE, squares(SLEEVE, 6.0)),
        (SEAT, (np.arange(len(SEAT.mesh.vertices)) % 2).astype(float)),
        (SLEEVE, np.random.default_rng(3).random(len(SLEEVE.mesh.vertices))),
    ],
    ids=["squares", "wide squares", "squares on a sleeve", "every second vertex", "noise on a sleeve"],
)
def test_ragged_paint_is_cut_into_solids_that_add_up(pad, weights):
    found = drain(cut_regions(pad, planned(pad, weights), least_width_mm=1.0))
    assert all(region.mesh.is_closed for region in found.regions)
    # the walls cancel in the sum: only rounding is left
    assert sum(region.mesh.volume for region in found.regions) == pytest.approx(pad.mesh.volume, rel=1e-9)


@pytest.mark.parametrize("pad", [SEAT, SLEEVE], ids=["seat", "sleeve"])
def test_a_border_that_no_push_mends_is_smoothed_and_told_with_how_far_it_moved(monkeypatch, pad):
    monkeypatch.setattr(settling, "_ATTEMPTS", 1)
    plan = planned(pad, squares(pad, 6.0))
    found = drain(cut_regions(pad, plan, least_width_mm=1.0))
    told = [note for note in found.notes if "was smoothed at" in note]
    assert len(told) == 1
    assert '"painted" and "rest"' in told[0]
    assert sum(region.mesh.volume for region in found.regions) == pytest.approx(pad.mesh.volume, rel=1e-9)
    # nothing is smoothed away: both zones keep more than half of their part, as the rule says
    whole = [region.volume_cm3 for region in found.regions if region.zone == 0]
    assert sum(whole) > 0.5 * 0.5 * pad.mesh.volume / 1000.0
    shift = float(re.search(r"moved by up to (\d+\.\d) mm", told[0])[1])
    # the third round, which does here, reaches so far from a fault; edges are up to 2 mm, tidying adds one
    assert 0.0 < shift < 2.0 * (EASINGS[-2][1] + 1.0)


def test_smoothing_moves_a_border_near_the_place_only():
    flat = TriMesh(*plane(60))
    x, y = flat.vertices[:, 0], flat.vertices[:, 1]
    prongs = 1.0 / (1.0 + np.exp(-(y - 30.0 - 5.0 * np.sin(x))))
    shares = np.stack([prongs, 1.0 - prongs], axis=1)
    after = eased(flat, shares, [np.array([15.0, 30.0, 0.0])], 1.0, 0)
    far = np.hypot(x - 15.0, y - 30.0) > 6.0
    assert np.array_equal(after[far], shares[far])
    shift, vertex = moved(flat, shares, after)
    # prongs of 5 mm either way, flattened
    assert 2.0 < shift <= 10.0
    assert np.hypot(x[vertex] - 15.0, y[vertex] - 30.0) < 7.0


def test_what_cannot_be_settled_names_the_zones_the_place_and_the_cure(monkeypatch):
    monkeypatch.setattr(settling, "_ATTEMPTS", 1)
    monkeypatch.setattr(settling, "EASINGS", ())
    with pytest.raises(SolidError, match=r'The border of "painted" and "rest" is too ragged .* near \(') as caught:
        drain(cut_regions(SEAT, planned(SEAT, squares(SEAT, 6.0)), least_width_mm=1.0))
    assert caught.value.hint.startswith("Smooth the paint")


def test_paint_too_faint_to_count_is_said_with_its_weight():
    with pytest.raises(InputError, match=r'"painted" covers nothing .* its largest weight is 0\.49') as caught:
        planned(SEAT, np.full(len(SEAT.mesh.vertices), 0.49))
    assert "0.5" in caught.value.hint


def test_paint_over_everything_leaves_no_rest_and_says_so():
    plan = planned(SEAT, np.full(len(SEAT.mesh.vertices), 0.5))
    assert [zone.name for zone in plan.zones] == ["painted"]
    assert 'Nothing is left for the zone "rest"' in plan.notes[-1]
