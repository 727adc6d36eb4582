"""Pick check lengths and point pairs by clicking on the scans."""

import math

import bpy
from bpy.props import EnumProperty, FloatProperty, FloatVectorProperty, StringProperty

from ...core.base.errors import InputError
from ...core.base.text import counted
from .. import reporting, state
from ..button import Button
from ..properties_lists import SCAN_ITEMS
from . import pick_session
from .pick_clicks import Picks

_ONCE = {"SKIP_SAVE"}  # each pick starts anew


class PADWRIGHT_OT_pick_length(Picks, Button, bpy.types.Operator):
    """Click the two ends of a length that you measured by hand"""

    bl_label = "Pick Check Length"
    bl_options = {"UNDO"}
    modes = {"OBJECT"}

    scan: EnumProperty(name="Scan", description="The scan its two ends lie on", items=SCAN_ITEMS)
    start: FloatVectorProperty(
        name="From", description="One end, in the scan's own numbers", precision=4, options=_ONCE
    )
    end: FloatVectorProperty(
        name="To", description="The other end, in the scan's own numbers", precision=4, options=_ONCE
    )
    length_name: StringProperty(name="Name", description="What was measured", options=_ONCE)
    measured_mm: FloatProperty(
        name="By Hand (mm)",
        description="Length by caliper or tape, in mm; 0 leaves it as it is",
        min=0.0,
        precision=2,
        options=_ONCE,
    )

    @classmethod
    def missing(cls, context, part):
        is_there = part.base is not None or part.impression is not None
        return "" if is_there else "Choose or import the base scan first"

    def session(self, context):
        return pick_session.Session(pick_session.length_clicks(self.scan), False, "length")

    def keep(self, context, places):
        self.start, self.end = (place.numbers for place in places)
        return self.execute(context)

    def act(self, context, part):
        from .. import bridge

        if getattr(part, self.scan) is None:
            raise InputError(f"There is no {self.scan} scan.", hint="Import one, or choose an object.")
        long = math.dist(self.start, self.end) * bridge.unit_mm(part, self.scan)
        if long == 0.0:
            raise InputError("Both ends are the same place.", hint="Pick two different places.")
        length = _without(part.lengths, part.length_index, lambda each: tuple(each.start) == tuple(each.end))
        if length is None:
            length = part.lengths.add()
            length.name = f"length {len(part.lengths)}"
            part.length_index = len(part.lengths) - 1
        length.name = self.length_name = self.length_name or length.name
        length.scan, length.start, length.end = self.scan, self.start, self.end
        length.is_fitted = False
        if self.measured_mm > 0.0:
            length.measured_mm = self.measured_mm
        say = "" if length.measured_mm > 0.0 else "; type its length by hand"
        reporting.tell(self, f"{length.name} is {long:.1f} mm on the {self.scan} scan as it was scanned{say}")


class PADWRIGHT_OT_pick_pairs(Picks, Button, bpy.types.Operator):
    """Click the same places on both scans in turn, three or more; Enter keeps them"""

    bl_label = "Pick Point Pairs"
    bl_options = {"UNDO"}
    modes = {"OBJECT"}

    base_point: FloatVectorProperty(
        name="On the Base", description="In the base scan's own numbers", precision=4, options=_ONCE
    )
    impression_point: FloatVectorProperty(
        name="On the Impression", description="In the impression scan's own numbers", precision=4, options=_ONCE
    )

    @classmethod
    def missing(cls, context, part):
        return state.missing_scans(part)

    def session(self, context):
        pairs = context.scene.padwright.pairs
        first = 1 + sum(not _is_empty(each) for each in pairs)
        return pick_session.Session(pick_session.PAIR_CLICKS, True, "pair", first)

    def keep(self, context, places):
        self.base_point, self.impression_point = (place.numbers for place in places)
        return self.execute(context)

    def act(self, context, part):
        for name in ("base_point", "impression_point"):
            if not self.properties.is_property_set(name):
                raise InputError("The pair's points are not given.", hint="Press the button and click on the scans.")
        pair = _without(part.pairs, part.pair_index, _is_empty)
        if pair is None:
            pair = part.pairs.add()
            part.pair_index = len(part.pairs) - 1
        pair.base, pair.impression = self.base_point, self.impression_point
        pair.has_base = pair.has_impression = True
        pair.is_fitted = False
        complete = sum(each.has_base and each.has_impression for each in part.pairs)
        say = "; now align the scans" if complete >= 3 else f"; {counted(3 - complete, 'more pair')} to go"
        reporting.tell(self, f"{counted(complete, 'pair')} set{say}")


def _is_empty(pair):
    return not (pair.has_base or pair.has_impression)


def _without(rows, index, is_empty):
    """Return the active row when it is still empty, or None."""
    row = state.row_at(rows, index)
    return row if row is not None and is_empty(row) else None
