"""The examples of folded walls: each family that is pressed from above has one, it runs, and it is soft where asked."""

from __future__ import annotations

import numpy as np
import pytest

from make_example_scans import EXAMPLES, write_example
from padwright.core.base.progress import drain
from padwright.core.job.cards import load_family
from padwright.core.job.read import read_job
from padwright.core.job.schema import FAMILIES
from padwright.core.run.memory import StageMemory
from padwright.core.stages.folds.layout import FoldLayout
from padwright.core.stages.shape.work import FoldedPart

TRIANGLES = 9_000
LEAST_GIVE_MM = {"insole": 0.75, "liner_pad": 0.9, "nose_pad": 0.5}
"""Mean give where the body presses. Measured with scans of 30,000 triangles: 1.0, 1.3, 0.8 mm, by settings 0.5, 0.5 and
0.2; a coarse scan of a thin part is off by some tenths."""

WHOLE = "nose_pad"
"""The one that is made to the end; the others are built as the demo is, and take longer."""


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_is_as_soft_as_it_is_told_to_be(name, tmp_path):
    job = write_example(name, tmp_path, TRIANGLES)
    part = drain(StageMemory().reach(read_job(job), tmp_path, "shape" if name == WHOLE else "load"))
    assert part.job.part.family == name and part.job.fill.kind == "folds"
    _, load = part.firmness.loads[0]
    give, layout = load.mean_sinkage_mm, part.of(FoldLayout)
    assert give.value > LEAST_GIVE_MM[name]
    assert give.value < np.median(layout.height_mm[layout.is_core])  # not pressed shut
    if name == WHOLE:
        made = part.of(FoldedPart)
        # Two skins and the least core: what a pad of glasses, 3 mm thick, has no room for.
        least = layout.body_skin_mm + layout.base_skin_mm + part.job.fill.least_core_mm
        assert float(np.nanmax(part.pad.thickness)) > least > 3.0
        assert made.slices.errors == ()
        assert made.solid.mesh.is_closed


def test_each_family_that_is_pressed_from_above_has_an_example():
    pressed = {each for each in FAMILIES if not load_family(each).wraps}
    assert {*EXAMPLES, "seat_pad"} == pressed  # the seat pad's is the second demo
