"""Where labels and the color bar go."""

from __future__ import annotations

import numpy as np
import pytest

FREE = (50.0, 0.0, 700.0, 640.0)


@pytest.fixture
def layout(inside):
    return inside("blender.view.overlay_layout")


def test_labels_never_lie_over_each_other_nor_outside(layout):
    random = np.random.default_rng(3)
    wished = [(x, y, x + w, y + 18) for x, y, w in random.uniform((60, 10, 20), (600, 600, 200), (40, 3))]
    taken = [(500.0, 100.0, 690.0, 300.0)]
    found = [box for box in layout.arrange(wished, FREE, taken) if box is not None]
    assert len(found) > 30
    for number, box in enumerate(found):
        assert box[0] >= 50 and box[2] <= 700 and box[1] >= 0 and box[3] <= 640
        assert not any(layout.overlap(box, other) for other in [*found[:number], *taken])


def test_a_label_keeps_its_wish_where_it_can_and_one_far_away_is_left_out(layout):
    assert layout.arrange([(100.0, 100.0, 180.0, 118.0)], FREE) == [(100.0, 100.0, 180.0, 118.0)]
    assert layout.arrange([(900.0, 100.0, 980.0, 118.0), (100.0, -200.0, 180.0, -182.0)], FREE) == [None, None]
    assert layout.arrange([(690.0, 100.0, 770.0, 118.0)], FREE) == [(620.0, 100.0, 700.0, 118.0)]


@pytest.mark.parametrize("height", [640.0, 420.0, 300.0, 200.0, 130.0, 60.0])
@pytest.mark.parametrize("scale", [1.0, 2.0])
def test_the_bar_fits_or_is_left_out(layout, height, scale):
    free = (50.0, 0.0, 700.0, height)
    gizmos = (700 - 90 * scale, max(0.0, height - 300 * scale), 700.0, height)
    places = layout.bar_places(free, gizmos, scale, 90 * scale, 30 * scale, 15 * scale)
    if places is None:
        assert height < 180 * scale
        return
    assert not layout.overlap(places.plate, gizmos)
    for inner in (places.plate, places.bar):
        assert inner[0] >= 50 and inner[1] >= 0 and inner[2] <= 700 and inner[3] <= height
    assert places.bar[3] - places.bar[1] >= 60 * scale
    assert places.title[1] >= places.bar[3] and places.title[1] + 15 * scale <= places.plate[3]
