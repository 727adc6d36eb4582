"""Lay the impression scan on the base scan, by itself or by picked pairs."""

import bpy
from bpy.props import EnumProperty

from .. import reporting, state
from ..button import Button
from ..properties_lists import SCAN_ITEMS
from ..stage_work import WRITERS, StageWork, lay_impression


class PADWRIGHT_OT_add_pair(Button, bpy.types.Operator):
    """Add a pair for a place that both scans show"""

    bl_label = "Add Point Pair"

    @classmethod
    def missing(cls, context, part):
        return state.missing_scans(part)

    def act(self, context, part):
        part.pairs.add()
        part.pair_index = len(part.pairs) - 1


class _OnPair(Button):
    """Works on the pair that the list shows as active."""

    @classmethod
    def missing(cls, context, part):
        return "" if state.row_at(part.pairs, part.pair_index) is not None else "Add a point pair first"


class PADWRIGHT_OT_remove_pair(_OnPair, bpy.types.Operator):
    """Remove the point pair"""

    bl_label = "Remove Point Pair"

    def act(self, context, part):
        state.remove_row(part, "pairs", "pair_index")


class PADWRIGHT_OT_set_pair_point(_OnPair, bpy.types.Operator):
    """Set the pair's point on one scan to the 3D cursor"""

    bl_label = "Set Point from 3D Cursor"
    bl_options = {"UNDO"}

    scan: EnumProperty(name="Scan", description="The scan it lies on", items=SCAN_ITEMS)

    def act(self, context, part):
        from ..scans import scan_places

        pair = part.pairs[part.pair_index]
        point, off_mm = scan_places.cursor_on_scan(context, self.scan)
        setattr(pair, self.scan, point)
        setattr(pair, f"has_{self.scan}", True)
        pair.is_fitted = False
        reporting.tell(self, f"Set; the 3D cursor is {off_mm:.2f} mm off the {self.scan} scan")


class PADWRIGHT_OT_align_scans(StageWork, bpy.types.Operator):
    """Lay the impression on the base: by the point pairs, or by itself when there are none"""

    bl_label = "Align Scans"
    stage = "alignment"


def _write_alignment(context, result):
    import numpy as np

    from ...core.stages.alignment.evidence import alignment_facts

    part = context.scene.padwright
    found = result.alignment
    if found is None or part.impression is None:
        return "There is no impression to align", ()
    lay_impression(context, result.to_part, found.matrix)
    complete = [pair for pair in part.pairs if pair.has_base and pair.has_impression]
    for pair, miss in zip(complete, found.pair_misses_mm, strict=True) if found.pair_misses_mm else ():
        pair.miss_mm, pair.is_fitted = float(miss), True
    # A scale that the scans contradict is always in sight, not among the notes that wait to be opened.
    off = [each for each in found.scale_implied if each.basis == "pairs" and each.contradicts]
    told = [each.note(max(np.ptp(result.base.mesh.bounds, axis=0))) for each in off[:1]]
    state.keep_facts(part, "alignment", [*told, *alignment_facts(found)])
    loose = f"; loose: {found.loosest}" if found.loosest else ""
    done = (
        f"The scans agree to {found.rms_mm:.2f} mm over the {100 * found.overlap:.0f} % of the impression that "
        f"shows the base{loose}"
    )
    return done, [note for note in found.notes if note not in told]


WRITERS["alignment"] = _write_alignment
