"""Which places of a pad bear: not the rim, not what has no pad below it, not where the body did not press."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from tests.support.patches import avalle
from tests.support.slabs import reading_of, sheet

from padwright.core.base.progress import drain
from padwright.core.geometry.pad_length import edge_distance
from padwright.core.stages.load.bearing import contact_patch
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.pad.pad import PadSettings, build_pad
from padwright.core.stages.pad.relief import PlacedRelief

DOWN = (0.0, 0.0, -1.0)
HALF = (50.0, 40.0)


def clay(x, y):
    """15 mm of clay that the body pressed down to its very edge, where it drops within 2 mm."""
    edge = np.minimum(38.0 - np.abs(x), 28.0 - np.abs(y))
    return np.clip(edge / 2.0 + 0.5, 0.0, 1.0) * 15.0


@pytest.fixture(scope="module")
def part() -> SimpleNamespace:
    base, impression = sheet(lambda x, y: 0 * x, HALF, 1.2), sheet(clay, HALF, 1.2)
    reading = reading_of(base, impression, DOWN)
    reading.is_contact = clay(*impression.vertices[:, :2].T) > 1.0
    reading.is_wall = np.zeros(len(reading.is_contact), dtype=bool)
    reading.imprint_depth = np.where(reading.is_contact, 2.0, 0.0)
    ring = np.stack([6.0 * np.cos(np.arange(48) / 7.64), 6.0 * np.sin(np.arange(48) / 7.64), np.full(48, 15.0)], axis=1)
    settings = PadSettings(reliefs=[PlacedRelief("opening", ring, edge_radius_mm=1.0)])
    pad = drain(build_pad(base, impression, reading, settings))
    zones = SimpleNamespace(weights=np.ones((len(pad.side), 1)))
    return SimpleNamespace(
        pad=pad,
        zones=zones,
        reading=reading,
        aligned=impression,
        body=None,
        mat=None,
        job=job(settings.rim_radius_mm),
    )


def job(rim_mm: float) -> SimpleNamespace:
    how = SimpleNamespace(contact_depth_mm=1.0, pressed_with_n=424.0, clay_pressure="between")
    return SimpleNamespace(pad=SimpleNamespace(rim_radius_mm=rim_mm), impression=how)


def test_the_rim_bears_nothing_and_is_no_reason_to_refuse(part):
    patch, notes = contact_patch(part, [0])
    assert notes == ()
    x, y, _ = patch.position.T
    assert (np.minimum(38.0 - np.abs(x), 28.0 - np.abs(y)) > 1.5).all()
    assert (np.hypot(x, y) > 6.0 + 1.5).all()  # an opening has a rim too
    assert patch.thickness_mm.min() > 13.0
    assert patch.gaps.max() < 0.1
    result = check_load(LoadCase(force_n=424.0), patch, [avalle(8.0)])
    # Everywhere 14.6 mm of one fill under a flat body: one pressure, but for the averaged edge.
    assert result.evenness.value < 1.1


def test_without_an_impression_all_but_the_rim_counts(part):
    pad = part.pad
    whole, notes = contact_patch(SimpleNamespace(**{**vars(part), "reading": None}), [0])
    assert "whole body side" in notes[0]
    assert whole.area_mm2.sum() == pytest.approx(contact_patch(part, [0])[0].area_mm2.sum(), rel=0.02)
    far = edge_distance(pad.mesh, pad.is_through, pad.press_direction)
    x, y, _ = pad.mesh.vertices.T
    where = pad.is_through & (np.abs(x) < 30) & (np.abs(y) > 18)
    # The outline lies where the clay is thick enough, half a millimeter about 38 by 28, known to an edge's length.
    assert np.abs(far - (28.0 - np.abs(y)))[where].max() < 1.5


def test_contact_that_is_nothing_but_rim_is_kept(part):
    narrow = SimpleNamespace(**{**vars(part), "job": job(40.0)})
    assert contact_patch(narrow, [0])[0].area_mm2.sum() > 3000.0


def test_an_imprint_that_is_nothing_but_rim_is_kept_beside_a_body_seen_beyond_it(part):
    """The body pressed only a band of 6 mm along the edge; its scan, a plate on the pad, is seen all over."""
    x, y, _ = part.aligned.vertices.T
    is_band = part.reading.is_contact & (np.minimum(38.0 - np.abs(x), 28.0 - np.abs(y)) < 6.0)
    reading = SimpleNamespace(
        **{**vars(part.reading), "is_contact": is_band, "imprint_depth": np.where(is_band, 2.0, 0.0)}
    )
    body = SimpleNamespace(mesh=sheet(lambda x, y: 0 * x + 15.0, HALF, 2.0))
    patch, _ = contact_patch(SimpleNamespace(**{**vars(part), "reading": reading, "body": body, "job": job(9.0)}), [0])
    assert np.allclose(patch.clay_kpa @ patch.area_mm2, 424e3, rtol=1e-9)
    assert np.minimum(38.0 - np.abs(patch.position[:, 0]), 28.0 - np.abs(patch.position[:, 1])).min() < 2.0
