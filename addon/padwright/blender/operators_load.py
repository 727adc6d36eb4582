"""Press the body on the pad: pressure, sinkage and what it will feel like; tune the zones where that is the aim."""

import bpy

from .stage_work import WRITERS, StageWork


class PADWRIGHT_OT_check_load(StageWork, bpy.types.Operator):
    """Choose the settings of the zones for the aim, and work out pressure and sinkage under the body"""

    bl_idname = "padwright.check_load"
    bl_label = "Check Load"
    bl_options = {"REGISTER", "UNDO"}
    stage = "load"


def _write_load(context, result):
    import numpy as np
    from scipy.spatial import cKDTree

    from . import attributes

    part = context.scene.padwright
    firmness = result.firmness
    if not firmness.loads or firmness.patch is None:
        return "No load was given", firmness.notes
    case, load = firmness.loads[0]
    vertices = result.pad.mesh.vertices
    _, place = cKDTree(vertices).query(firmness.patch.position)  # the patch's points are vertices of the pad
    for name, values in ((attributes.PRESSURE, load.pressure_kpa), (attributes.STRAIN, load.strain)):
        shown = np.zeros(len(vertices))
        shown[place] = values
        attributes.write(part.pad.data, name, shown)
    peak, sinkage = load.peak_pressure_kpa, load.sinkage_mm
    done = (
        f"Under {load.force_n:.0f} N ({case.posture}) the peak pressure is {peak.value:.0f} kPa ({peak.low:.0f} to "
        f"{peak.high:.0f}) and the body sinks in {sinkage.value:.1f} mm ({sinkage.low:.1f} to {sinkage.high:.1f}); "
        "an estimate to compare one pad with the next"
    )
    tuning = firmness.tuning
    tuned = () if tuning is None else (*tuning.unmet, *tuning.traded, *tuning.notes)
    return done, (*firmness.felt, *tuned, *firmness.notes)


WRITERS["load"] = _write_load

CLASSES = (PADWRIGHT_OT_check_load,)
