"""Write the part's files, or those of some regions, and save the scene's part as a job."""

from dataclasses import replace
from pathlib import Path

import bpy
from bpy.props import StringProperty
from bpy_extras.io_utils import ExportHelper

from ...core.base.errors import InputError
from ...core.base.text import counted
from .. import refusals, reporting, state
from ..button import Button
from ..regions import hand_edits
from ..stage_memory import begun_memory
from ..stage_work import StageWork


class _Export(StageWork):
    """Packs what the stages made; what they have not made yet is made on the way."""

    bl_options = {"REGISTER"}
    stage = "export"

    def chosen(self, _context):
        """Return the ids of the regions to write, or None for the whole part."""
        return None

    def steps(self, context):
        """Read the scene and return the work: the same as a run of its job without the modeller."""
        from ...core.run.revisions import refuse_previous
        from ...core.stages.packing.bundle import check_folder
        from .. import scene
        from ..trials import notes

        remembered = begun_memory()
        hand_edits.refuse(context.scene)
        only = self.chosen(context)
        part = context.scene.padwright
        self._target = scene.target_folder(part.folder)
        check_folder(self._target)
        self._stale = state.stale(part, "regions")
        folder = scene.work_folder()
        job = scene.read_scene(context, folder)
        refuse_previous(job, folder, self._target)
        notes.bring(part, folder)
        self._number, self._is_selection = job.part.number, only is not None
        return remembered.run(job, folder, only)

    def finish(self, context, result):
        from ...core.stages.packing.bundle import mend_folder, run_document, write_bundle
        from ...core.stages.packing.ids import commit_name
        from . import print_facts, takes

        notes = list(mend_folder(self._target)) if self._target.exists() else []
        commit = commit_name(self._number, is_selection=self._is_selection)
        files = {**result.files, commit: run_document(result.evidence, result.files)}
        bundle = write_bundle(self._target, files, commit_name=commit)
        notes += bundle.notes
        is_cut = state.is_wanted(context.scene.padwright, "regions")
        old = hand_edits.older(context.scene, result.part.regions.regions) if is_cut else []
        if old:
            why = f"{self._stale}: " if self._stale else ""
            notes.append(
                f"{why}the files have {counted(len(old), 'region')} as of now, the scene as before; "
                "press Cut Regions to see them"
            )
        part = context.scene.padwright
        if not takes.is_of_now(part):  # worked out on the way
            print_facts.write(part, result.part)
        refusals.drop(part, "export")
        self.tell(context, result, bundle, notes, old)

    def tell(self, context, result, bundle, notes, old):
        shown = {*hand_edits.regions(context.scene), *old}
        is_cut = state.is_wanted(context.scene.padwright, "regions")
        gone = [each.name for each in result.part.regions.regions if is_cut and each.id not in shown]
        if gone:
            notes.append(f"No longer in the scene, but in the files as regions of the part: {', '.join(gone)}")
        done = f"{len(bundle.names)} files are in {bundle.folder}"
        state.note_written(context.scene.padwright, done)
        reporting.tell(self, done, notes)


class PADWRIGHT_OT_export_part(_Export, bpy.types.Operator):
    """Write the part for printing: the 3MF, an STL per region, the settings, report, print sheet and evidence"""

    bl_label = "Export Part"


class PADWRIGHT_OT_export_selection(_Export, bpy.types.Operator):
    """Write only the selected regions, in place, under file names that say it is a selection of the part"""

    bl_label = "Export Selected Regions"

    @classmethod
    def missing(cls, context, part):
        is_there = any(hand_edits.REGION in obj for obj in context.selected_objects)
        return super().missing(context, part) or ("" if is_there else "Select regions first")

    def chosen(self, context):
        """Return the ids of the selected regions; a copy of one is the artist's own and no region."""
        ours = hand_edits.regions(context.scene)
        selected = [obj for obj in context.selected_objects if hand_edits.REGION in obj]
        copies = [obj.name for obj in selected if ours.get(obj[hand_edits.REGION]) != obj]
        if copies:
            raise InputError(f'"{copies[0]}" is a copy of a region.', hint="Deselect it; only regions can be written.")
        return [obj[hand_edits.REGION] for obj in selected]

    def tell(self, context, result, bundle, notes, _old):
        if bundle.removed:
            notes.append(f"The selection of before had {len(bundle.removed)} more files; they were taken away")
        regions = result.part.regions.regions
        written = len(result.evidence["regions"])
        done = f"{written} of {counted(len(regions), 'region')} in {len(bundle.names)} files"
        done = f"{done} named {self._number}.selection are in {bundle.folder}"
        state.note_written(context.scene.padwright, done)
        reporting.tell(self, done, notes)


class PADWRIGHT_OT_save_job(Button, bpy.types.Operator, ExportHelper):
    """Save the part as a job file with its scans beside it; run without the modeller it makes the same part"""

    bl_label = "Save Job"
    bl_options = {"REGISTER"}
    modes = {"OBJECT"}

    filename_ext = ".toml"
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})

    @classmethod
    def missing(cls, context, part):
        return state.missing(part, "scans")

    def act(self, context, part):
        from ...core.job.write import write_job
        from ...core.run.history import from_folder
        from ...core.stages.packing.saved_job import write_saved_job
        from .. import scene

        path = Path(self.filepath)
        job, files = scene.read_job_and_files(context)
        if job.part.previous is not None:  # whole in the scene; from where the job lies in its file
            named = from_folder(Path(job.part.previous), path.resolve().parent)
            job = replace(job, part=replace(job.part, previous=named))
        bundle = write_saved_job(path, write_job(job), files)
        notes = [
            f'"{obj.name}" was changed by hand; a job does not hold that, only how the part is made'
            for obj, _ in hand_edits.edited(context.scene)
        ]
        done = f"{path.name} is saved with {counted(len(files), 'file')} beside it"
        reporting.tell(self, f"{done}; run it with: python -m padwright run {path.name}", [*notes, *bundle.notes])
