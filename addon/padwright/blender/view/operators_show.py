"""Show a result as colors on the mesh, with a legend in words and numbers."""

from typing import Any

import bpy
from bpy.props import EnumProperty

from ...core.base.errors import InputError
from .. import reporting, state
from ..button import Button
from ..stage_work import StageWork

DISTANCE = "distance"
_SHOWN = {  # value: title, tooltip, attribute, unit, on which object
    "thickness": ("Pad Thickness", "How thick the pad is, in mm", "padwright_thickness", "mm", "pad"),
    "least": ("Least Thickness", "Where the pad is at its least, in mm", "padwright_thickness", "mm", "pad"),
    "pressure": ("Pressure", "Under the first load, in kPa", "padwright_pressure", "kPa", "pad"),
    "wished": ("Wished Stiffness", "What the zones ask of the walls, in kPa", "padwright_wished_kpa", "kPa", "pad"),
    "reached": ("Reached Stiffness", "What walls of these slopes give, in kPa", "padwright_reached_kpa", "kPa", "pad"),
    "firmness": ("Firmness", "Level, blended between zones", "padwright_firmness", "", "pad"),
    "mat": ("Pressure Mat", "What the mat showed, laid on the body side", "padwright_mat", "kPa", "body"),
    "mat_off": ("Predicted Less Mat", "Under the first load, in kPa", "padwright_mat_off", "kPa", "pad"),
    "depth": ("Imprint Depth", "How far the body sank into the clay, in mm", "padwright_imprint_depth", "mm", "body"),
}


def _around_zero(values: Any) -> dict[str, Any]:
    """Return a scale that runs as far below 0 as above it, but for what stands out."""
    import numpy as np

    most = float(np.percentile(np.abs(values[values != 0.0]), 98.0)) if values.any() else 1.0
    return {"low": -most, "high": most, "ramp": "two_way"}


class PADWRIGHT_OT_show_values(StageWork, bpy.types.Operator):
    """Color the mesh by a result, light for little and dark for much"""

    bl_label = "Show Values"
    stage = "alignment"  # for distances; all else is on the meshes
    keeps_refusals = False

    values: EnumProperty(
        name="Values",
        description="What to show",
        items=[
            *((key, title, tooltip) for key, (title, tooltip, *_) in _SHOWN.items()),
            (DISTANCE, "Distance to Base", "How far the impression stands off the base, in mm"),
        ],
    )

    @classmethod
    def missing(cls, context, part):
        is_there = part.pad is not None or state.done(part, "alignment") is not None
        return "" if is_there else "Align the scans or build the pad first"

    def invoke(self, context, event):
        """Work out distances step by step; all else is quick."""
        return super().invoke(context, event) if self.values == DISTANCE else self.execute(context)

    def steps(self, context):
        if self.values == DISTANCE:
            found = yield from super().steps(context)
            return found
        return None

    def finish(self, context, result):
        if self.values == DISTANCE:
            self.show_distance(context, result)
        else:
            self.show_attribute(context)

    def show_attribute(self, context):
        """Color an object by one of its attributes."""
        from .. import attributes
        from ..load import load_view
        from ..zones import firmness_view
        from . import value_colors

        part = context.scene.padwright
        title, _, name, unit, where = _SHOWN[self.values]
        obj = getattr(part, where)
        if obj is None:
            raise InputError(f"There is no {where} to show.", hint="Build the pad first.")
        values = attributes.read(obj.data, name)
        if values is None:
            raise InputError(f"There are no values of {self.values} yet.", hint="Do the stage that gives them first.")
        if self.values == "pressure":  # on one scale with that before tuning
            reporting.tell(self, load_view.show(context, self.values))
            return
        if self.values == "firmness":
            reporting.tell(self, firmness_view.show(context, values))
            return
        more: dict[str, Any] = {}
        if self.values in ("wished", "reached"):  # on one scale
            more = _to_wished(attributes.read(obj.data, _SHOWN["wished"][2]))
        if self.values == "mat_off":
            more = _around_zero(values)
        if self.values == "least":
            low, high = part.least_thickness_mm, float(values.max())
            more = {"low": low, "ramp": "least", "ticks": _from_least(low, high) if high > low else ()}
        reporting.tell(self, value_colors.show(context, obj, values, title=title, unit=unit, **more))

    def show_distance(self, context, result):
        """Color the impression scan by its distance to the base."""
        from ...core.base.scales import in_words, round_ticks
        from ...core.geometry.frames import moved
        from ...core.stages.alignment.distances import distances_to_base
        from .. import bridge, stage_memory
        from . import value_colors

        part = context.scene.padwright
        obj = part.impression
        if obj is None or result.alignment is None or result.impression is None:
            raise InputError("There is no impression to show.", hint="Choose or import the impression scan first.")
        for stage in ("scans", "alignment"):
            if stage in stage_memory.memory().worked_out or state.done(part, stage) is None:
                self.write_stage(context, result, stage)
        unit_mm = bridge.unit_mm(part, "impression")
        numbers = bridge.mesh_places(obj) * bridge.scan_factors(obj, context.scene, unit_mm)
        places = moved(result.alignment.matrix, numbers * unit_mm * result.impression.factor)
        found = distances_to_base(result.base.mesh, places, result.alignment)
        limit = found.limit_mm
        marks = round_ticks(-limit, limit, 4)
        said = [in_words(value, limit / 2) for value in marks]
        said[0], said[-1] = f"{said[0]} inside", f"{said[-1]} or more"
        words = value_colors.show(
            context, obj, found.values_mm, title="Distance to Base", unit="mm", low=-limit, high=limit, ramp="two_way",
            ticks=list(zip(marks, said, strict=True)),
        )  # fmt: skip
        reporting.tell(self, words, found.notes)


_OVER_WISH = 2.0  # times the firmest wish is the dark end: single places far beyond would pale all others


def _to_wished(wished):
    """Return the scale of stiffness: to twice the firmest wish, and what is firmer in its color."""
    from ...core.base.scales import in_words, round_step, round_ticks

    high = _OVER_WISH * float(wished.max())
    step = round_step(high)
    ticks = [(value, in_words(value, step)) for value in round_ticks(0.0, high)]
    ticks[-1] = (ticks[-1][0], f"{ticks[-1][1]} or more")
    return {"low": 0.0, "high": ticks[-1][0], "ticks": ticks}


def _from_least(low, high):
    """Return the ticks of a bar that begins at the least thickness: that, and round numbers clear of it."""
    from ...core.base.scales import in_words, round_step, round_ticks

    step = round_step(high - low)
    rounds = [value for value in round_ticks(low, high) if value - low > 0.5 * step]
    return [(low, f"{low:.3g} least"), *((value, in_words(value, step)) for value in rounds)]


class PADWRIGHT_OT_clear_colors(Button, bpy.types.Operator):
    """Take the colors away and show everything as it was before them"""

    bl_label = "Clear Colors"

    @classmethod
    def missing(cls, context, part):
        view = part.view
        is_there = view.is_colored or view.before
        return "" if is_there else "No values are shown as colors"

    def act(self, context, part):
        from . import value_colors

        count = value_colors.clear(context)
        reporting.tell(self, f"The colors are cleared; {count} objects look as before")
