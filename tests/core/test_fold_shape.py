"""The printed solid of a pad with folded walls: closed, one piece, walls as wide and as steep as asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from tests.support.pad_shapes import box_pad, seat_pad, sleeve_pad
from tests.support.solids import to_manifold

from padwright.core.base.errors import InputError
from padwright.core.base.progress import drain
from padwright.core.stages.folds.layout import FoldLayout, FoldWishes, lay_out
from padwright.core.stages.shape.build import FoldedSolid, build_shape

WISHES = FoldWishes(width_mm=1.35, pitch_mm=5.8, body_skin_mm=1.2, base_skin_mm=1.2)


@dataclass(frozen=True)
class Made:
    pad: Any
    layout: FoldLayout
    solid: FoldedSolid

    @property
    def flat(self) -> Any:
        return to_manifold(self.solid.mesh.transformed(self.layout.to_plane))


def made(pad: Any, wishes: FoldWishes = WISHES, slope: float = 30.0) -> Made:
    layout = drain(lay_out(pad, wishes))
    return Made(pad, layout, drain(build_shape(pad, layout, np.full(layout.height_mm.shape, slope))))


@pytest.fixture(scope="module")
def seat() -> Made:
    return made(seat_pad(hole_mm=14.0))


def test_the_solid_is_closed_one_piece_and_lighter_than_the_pad(seat: Made) -> None:
    assert seat.solid.mesh.is_closed
    assert len(seat.flat.decompose()) == 1
    # Skins are a tenth to a fifth of these pads, walls a quarter of the rest.
    assert 0.25 < seat.solid.volume_cm3 * 1000.0 / seat.pad.mesh.volume < 0.65


def test_a_part_that_wraps_around_is_refused() -> None:
    with pytest.raises(InputError, match="no side to lie on"):
        made(sleeve_pad())


def test_a_pad_too_thin_for_walls_is_refused() -> None:
    with pytest.raises(InputError, match="folded walls need 4 mm"):
        made(box_pad((60.0, 40.0, 5.0)))
