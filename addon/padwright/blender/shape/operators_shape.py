"""Make the printed shape of folded walls and show it as an object; look into it."""

import bpy
from bpy.props import EnumProperty

from ...core.base.text import counted
from .. import reporting, state
from ..button import Button
from ..stage_work import WRITERS, StageWork, part_pose, result_object
from ..view.properties_view import MOVED


class PADWRIGHT_OT_make_shape(StageWork, bpy.types.Operator):
    """Make the part as it is printed: one closed solid with its walls inside"""

    bl_label = "Make Shape"
    stage = "shape"


class PADWRIGHT_OT_show_inside(Button, bpy.types.Operator):
    """Look into the printed shape; the shape itself is not changed"""

    bl_label = "Look Inside"

    what: EnumProperty(
        name="What",
        description="What is shown",
        items=[
            ("whole", "Whole", "The shape as it is printed"),
            ("cutaway", "Cutaway", "The shape cut open, at first through the load centers"),
            ("layer", "Layer", "One layer of the print, filled where plastic lies"),
        ],
    )

    @classmethod
    def missing(cls, context, part):
        is_there = part.solid is not None and not state.is_gone(part.solid)
        return "" if is_there else "Make the shape first"

    def act(self, context, part):
        from ..view import value_colors
        from . import inside

        if part.view.is_colored:
            value_colors.clear(context)
        inside.show(context, self.what)
        reporting.tell(self, inside.WORDS[self.what])


def _write_shape(context, result):
    from ...core.stages.shape.work import FoldedPart
    from ..packing import print_facts
    from ..regions import hand_edits
    from ..view import value_colors
    from . import inside

    part = context.scene.padwright
    if part.view.is_colored:
        value_colors.clear(context)
    found = result.of(FoldedPart)
    solid = found.solid
    part.solid = result_object(context, part.solid, f"{part.number} Shape", solid.mesh, part_pose(context, result))
    hand_edits.sign(part.solid)
    inside.dress(part.solid)
    inside.keep(part, result)
    print_facts.write(part, result)
    inside.show(context, "whole")
    state.show_scans(part, base=False, impression=False)
    filled = result.pad.volume_cm3
    done = (
        f"The shape has {solid.volume_cm3:.0f} cm3, {100.0 * solid.volume_cm3 / filled:.0f} % of the pad's "
        f"{filled:.0f}, with {counted(solid.walls, 'wall')} and {len(solid.mesh.faces) / 1000.0:.0f} thousand triangles"
    )
    return done, found.notes


def _look_again(context):
    from . import inside

    inside.look_again(context)


WRITERS["shape"] = _write_shape
MOVED.update(dict.fromkeys(("cut_share", "is_cut_across", "layer_share"), _look_again))
