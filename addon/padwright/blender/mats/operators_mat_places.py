"""Say by which places a mat is laid on: cells of its picture, and where they lay on the scan."""

import bpy
from bpy.props import FloatVectorProperty

from ...core.base.errors import InputError, PadwrightError
from ...core.base.text import counted
from .. import reporting, state
from ..button import Button
from ..long_work import LongWork
from ..scans import pick_session
from ..scans.pick_clicks import Picks
from . import mat_in_job

_ONCE = {"SKIP_SAVE"}  # each pick starts anew


class _OfMat(Button):
    """Needs a mat's file and the scan its places lie on."""

    @classmethod
    def missing(cls, context, part):
        if not mat_in_job.has_mat(part):
            return "Choose the mat's file first"
        scan = mat_in_job.places_on(part)
        return "" if getattr(part, scan) is not None else f"Choose or import the {scan} scan first"


class PADWRIGHT_OT_show_mat_picture(_OfMat, bpy.types.Operator):
    """Show what the mat's file holds beside the scan, a square a cell, as the file has its rows and columns"""

    bl_label = "Show Mat's Picture"

    def act(self, context, part):
        from ..view import viewports
        from . import mat_picture

        mat = mat_picture.show(context, part)
        viewports.frame(context, (getattr(part, mat_in_job.places_on(part)), part.mat_picture))
        reporting.tell(self, f"{mat.size_words}, as the file has them: row 0 on top, column 0 on the left")


class PADWRIGHT_OT_hide_mat_picture(Button, bpy.types.Operator):
    """Remove the mat's picture"""

    bl_label = "Remove Picture"

    @classmethod
    def missing(cls, context, part):
        return "" if part.mat_picture is not None else "There is no picture of the mat"

    def act(self, context, part):
        from . import mat_picture

        mat_picture.remove(part)


class PADWRIGHT_OT_add_mat_place(_OfMat, bpy.types.Operator):
    """Add a place to type in its row and column, and to pick where it lay"""

    bl_label = "Add Place"

    @classmethod
    def missing(cls, context, part):
        return super().missing(context, part) or _full(part)

    def act(self, context, part):
        _add(part)


class _OnMatPlace(_OfMat):
    """Works on the place that the list shows as active."""

    @classmethod
    def missing(cls, context, part):
        is_there = state.row_at(part.mat_places, part.mat_place_index) is not None
        return super().missing(context, part) or ("" if is_there else "Add a place first")


class PADWRIGHT_OT_remove_mat_place(_OnMatPlace, bpy.types.Operator):
    """Remove the place"""

    bl_label = "Remove Place"

    def act(self, context, part):
        state.remove_row(part, "mat_places", "mat_place_index")


class OnPicture(Picks):
    """Clicks in the mat's picture as well: it is shown meanwhile, and left as it was when nothing is kept."""

    def invoke(self, context, event):
        """Show the picture and start picking in the window."""
        from . import mat_picture

        if bpy.app.background or context.window is None or LongWork.is_running or pick_session.current:
            return super().invoke(context, event)  # there it is done at once, or said why not
        part = context.scene.padwright
        self._lay = part.mat_picture.matrix_world.copy() if part.mat_picture is not None else None
        try:
            mat_picture.show(context, part)
        except PadwrightError as error:
            return reporting.fail(self, error)
        return super().invoke(context, event)

    def modal(self, context, event):
        """Take a click or a key; where that stops it, the picture is there or not, and lies, as before."""
        from . import mat_picture

        answer = super().modal(context, event)
        if answer == {"CANCELLED"} and context.scene.name == self._scene:
            mat_picture.put_back(context.scene.padwright, self._lay)
        return answer


class PADWRIGHT_OT_pick_mat_places(OnPicture, _OfMat, bpy.types.Operator):
    """Click a cell in the mat's picture and where it lay on the scan, in turn, two or three times; Enter keeps them"""

    bl_label = "Pick Places of the Mat"
    bl_options = {"UNDO"}
    modes = {"OBJECT"}

    cell: FloatVectorProperty(name="Cell", description="Row and column, from 0", size=2, precision=1, options=_ONCE)
    point: FloatVectorProperty(
        name="Point", description="Where it lay, in the scan's own numbers", precision=4, options=_ONCE
    )

    @classmethod
    def missing(cls, context, part):
        return super().missing(context, part) or _full(part)

    def session(self, context):
        part = context.scene.padwright
        clicks = pick_session.mat_clicks(mat_in_job.places_on(part))
        left = mat_in_job.MOST_PLACES - len(part.mat_places)
        return pick_session.Session(clicks, True, "place", 1 + len(part.mat_places), most=left)

    def keep(self, context, places):
        on_mat, on_scan = places
        self.cell, self.point = mat_in_job.cell_at(on_mat.numbers), on_scan.numbers
        return self.execute(context)

    def act(self, context, part):
        for name in ("cell", "point"):
            if not self.properties.is_property_set(name):
                raise InputError("The place is not given.", hint="Press the button and click on picture and scan.")
        if _full(part):
            raise InputError(f"{_full(part)}.")
        place = _add(part)
        place.by, place.cell = "cell", self.cell
        _set_point(self, part, place, self.point)


class PADWRIGHT_OT_pick_mat_point(Picks, _OnMatPlace, bpy.types.Operator):
    """Click where the place of the mat lay on the scan"""

    bl_label = "Pick Where It Lay"
    bl_options = {"UNDO"}
    modes = {"OBJECT"}

    point: FloatVectorProperty(
        name="Point", description="Where it lay, in the scan's own numbers", precision=4, options=_ONCE
    )

    def session(self, context):
        part = context.scene.padwright
        clicks = pick_session.mat_clicks(mat_in_job.places_on(part))[1:]
        return pick_session.Session(clicks, False, "place", 1 + part.mat_place_index)

    def keep(self, context, places):
        self.point = places[0].numbers
        return self.execute(context)

    def act(self, context, part):
        if not self.properties.is_property_set("point"):
            raise InputError("The place's point is not given.", hint="Press the button and click on the scan.")
        _set_point(self, part, part.mat_places[part.mat_place_index], self.point)


def _full(part):
    """Return in words that no place can be added, or nothing."""
    is_full = len(part.mat_places) >= mat_in_job.MOST_PLACES
    return f"There are {len(part.mat_places)} places, the most that count: remove one first" if is_full else ""


def _add(part):
    place = part.mat_places.add()
    part.mat_place_index = len(part.mat_places) - 1
    return place


def _set_point(operator, part, place, point):
    """Set where a place lay, and let the places say how the mat lies."""
    place.point, place.has_point = point, True
    part.mat_pose = 0  # the places say it
    count = sum(each.has_point for each in part.mat_places)
    if count > 1 and part.mat_laid in ("load_centers", "outline"):
        part.mat_laid = "auto"
    said = "it tells which way round the mat lay; one more lays it" if count == 1 else "the mat is laid by them"
    reporting.tell(operator, f"{counted(count, 'place')} of the mat set: {said}")
