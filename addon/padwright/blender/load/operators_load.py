"""Press the body on the pad: pressure, sinkage and what it will feel like; tune the zones where that is the aim."""

import bpy
from bpy.props import EnumProperty

from .. import reporting, state
from ..button import Button
from ..stage_work import WRITERS, StageWork, part_pose
from .properties_load import VALUES


class PADWRIGHT_OT_check_load(StageWork, bpy.types.Operator):
    """Choose the settings of the zones for the aim, and work out pressure and sinkage under the body"""

    bl_label = "Check Load"
    stage = "load"


class PADWRIGHT_OT_show_load(Button, bpy.types.Operator):
    """Color the pad by how it bears the load case that the list shows; before and after tuning on one scale"""

    bl_label = "Show Load"

    values: EnumProperty(
        name="Values",
        description="What to show",
        items=[(key, title, tooltip) for key, (title, tooltip, *_) in VALUES.items()],
    )

    @classmethod
    def missing(cls, context, part):
        is_there = part.pad is not None and len(part.found.cases) > 0
        return "" if is_there else "Check the load first"

    def act(self, context, part):
        from . import load_view

        reporting.tell(self, load_view.show(context, self.values))


def _write_load(context, result):
    from ...core.stages.load import load_words, mat_words
    from ..folds import wall_lines
    from ..packing import print_facts
    from . import load_view

    part = context.scene.padwright
    firmness, found = result.firmness, part.found
    shown = load_view.shown_key(part)
    found.cases.clear()
    found.tuning.clear()
    found.tuning_said = ""
    load_view.write_settings(part, result)
    load_view.write_stiffness(part, result)
    if firmness.folded is None:
        print_facts.write(part, result)
    elif part.walls is not None and not state.is_gone(part.walls):
        # Under this load the walls may have had to be laid out anew.
        wall_lines.write(context, firmness.folded.layout, part_pose(context, result))
    if not firmness.loads or firmness.patch is None:
        load_view.clear(part)
        return "No load was given", firmness.notes
    load_view.write(part, result)
    tuning = firmness.tuning
    for number, (case, load) in enumerate(firmness.loads):
        made = found.cases.add()
        made.name, made.force = case.posture, f"{load.force_n:.0f} N"
        made.peak = f"{load.peak_pressure_kpa.value:.0f} kPa"
        made.bottoming, made.meaning = load_words.bottoming(load, has_coupons=firmness.has_coupons)
        _fill(made.rows, load_words.load_rows(load, case))
        _fill(made.zones, load_words.zone_rows(load, tuning if number == 0 else None))
    found.case_index = min(found.case_index, len(found.cases) - 1)
    if tuning is not None:
        _fill(found.tuning, load_words.tuning_rows(tuning, result.job.target.relieve))
        binding = f" What binds: {', '.join(tuning.binding)}." if tuning.binding else ""
        sure = "The aim is met." if not tuning.unsure else f"The aim is met, but not for certain. {tuning.unsure[0]}"
        if tuning.beyond:
            sure = f"The aim is met, but not under every load. {tuning.beyond[0]}"
        sure = f"{sure} {tuning.unchanged}".strip()
        found.tuning_said = f"{sure}{binding}" if tuning.is_met else f"The aim is not met. {tuning.unmet[0]}"
    _note_shares(part)
    if shown is not None:
        load_view.show_again(context, part, shown)
    case, load = firmness.loads[0]
    peak, sinkage = load.peak_pressure_kpa, load.sinkage_mm
    done = (
        f"Under {load.force_n:.0f} N ({case.posture}) the peak pressure is {peak.value:.0f} kPa ({peak.low:.0f} to "
        f"{peak.high:.0f}) and the body sinks in {load_words.span(sinkage, 'mm')}; "
        "an estimate to compare one pad with the next"
    )
    is_beside = firmness.beside is not None and result.mat is not None
    state.keep_facts(part, "load", mat_words.beside_words(result.mat, firmness.beside) if is_beside else ())
    tuned = () if tuning is None else (*tuning.unmet, *tuning.beyond, *tuning.unsure, *tuning.traded, *tuning.notes)
    return done, (*firmness.felt, *tuned, *firmness.notes)


def _fill(rows, given):
    for each in given:
        row = rows.add()
        row.name, row.now, row.before = each.name, each.now, each.before


def _note_shares(part):
    """Put into every zone what it bears of the first load."""
    rows = {row.name: row for row in part.found.cases[0].zones}
    for zone in part.zones:
        row = rows.get(zone.name)
        zone.bears = row.now if row is not None else ""
        zone.bore = row.before if row is not None else ""


WRITERS["load"] = _write_load
