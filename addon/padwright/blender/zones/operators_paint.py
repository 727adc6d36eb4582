"""The artist's paint in a zone: to the brush and back, begun from data, smoothed, mirrored, dropped."""

import bpy
from bpy.props import EnumProperty, FloatProperty

from ...core.base.errors import InputError
from .. import reporting, state
from ..button import Button
from ..stage_memory import memory
from ..stage_work import StageWork, part_pose
from .zone_needs import ask, is_painted, missing_zone


class _OnPaint(Button):
    """Needs the active zone and the pad."""

    @classmethod
    def missing(cls, context, part):
        return missing_zone(part, needs_pad=True)


class PADWRIGHT_OT_paint_zone(_OnPaint, bpy.types.Operator):
    """Paint the zone on the pad with the modeller's own weight brushes"""

    bl_label = "Paint Zone"

    def act(self, context, part):
        from . import painting

        pad, zone = part.pad, part.zones[part.zone_index]
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        state.select_only(context, pad)
        painting.note_painted(part)
        group = painting.group_of(part, part.zone_index)
        pad.vertex_groups.active_index = group.index
        bpy.ops.object.mode_set(mode="WEIGHT_PAINT")
        done = f"{zone.name} is under the brush: from 0.5 on a place belongs to it"
        reporting.tell(self, done, self._doubts(context, group))

    def _doubts(self, context, group):
        tools = context.scene.tool_settings
        if group.lock_weight:
            yield f'The vertex group "{group.name}" is locked: unlock it to paint'
        if tools.use_auto_normalize:
            yield "Auto Normalize is on: a stroke in one zone changes the others, and they count as painted then"
        if tools.use_multipaint:
            yield "Multi-Paint is on: a stroke may change several zones at once"


class PADWRIGHT_OT_end_painting(Button, bpy.types.Operator):
    """Leave the brush and note which zones are painted"""

    bl_label = "Done Painting"
    modes = set()

    @classmethod
    def missing(cls, context, part):
        return "" if context.mode == "PAINT_WEIGHT" else "No zone is under the brush"

    def act(self, context, part):
        from . import painting

        bpy.ops.object.mode_set(mode="OBJECT")
        names = [part.zones[number].name for number in painting.note_painted(part)]
        said = f"Painted: {', '.join(names)}; now plan the zones" if names else "No zone is painted yet"
        reporting.tell(self, said)


class PADWRIGHT_OT_drop_paint(_OnPaint, bpy.types.Operator):
    """Drop what you painted in the zone, so that the data gives it again"""

    bl_label = "Drop Paint"

    def invoke(self, context, event):
        """Ask first: paint is work."""
        return ask(self, context, event, "What you painted in this zone goes")

    def act(self, context, part):
        from . import painting

        zone = part.zones[part.zone_index]
        painting.tie(part)
        painting.drop_group(part, zone)
        painting.note_painted(part)
        way = "Paint it anew" if zone.source == "paint" else "Plan the zones to take it from data"
        reporting.tell(self, f"The paint of {zone.name} is gone. {way}")


class _OnPad(_OnPaint, StageWork):
    """Works on the paint of the active zone with the pad as the core knows it, and changes no other stage."""

    stage = "pad"
    keeps_refusals = False
    needs_data = False

    def steps(self, context):
        """Bring the part to its pad, which is remembered as a rule."""
        from .. import scene

        part = context.scene.padwright
        behind = state.stale(part, "pad")
        if behind:
            raise InputError(f"{behind} the pad was built.", hint="Build the pad first.")
        remembered, folder = memory(), scene.work_folder()
        job = scene.read_with_zone(context, folder, part.zone_index if self.needs_data else None)
        return remembered.reach(job, folder, "pad")

    def finish(self, context, result):
        from . import painting

        part = context.scene.padwright
        painting.check_pad(part, len(result.pad.mesh.vertices))
        reporting.tell(self, *self.change(context, part, result))

    def change(self, context, part, result):
        """Change the paint and return (sentence, notes)."""
        raise NotImplementedError


class PADWRIGHT_OT_start_from_data(_OnPad, bpy.types.Operator):
    """Fill the zone's paint with what its data gives, to go on from there with the brush"""

    bl_label = "Start from Data"
    needs_data = True

    @classmethod
    def missing(cls, context, part):
        found = super().missing(context, part)
        if not found and part.zones[part.zone_index].source in ("paint", "rest"):
            found = "Choose data for the zone first: load centers, depth, an outline or color marks"
        return found

    def invoke(self, context, event):
        part = context.scene.padwright
        if is_painted(part, part.zone_index):
            return ask(self, context, event, "What you painted in this zone is replaced by its data")
        return super().invoke(context, event)

    def change(self, context, part, result):
        from ...core.run.paint_starts import zone_data
        from .. import scene
        from . import painting

        zone = part.zones[part.zone_index]
        painting.paint(part, part.zone_index, zone_data(result, 0, scene.work_folder()))
        return f"{zone.name} is painted as its data gives it; go on with the brush, or plan the zones", ()


class PADWRIGHT_OT_smooth_paint(_OnPad, bpy.types.Operator):
    """Smooth the zone's paint over the body side: ragged strokes close, borders round off"""

    bl_label = "Smooth Paint"

    width_mm: FloatProperty(
        name="Width (mm)", description="Over which paint is smoothed, in mm", min=0.1, max=50.0, default=4.0
    )

    def change(self, context, part, result):
        from ...core.stages.zones.paint import smoothed_share
        from . import painting

        number = part.zone_index
        share = _shown(part, number)
        painting.paint(part, number, smoothed_share(result.pad, share, self.width_mm))
        return f"The paint of {part.zones[number].name} is smoothed over {self.width_mm:.1f} mm", ()


class PADWRIGHT_OT_mirror_zone(_OnPad, bpy.types.Operator):
    """Mirror the zone's paint, or its outline, over the mid-plane of the base"""

    bl_label = "Mirror Zone"

    way: EnumProperty(
        name="Way",
        description="What is kept and what is made from it",
        items=[
            ("fuller", "From Fuller Side", "The side with more of the zone is kept, the other becomes its mirror"),
            ("positive", "From Plus Side", "The side along the base scan's axis is kept"),
            ("negative", "From Minus Side", "The side against the base scan's axis is kept"),
            ("apart", "As Own Zone", "The zone stays, and a new zone is its mirror on the other side"),
        ],
    )
    plane: EnumProperty(
        name="Across",
        description="The plane to mirror in",
        items=[
            ("found", "Mid-Plane", "The plane in which the base mirrors itself"),
            ("x", "Base X", "Across the base scan's X axis, through its middle"),
            ("y", "Base Y", "Across the base scan's Y axis, through its middle"),
            ("z", "Base Z", "Across the base scan's Z axis, through its middle"),
        ],
    )

    def invoke(self, context, event):
        part = context.scene.padwright
        if self.way != "apart" and is_painted(part, part.zone_index):
            return ask(self, context, event, "Paint on the other side is replaced, if there is any")
        return super().invoke(context, event)

    def change(self, context, part, result):
        from ...core.run.paint_starts import mirror_plane, side_name

        number = part.zone_index
        zone = part.zones[number]
        plane = mirror_plane(result, self.plane)
        across = f"{side_name(result, plane)}, {plane.rms_mm:.2f} mm off" if self.plane == "found" else self.plane
        if zone.source == "outline" and zone.curve is not None and not is_painted(part, number):
            return self._mirror_curve(context, part, result, plane), ()
        return self._mirror_paint(part, result, plane, across)

    def _mirror_paint(self, part, result, plane, across):
        from ...core.stages.zones.paint import mirrored_share
        from . import painting

        number = part.zone_index
        found = mirrored_share(result.pad, _shown(part, number), plane, self.way)
        name = part.zones[number].name
        if self.way == "apart":
            number = _add_like(part, number, painting.free_name(part, f"{name} mirrored"))
        painting.paint(part, number, found.share)
        notes: tuple[str, ...] = ()
        if found.off_cm2 > 0.05:
            notes = (f"{found.off_cm2:.1f} cm2 of {name} have no place on the other side: the pad ends before it",)
        if self.way == "apart":
            return f"{part.zones[number].name} is {name} mirrored across {across}", notes
        side = "plus" if found.is_from_positive else "minus"
        return f"{name} is mirrored from the {side} side across {across}: {found.changed_cm2:.1f} cm2 changed", notes

    def _mirror_curve(self, context, part, result, plane):
        from ..pad import outlines
        from . import painting

        number = part.zone_index
        zone = part.zones[number]
        curve = outlines.mirrored_curve(context, zone.curve, plane, part_pose(context, result))
        name = zone.name
        made = part.zones[_add_like(part, number, painting.free_name(part, f"{name} mirrored"))]
        made.source, made.curve = "outline", curve
        return f"{made.name} is a zone of its own, inside the mirrored outline of {name}; now plan the zones"


def _shown(part, number):
    """Return what a zone's vertex group holds, painted or from data."""
    from . import painting

    share = painting.shares(part).get(number)
    if share is None or not share.any():
        name = part.zones[number].name
        raise InputError(f"{name} has no paint and no planned area.", hint="Paint it, or plan the zones first.")
    return share


def _add_like(part, number, name):
    """Add a zone of the same firmness below another and return its number."""
    names = ("level", "stiffness_times", "is_relieved")
    values = [getattr(part.zones[number], each) for each in names]
    made = part.zones.add()
    made.name = name
    for each, value in zip(names, values, strict=True):
        setattr(made, each, value)
    part.zones.move(len(part.zones) - 1, number + 1)
    part.zone_index = number + 1
    return number + 1
