"""Scans into the scene, their size by check lengths, and the first stage: read, clean and scale."""

from pathlib import Path

import bpy
from bpy.props import EnumProperty, StringProperty
from bpy_extras.io_utils import ImportHelper

from ...core.base.errors import InputError
from ...core.base.text import counted
from .. import reporting, state
from ..button import MODES, Button
from ..properties import UNIT_ITEMS
from ..properties_lists import SCAN_ITEMS
from ..stage_work import WRITERS, StageWork

_UNIT_WORDS = {unit: title.lower() for unit, title, _ in UNIT_ITEMS}
_OBJECT_UNITS = [("scene", "As the Scene", "The object has the size the scene shows"), *UNIT_ITEMS]


class _OnPart(Button):
    """Needs a part."""

    modes = {"OBJECT"}

    @classmethod
    def missing(cls, context, part):
        return "" if part.is_started else "Start a part first"


class PADWRIGHT_OT_import_scan(_OnPart, bpy.types.Operator, ImportHelper):
    """Read a scan file of any format that is known, check it, and let the part use it"""

    bl_label = "Import Scan"

    scan: EnumProperty(name="Scan", description="What the scan shows", items=SCAN_ITEMS)
    filter_glob: StringProperty(options={"HIDDEN"})

    def invoke(self, context, event):
        from ...core.stages.scans.known_formats import endings

        self.filter_glob = ";".join(f"*.{each}" for each in endings())
        return ImportHelper.invoke(self, context, event)

    def act(self, context, part):
        from ..view import viewports
        from . import scan_objects, sizes

        path = Path(self.filepath)
        read = scan_objects.read_file(path)
        unit = getattr(part, f"{self.scan}_unit")
        notes = scan_objects.bring_in(context, read, self.scan, unit, path.stem, path)
        state.forget(part, "scans")
        viewports.frame(context, [obj for obj in (part.base, part.impression) if obj is not None])
        size, doubt = sizes.size_mm(part, self.scan), sizes.doubt(part, self.scan)
        assert size is not None  # the scan was brought in just now
        said = f"{path.name}, the {self.scan} scan, has {len(read.mesh.faces)} triangles"
        said += f"; read in {_UNIT_WORDS[getattr(part, f'{self.scan}_unit')]} it is {sizes.in_words(size)}"
        reporting.tell(self, said, [*((doubt,) if doubt else ()), *notes])


class PADWRIGHT_OT_use_object(_OnPart, bpy.types.Operator):
    """Let the part use the active object as a scan"""

    bl_label = "Use Active Object"
    bl_options = {"UNDO"}

    scan: EnumProperty(name="Scan", description="What the object shows", items=SCAN_ITEMS)
    unit: EnumProperty(
        name="Unit", description="What one unit of the object's coordinates is", items=_OBJECT_UNITS, default="scene"
    )

    @classmethod
    def missing(cls, context, part):
        obj = context.active_object
        is_mesh = obj is not None and obj.type == "MESH"
        return super().missing(context, part) or (state.unusable(obj) if is_mesh else "Select a mesh object first")

    def act(self, context, part):
        from . import scan_objects

        obj = context.active_object
        if not obj.data.polygons:
            raise InputError(f'"{obj.name}" has no face.', hint="Choose another object.")
        scan_objects.adopt_object(context, obj, self.scan, None if self.unit == "scene" else self.unit)
        state.forget(part, "scans")
        reporting.tell(self, f"{obj.name} with {len(obj.data.polygons)} faces is the {self.scan} scan")


class PADWRIGHT_OT_add_length(Button, bpy.types.Operator):
    """Add a check length; two selected vertices of a scan give its ends"""

    bl_label = "Add Check Length"
    modes = MODES | {"EDIT_MESH"}

    @classmethod
    def missing(cls, context, part):
        return state.missing_base(part)

    def act(self, context, part):
        from . import scan_places

        chosen = {scan: scan_places.selected(context, scan) for scan in ("base", "impression")}
        reporting.leave_edit_mode(context)
        length = part.lengths.add()
        length.name = f"length {len(part.lengths)}"
        found = next((scan for scan, points in chosen.items() if len(points) == 2), None)
        if found is not None:
            length.scan, (length.start, length.end) = found, chosen[found].tolist()
        part.length_index = len(part.lengths) - 1
        ends = " with the two selected vertices;" if found else "; pick its ends on a scan and"
        reporting.tell(self, f"Added{ends} type its length by hand")


class _OnLength(Button):
    """Works on the check length that the list shows as active."""

    @classmethod
    def missing(cls, context, part):
        return "" if state.row_at(part.lengths, part.length_index) is not None else "Add a check length first"


class PADWRIGHT_OT_remove_length(_OnLength, bpy.types.Operator):
    """Remove the check length"""

    bl_label = "Remove Check Length"

    def act(self, context, part):
        state.remove_row(part, "lengths", "length_index")


class PADWRIGHT_OT_set_length_end(_OnLength, bpy.types.Operator):
    """Set one end of the check length to the 3D cursor"""

    bl_label = "Set End from 3D Cursor"
    bl_options = {"UNDO"}

    end: EnumProperty(
        name="End",
        description="Which end",
        items=[("start", "From", "The one end"), ("end", "To", "The other end")],
    )

    def act(self, context, part):
        from . import scan_places

        length = part.lengths[part.length_index]
        point, off_mm = scan_places.cursor_on_scan(context, length.scan)
        setattr(length, self.end, point)
        length.is_fitted = False
        reporting.tell(self, f"Set; the 3D cursor is {off_mm:.2f} mm off the {length.scan} scan")


class PADWRIGHT_OT_prepare_scans(StageWork, bpy.types.Operator):
    """Clean both scans, correct their size by the check lengths, and show them at true size"""

    bl_label = "Clean and Scale Scans"
    stage = "scans"


def _write_scans(context, result):
    from ...core.stages.scans.evidence import scale_facts
    from .. import bridge
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
        bridge.show_at_true_size(obj, context.scene, bridge.unit_mm(part, scan), found.factor)
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
