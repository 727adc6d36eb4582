"""Lay the pressure mat on the body side."""

import bpy

from ...core.base.text import counted
from ..stage_work import WRITERS, StageWork


class PADWRIGHT_OT_lay_mat(StageWork, bpy.types.Operator):
    """Read the mat's file and lay it on the body side; the mat's panel says what was found and what is doubtful"""

    bl_label = "Lay Mat"
    stage = "mats"


def _write_mat(context, result):
    from .. import attributes

    part = context.scene.padwright
    laid = result.mat
    if laid is None:
        return "There is no mat", ()
    if part.body is not None:
        attributes.write(part.body.data, attributes.MAT, laid.at(result.aligned.vertices))
    force = laid.force_n
    total = "its numbers have no unit" if force is None else f"it sums to {force:.0f} N"
    agrees = "" if laid.agreement is None else f", agrees with the imprint by {laid.agreement:.2f} of 1"
    ways = f", pose {laid.pose} of {counted(len(laid.poses), 'way')}" if len(laid.poses) > 1 else ""
    return f"The mat has {laid.mat.size_words}; {total}{agrees}{ways}", laid.notes


WRITERS["mats"] = _write_mat
