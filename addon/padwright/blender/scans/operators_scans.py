"""Scans into the scene, their size by check lengths, and the first stage: read, clean and scale."""

from pathlib import Path

import bpy
from bpy.props import EnumProperty, StringProperty
from bpy_extras.io_utils import ImportHelper

from ...core.base.errors import InputError
from ...core.base.text import counted
from .. import reporting, state
from ..properties import UNIT_ITEMS
from ..properties_lists import SCAN_ITEMS
from ..stage_work import WRITERS, StageWork

_UNIT_WORDS = {unit: title.lower() for unit, title, _ in UNIT_ITEMS}
_OBJECT_UNITS = [("scene", "As the Scene", "The object has the size the scene shows"), *UNIT_ITEMS]


def _needs_start(cls, context):
    part = context.scene.padwright
    if context.mode != "OBJECT":
        return reporting.allowed(cls, "Go back to Object Mode first")
    return reporting.allowed(cls, "" if part.is_started else "Start a part first")


class PADWRIGHT_OT_import_scan(bpy.types.Operator, ImportHelper):
    """Read a scan file of any format that is known, check it, and let the part use it"""

    bl_idname = "padwright.import_scan"
    bl_label = "Import Scan"
    bl_options = {"REGISTER", "UNDO"}

    scan: EnumProperty(name="Scan", description="What the scan shows", items=SCAN_ITEMS)
    filter_glob: StringProperty(options={"HIDDEN"})

    def invoke(self, context, event):
        """Show the files of all formats that are read."""
        from ...core.stages.scans.known_formats import endings

        self.filter_glob = ";".join(f"*.{each}" for each in endings())
        return ImportHelper.invoke(self, context, event)

    @classmethod
    def poll(cls, context):
        """Need a part."""
        return _needs_start(cls, context)

    @reporting.told
    def execute(self, context):
        """Read, make an object, use it."""
        from ..view import viewports
        from . import scan_objects, sizes

        path = Path(self.filepath)
        read = scan_objects.read_file(path)
        unit = getattr(context.scene.padwright, f"{self.scan}_unit")
        notes = scan_objects.bring_in(context, read, self.scan, unit, path.stem)
        part = context.scene.padwright
        state.forget(part, "scans")
        viewports.frame(context, [obj for obj in (part.base, part.impression) if obj is not None])
        size, doubt = sizes.size_mm(part, self.scan), sizes.doubt(part, self.scan)
        assert size is not None  # the scan was brought in just now
        said = f"{path.name}, the {self.scan} scan, has {len(read.mesh.faces)} triangles"
        said += f"; read in {_UNIT_WORDS[getattr(part, f'{self.scan}_unit')]} it is {sizes.in_words(size)}"
        reporting.tell(self, said, [*((doubt,) if doubt else ()), *notes])
        return {"FINISHED"}


class PADWRIGHT_OT_use_object(bpy.types.Operator):
    """Let the part use the active object as a scan"""

    bl_idname = "padwright.use_object"
    bl_label = "Use Active Object"
    bl_options = {"UNDO"}

    scan: EnumProperty(name="Scan", description="What the object shows", items=SCAN_ITEMS)
    unit: EnumProperty(
        name="Unit", description="What one unit of the object's coordinates is", items=_OBJECT_UNITS, default="scene"
    )

    @classmethod
    def poll(cls, context):
        """Need a part and a mesh."""
        if not _needs_start(cls, context):
            return False
        obj = context.active_object
        is_mesh = obj is not None and obj.type == "MESH"
        return reporting.allowed(cls, state.unusable(obj) if is_mesh else "Select a mesh object first")

    @reporting.told
    def execute(self, context):
        """Use it."""
        from . import scan_objects

        obj = context.active_object
        if not obj.data.polygons:
            raise InputError(f'"{obj.name}" has no face.', hint="Choose another object.")
        scan_objects.adopt_object(context, obj, self.scan, None if self.unit == "scene" else self.unit)
        state.forget(context.scene.padwright, "scans")
        reporting.tell(self, f"{obj.name} with {len(obj.data.polygons)} faces is the {self.scan} scan")
        return {"FINISHED"}


class PADWRIGHT_OT_add_length(bpy.types.Operator):
    """Add a check length; two selected vertices of a scan give its ends"""

    bl_idname = "padwright.add_length"
    bl_label = "Add Check Length"
    bl_options = {"REGISTER", "UNDO"}
    leaves_edit_mode = True

    @classmethod
    def poll(cls, context):
        """Need a base scan."""
        return reporting.allowed(cls, state.missing_base(context.scene.padwright))

    @reporting.told
    def execute(self, context):
        """Add it."""
        from . import scan_places

        part = context.scene.padwright
        found = scan_places.two_selected(context)
        reporting.leave_edit_mode(context)
        length = part.lengths.add()
        length.name = f"length {len(part.lengths)}"
        if found is not None:
            length.scan, length.start, length.end = found
        part.length_index = len(part.lengths) - 1
        reporting.tell(
            self,
            "Added with the two selected vertices; type its length by hand"
            if found
            else "Added; pick its ends on a scan and type its length by hand",
        )
        return {"FINISHED"}


class _OnLength:
    """Works on the check length that the list shows as active."""

    @classmethod
    def poll(cls, context):
        """Need a check length."""
        part = context.scene.padwright
        is_there = 0 <= part.length_index < len(part.lengths)
        return reporting.allowed(cls, "" if is_there else "Add a check length first")


class PADWRIGHT_OT_remove_length(_OnLength, bpy.types.Operator):
    """Remove the check length"""

    bl_idname = "padwright.remove_length"
    bl_label = "Remove Check Length"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context):
        """Remove it."""
        part = context.scene.padwright
        state.remove_row(part, "lengths", "length_index")
        return {"FINISHED"}


class PADWRIGHT_OT_set_length_end(_OnLength, bpy.types.Operator):
    """Set one end of the check length to the 3D cursor"""

    bl_idname = "padwright.set_length_end"
    bl_label = "Set End from 3D Cursor"
    bl_options = {"UNDO"}

    end: EnumProperty(
        name="End",
        description="Which end",
        items=[("start", "From", "The one end"), ("end", "To", "The other end")],
    )

    @reporting.told
    def execute(self, context):
        """Set it."""
        from . import scan_places

        part = context.scene.padwright
        length = part.lengths[part.length_index]
        point, off_mm = scan_places.cursor_on_scan(context, length.scan)
        setattr(length, self.end, point)
        length.is_fitted = False
        reporting.tell(self, f"Set; the 3D cursor is {off_mm:.2f} mm off the {length.scan} scan")
        return {"FINISHED"}


class PADWRIGHT_OT_prepare_scans(StageWork, bpy.types.Operator):
    """Clean both scans, correct their size by the check lengths, and show them at true size"""

    bl_idname = "padwright.prepare_scans"
    bl_label = "Clean and Scale Scans"
    bl_options = {"REGISTER", "UNDO"}
    stage = "scans"


def _write_scans(context, result):
    from ...core.stages.scans.evidence import scale_facts
    from .. import bridge, part_values
    from ..view import viewports

    part = context.scene.padwright
    lines: list[str] = []
    notes: list[str] = []
    facts: list[str] = []
    lengths_before = [max(obj.dimensions) for obj in (part.base, part.impression) if obj is not None]
    for scan, found in (("base", result.base), ("impression", result.impression)):
        obj = getattr(part, scan)
        if found is None or obj is None:
            continue
        bridge.show_at_true_size(obj, context.scene, part_values.unit_mm(part, scan), found.factor)
        after = found.after
        lines.append(
            f"{scan.title()}: {after.triangles} triangles, {counted(len(after.holes), 'open border')}, "
            f"{max(after.size) * found.factor:.1f} mm long, scaled by {found.factor:.5f}"
        )
        notes += found.notes
        facts += scale_facts(found.fit, found.factor, scan)
        rows = [each for each in part.lengths if each.scan == scan]
        fit = found.fit
        for index, row in enumerate(rows if fit is not None else ()):
            row.scan_mm, row.residual_mm = float(fit.scan_mm[index]), float(fit.residuals_mm[index])
            row.is_fitted, row.is_outlier = True, index == fit.outlier
    state.keep_facts(part, "scans", facts)
    state.show_scans(part, base=True, impression=True)
    context.view_layer.update()
    shown = [obj for obj in (part.base, part.impression) if obj is not None]
    ratios = [max(obj.dimensions) / before for obj, before in zip(shown, lengths_before, strict=True) if before > 0.0]
    if any(not 0.5 < ratio < 2.0 for ratio in ratios):  # another unit: they would be a speck, or all around
        viewports.frame(context, shown)
    return "; ".join(lines), notes


WRITERS["scans"] = _write_scans

CLASSES = (
    PADWRIGHT_OT_import_scan,
    PADWRIGHT_OT_use_object,
    PADWRIGHT_OT_add_length,
    PADWRIGHT_OT_remove_length,
    PADWRIGHT_OT_set_length_end,
    PADWRIGHT_OT_prepare_scans,
)
