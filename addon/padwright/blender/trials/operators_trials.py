"""Note how a print was to wear: what was felt zone by zone, where it hurt, what slipped."""

import datetime

import bpy
from bpy.props import CollectionProperty, FloatVectorProperty, StringProperty
from bpy_extras.io_utils import ImportHelper

from ...core.base.errors import InputError
from ...core.base.text import counted
from .. import reporting, state
from ..scans import pick_session
from ..scans.pick_clicks import Picks
from .on_notes import OnNotes
from .properties_trials import OPEN

_ONCE = {"SKIP_SAVE"}  # each pick starts anew


class _OnOpenNote(OnNotes):
    """Needs a note that is being filled in."""

    @classmethod
    def missing(cls, context, part):
        return super().missing(context, part) or ("" if part.trials.is_open else "Begin a note first")


class PADWRIGHT_OT_read_trials(OnNotes, bpy.types.Operator):
    """List what was noted of the part's prints"""

    bl_label = "Read Notes"

    def act(self, context, part):
        from . import notes

        book = notes.read(context)
        notes.show(part, book)
        where = notes.path_of(part)
        said = f"{counted(len(book.trials), 'note')} in {where}" if book.trials else f"There is no {where} yet"
        reporting.tell(self, said)


class PADWRIGHT_OT_begin_trial(OnNotes, bpy.types.Operator):
    """Begin a note of how this print was to wear"""

    bl_label = "Begin a Note"

    def act(self, context, part):
        from . import notes

        form = part.trials
        book = notes.read(context)
        notes.show(part, book)
        for name in ("activity", "slipped", "wore", "photos", "note", "hours_worn", "pain", "has_pain_point"):
            form.property_unset(name)
        form.revision, form.date = part.revision, datetime.date.today().isoformat()
        form.before = notes.worn_before(context)
        form.answers.clear()
        for zone in part.zones:
            form.answers.add().name = zone.name
        form.is_open = True
        reporting.tell(self, f"A note of print {form.revision}; leave open what you cannot tell")


class PADWRIGHT_OT_drop_trial(_OnOpenNote, bpy.types.Operator):
    """Forget the note that is being filled in"""

    bl_label = "Drop This Note"

    def act(self, context, part):
        part.trials.is_open = False


class PADWRIGHT_OT_save_trial(_OnOpenNote, bpy.types.Operator):
    """Write the note into the file beside the job, behind those that are there"""

    bl_label = "Save This Note"

    def act(self, context, part):
        from . import notes

        form = part.trials
        is_said = any(each.feels != OPEN or each.than_last != OPEN for each in form.answers)
        if not is_said and form.pain == 0 and not (form.slipped or form.wore or form.note):
            raise InputError("The note says nothing yet.", hint="Answer for one zone at least, or write what you saw.")
        path = notes.add(context, notes.form_of(part))
        form.is_open = False
        book = notes.read(context)
        notes.show(part, book)
        of_print = len(book.of(form.revision))
        reporting.tell(self, f"{counted(of_print, 'note')} of print {form.revision} in {path.name}")


class PADWRIGHT_OT_pick_sore(Picks, _OnOpenNote, bpy.types.Operator):
    """Click where it hurts on the pad"""

    bl_label = "Pick Sore Place"
    bl_options = {"UNDO"}

    place: FloatVectorProperty(name="Place", description="In the part frame, mm", options=_ONCE)

    @classmethod
    def missing(cls, context, part):
        is_there = part.pad is not None and not state.is_gone(part.pad)
        return super().missing(context, part) or ("" if is_there else "Build the pad first")

    def session(self, context):
        return pick_session.Session(pick_session.SORE_CLICKS, False, "place")

    def keep(self, context, places):
        self.place = places[0].numbers
        return self.execute(context)

    def act(self, context, part):
        from .. import bridge

        context.view_layer.update()
        mm = bridge.mm_per_scene_unit(context.scene)
        world = part.pad.matrix_world @ (bridge.Vector(self.place) / mm)
        form = part.trials
        form.pain_point = bridge.point_in_scan(part.base, world, context.scene, bridge.unit_mm(part, "base"))
        form.has_pain_point = True
        form.pain = max(form.pain, 1)
        reporting.tell(self, "The sore place is set; say how bad it was, from 1 to 10")


class PADWRIGHT_OT_add_photos(_OnOpenNote, bpy.types.Operator, ImportHelper):
    """Choose photos; the note keeps their names"""

    bl_label = "Add Photos"

    filter_glob: StringProperty(default="*.jpg;*.jpeg;*.png;*.webp;*.heic", options={"HIDDEN"})
    files: CollectionProperty(
        name="Files",
        description="Those that were chosen",
        type=bpy.types.OperatorFileListElement,
        options={"HIDDEN", "SKIP_SAVE"},
    )

    def act(self, context, part):
        form = part.trials
        names = [each.strip() for each in form.photos.split(",") if each.strip()]
        form.photos = ", ".join(dict.fromkeys([*names, *(each.name for each in self.files if each.name)]))
        reporting.tell(self, f"The note names {counted(form.photos.count(',') + 1 if form.photos else 0, 'photo')}")
