"""Start a part, and bring a job file into the scene."""

from pathlib import Path

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty
from bpy_extras.io_utils import ImportHelper

from ..core.base.errors import InputError
from ..core.base.text import counted
from . import reporting
from .button import Button
from .panels import wrapped
from .properties import FAMILY_ITEMS, UNIT_ITEMS


class PADWRIGHT_OT_start_part(Button, bpy.types.Operator):
    """Name the part and take the defaults of its family; beside a part that was started, in a scene of its own"""

    bl_label = "Start Part"
    # Not REGISTER, and so for all with values that come before scans are imported: what the file browser runs does not
    # take the modeller's box for the last step, and a value changed in an older box undoes the import.
    bl_options = {"UNDO"}
    modes = set()

    family: EnumProperty(name="Family", description="What kind of part it is", items=FAMILY_ITEMS)
    part_name: StringProperty(name="Name", description="Name of the part in your words", default="My part")
    number: StringProperty(name="Number", description="The names of all files begin with it", default="PART-1")
    unit: EnumProperty(name="Scan Units", description="What one unit in the scan files is", items=UNIT_ITEMS)
    is_no_certified_gear: BoolProperty(
        name="Not for Certified Gear",
        description="The part is not for a helmet or other certified protective gear",
    )

    def invoke(self, context, _event):
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context):
        from ..core.job.cards import load_family

        self.layout.use_property_split = True
        for name in ("family", "part_name", "number", "unit"):
            self.layout.prop(self, name)
        if load_family(self.family).asks_certified_gear:
            self.layout.prop(self, "is_no_certified_gear")
        try:
            self._checked()
        except InputError as error:
            wrapped(self.layout, context, f"{error.message} {error.hint}", "ERROR")

    def _checked(self):
        """Return the family when all that was typed can be used."""
        from ..core.job.cards import load_family
        from ..core.job.keys import BadValueError, check_value, keys_of
        from ..core.job.schema import Part

        keys = keys_of(Part)
        for name, value, hint in (
            ("name", self.part_name, "Use one line of text."),
            ("number", self.number, "Use up to 40 letters, digits, -, _ and ., beginning with a letter or digit."),
        ):
            try:
                check_value(keys[name][1], value)
            except BadValueError as error:
                raise InputError(f"The part {name} cannot be used: {error}.", hint=hint) from None
        family = load_family(self.family)
        if family.asks_certified_gear and not self.is_no_certified_gear:
            caution = next(each for each in family.cautions if each.code == "CERTIFIED_GEAR")
            raise InputError(caution.text, hint='If it is not for such gear, tick "Not for Certified Gear".')
        return family

    def act(self, context, part):
        from . import scene_load

        family = self._checked()
        stays = _go_to_own_scene(context, self.part_name)
        part = context.scene.padwright
        scene_load.take_family(part, family, is_no_certified_gear=self.is_no_certified_gear)
        part.part_name, part.number = self.part_name, self.number
        part.base_unit = part.impression_unit = self.unit
        part.is_started = True
        said = f"{self.part_name} is started with the defaults of {family.name.lower()}{stays}; now the scans"
        reporting.tell(self, said)


def _go_to_own_scene(context, name):
    """Where the scene has a part with scans, make another one for a new part, show it, and say where the old one is."""
    part = context.scene.padwright
    if not part.is_started or (part.base is None and part.impression is None):
        return ""
    old, new = context.scene, bpy.data.scenes.new(name)
    for each in ("system", "scale_length", "length_unit", "system_rotation"):
        setattr(new.unit_settings, each, getattr(old.unit_settings, each))
    (context.window or context.window_manager.windows[0]).scene = new
    return f' in a scene of its own ({part.part_name} stays in scene "{old.name}")'


class PADWRIGHT_OT_load_job(Button, bpy.types.Operator, ImportHelper):
    """Bring the part of a job file and its scans into the scene; beside another part, into a scene of its own"""

    bl_label = "Load Job"

    modes = {"OBJECT"}
    filename_ext = ".toml"
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})

    def act(self, context, part):
        from ..core.job.read import read_job
        from ..core.stages.scans.known_formats import scan_kinds
        from . import scene_load, state
        from .alignment import poses
        from .body import body_in_job
        from .pad import drawn_in_job
        from .scans import scan_objects
        from .view import viewports

        path = Path(self.filepath)
        job = read_job(path, (), scan_kinds())
        found = [("base", job.base.scan, job.base.unit)]
        if body_in_job.scan_of(job) is not None:
            found.append(("impression", *body_in_job.scan_of(job)))
        elif job.impression is not None and job.impression.scan is not None:
            found.append(("impression", job.impression.scan, job.impression.unit))
        read = {scan: scan_objects.read_file(path.parent / file) for scan, file, _ in found}
        solid = drawn_in_job.read_envelope(job, path.parent)
        stays = _go_to_own_scene(context, job.part.name)
        part = context.scene.padwright
        scene_load.load_into_scene(part, job, path.parent)
        part.impression = part.pad = part.body = part.solid = part.walls = part.inside = None
        part.view.inside = "whole"
        state.forget(part, "scans")
        notes: list[str] = []
        for scan, file, unit in found:
            notes += scan_objects.bring_in(context, read[scan], scan, unit, Path(file).stem, path.parent / file)
        drawn_in_job.load(context, job, solid)
        poses.take(part, job.alignment.pose or 0)
        for each in ("trials", "compare"):
            part.property_unset(each)
        part.trials.folder = str(path.resolve().parent)
        viewports.frame(context, [getattr(part, scan) for scan, _, _ in found])
        counts = f"{counted(len(found), 'scan')} and {counted(len(part.zones), 'zone')}"
        reporting.tell(self, f"{job.part.name} is loaded with {counts}{stays}", notes)
