"""Files enlarged for what a print shrinks by, and the flow to set: what that changes in a plan, and the words of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ...base.mesh import Float
from ...base.notes import on_change, to_act_on
from .orientation import Orientation
from .print_plan import PrintPlan


def bed_scale(shrinkage_pct: Sequence[float] | None) -> Float:
    """Return by what files are multiplied along x, y and z of the bed, (3,), so that what shrinks comes out true.

    A print that is s percent smaller than its file needs a file 1 / (1 - s / 100) times as large.
    """
    return np.ones(3) if shrinkage_pct is None else 1.0 / (1.0 - np.asarray(shrinkage_pct, dtype=np.float64) / 100.0)


def enlarged(plan: PrintPlan, shrinkage_pct: Sequence[float] | None, flow_pct: float) -> PrintPlan:
    """Return the plan of a part whose files are enlarged, and whose flow is to be set, with both in its notes.

    What is put down grows with the volume; what the flow corrects is what a printer puts down amiss, so no mass follows
    from it.
    """
    scale = bed_scale(shrinkage_pct)
    notes: list[str] = []
    if (scale != 1.0).any():
        by = ", ".join(f"{axis} {100.0 * (each - 1.0):+.2f} %" for axis, each in zip("xyz", scale, strict=True))
        notes.append(
            on_change(
                f"The files are enlarged along the bed's axes ({by}), since prints come out smaller "
                "(printer.shrinkage_pct): print the part as it lies, turned about no axis. Its size on the bed is the "
                "files'; all else that is told of it is as it is to come out."
            )
        )
    if flow_pct != 100.0:
        notes.append(
            to_act_on(
                f"Set the flow to {flow_pct:g} % of what your print program takes for this filament now "
                "(printer.flow_pct): the last print weighed other than predicted."
            )
        )
    if not notes:
        return plan
    more = float(scale.prod())
    return replace(
        plan,
        regions=tuple(
            replace(
                each,
                shell_g=more * each.shell_g,
                core_g=more * each.core_g,
                filament_m=more * each.filament_m,
                time_h=more * each.time_h,
                flow_limit_h=more * each.flow_limit_h,
            )
            for each in plan.regions
        ),
        mass_g=plan.mass_g.scaled(more),
        filament_m=plan.filament_m.scaled(more),
        time_h=plan.time_h.scaled(more),
        flow_limit_h=more * plan.flow_limit_h,
        cost=None if plan.cost is None else plan.cost.scaled(more),
        orientation=_larger(plan.orientation, scale),
        looked_at=tuple(_larger(each, scale) for each in plan.looked_at),
        notes=(*notes, *plan.notes),
    )


def _larger(way: Orientation, scale: Float) -> Orientation:
    return replace(way, size_mm=np.asarray(way.size_mm) * scale)
