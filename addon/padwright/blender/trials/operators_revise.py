"""Propose the next print from the notes, and take what is proposed into the part."""

import bpy

from ...core.base.errors import InputError
from .. import reporting, state
from ..long_work import LongWork
from . import next_print
from .on_notes import OnNotes


class PADWRIGHT_OT_propose_revision(OnNotes, LongWork, bpy.types.Operator):
    """Work out from the notes, the load check and earlier prints what the next print should change, zone by zone"""

    bl_label = "Propose Next Print"

    @classmethod
    def missing(cls, context, part):
        return super().missing(context, part) or state.missing(part, "zones")

    def steps(self, context):
        from .. import scene
        from . import revising

        self._job = scene.read_scene(context, scene.work_folder())
        return revising.proposed(context, self._job)

    def finish(self, context, result):
        from . import revising

        part = context.scene.padwright
        revising.show(part, self._job, result)
        changed = sum(each.is_changed for each in result.changes)
        what = f"print {result.next_revision} would change {changed} of {len(result.changes)} zones"
        done = what[:1].upper() + what[1:] if result.is_change else "The notes ask for no change yet"
        reporting.tell(self, done, result.stop)


class PADWRIGHT_OT_take_revision(OnNotes, bpy.types.Operator):
    """Set the zones, the revision and the folder as proposed; the files of this print stay as they are"""

    bl_label = "Take into the Part"

    @classmethod
    def missing(cls, context, part):
        lacking = super().missing(context, part)
        if lacking:
            return lacking
        is_there = any(each.is_changed for each in part.trials.changes)
        if not is_there:
            return "Propose the next print first"
        can_follow = next_print.can_follow(part, part.trials.proposed_of)
        return "" if can_follow else "It was proposed for another print: propose again"

    def act(self, context, part):
        from . import revising

        names = {each.name for each in part.trials.changes}
        gone = sorted(names - {zone.name for zone in part.zones})
        if gone:
            raise InputError(f'There is no zone "{gone[0]}" any more.', hint="Propose the next print again.")
        revising.take(part)
        reporting.tell(self, f"This is print {part.revision} now; check the load, then export it")
