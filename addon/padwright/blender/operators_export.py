"""Write the part's files, and save the scene's part as a job."""

from pathlib import Path

import bpy
from bpy.props import StringProperty
from bpy_extras.io_utils import ExportHelper

from ..core.errors import ExportError, InputError
from . import reporting, state
from .jobs import LongWork
from .stage_work import memory


class PADWRIGHT_OT_export_part(LongWork, bpy.types.Operator):
    """Write the part for printing: the 3MF, an STL per region, the settings and the evidence"""

    bl_idname = "padwright.export_part"
    bl_label = "Export Part"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context):
        """Say what is missing."""
        return reporting.allowed(cls, state.missing(context.scene.padwright, "export"))

    def steps(self, context):
        """Read the scene and run its job as a whole, as it runs without the modeller."""
        from . import scene

        memory()
        folder = scene.work_folder()
        target = _folder(context.scene.padwright.folder)
        job = scene.read_scene(context, folder)
        self._number, self._target = job.part.number, target
        from ..core.pipeline import run_job

        return run_job(job, folder)

    def finish(self, context, result):
        """Put all files into the folder, or none."""
        from ..core.output.bundle import mend_folder, run_document, write_bundle

        notes = list(mend_folder(self._target)) if self._target.exists() else []
        commit = f"{self._number}.run.json"
        files = {**result.files, commit: run_document(result.evidence, result.files)}
        bundle = write_bundle(self._target, files, commit_name=commit)
        reporting.tell(self, f"{len(bundle.names)} files are in {bundle.folder}", [*notes, *bundle.notes])


def _folder(chosen):
    """Return the folder that was chosen, or one beside the saved scene."""
    if chosen.startswith("//") and not bpy.data.filepath:
        chosen = ""
    elif not chosen and bpy.data.filepath:
        chosen = "//out"
    if not chosen:
        raise InputError("There is no folder to write to.", hint="Choose a folder, or save the scene first.")
    return Path(bpy.path.abspath(chosen))


class PADWRIGHT_OT_save_job(bpy.types.Operator, ExportHelper):
    """Save the part as a job file with its scans beside it; run without the modeller it makes the same part"""

    bl_idname = "padwright.save_job"
    bl_label = "Save Job"
    bl_options = {"REGISTER"}

    filename_ext = ".toml"
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})

    @classmethod
    def poll(cls, context):
        """Need a part with a base."""
        part = context.scene.padwright
        if context.mode != "OBJECT":
            return reporting.allowed(cls, "Go back to Object Mode first")
        return reporting.allowed(cls, state.missing(part, "scans"))

    @reporting.told
    def execute(self, context):
        """Write job, scans and painted zones."""
        from ..core.job_write import write_job
        from . import scene

        path = Path(self.filepath)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            job = scene.read_scene(context, path.parent)
            path.write_text(write_job(job, full=True), "utf-8", newline="\n")
        except OSError as error:
            raise ExportError(f'"{path}" cannot be written: {error.strerror}.', hint="Choose another folder.") from None
        reporting.tell(self, f"{path.name} is saved with its scans; run it with: python -m padwright run {path.name}")
        return {"FINISHED"}


CLASSES = (PADWRIGHT_OT_export_part, PADWRIGHT_OT_save_job)
