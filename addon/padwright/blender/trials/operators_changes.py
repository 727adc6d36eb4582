"""Hold this print against the one before, both as they were exported."""

import json
from pathlib import Path

import bpy

from ...core.base.errors import InputError
from .. import reporting
from .on_notes import OnNotes

_KINDS = (
    ("keys", "In the Job"),
    ("settings", "Settings"),
    ("zones", "Predicted, by Zone"),
    ("whole", "Predicted"),
    ("felt", "Felt"),
)
"""Rows of the comparison, and what the panel calls them."""


class PADWRIGHT_OT_compare_prints(OnNotes, bpy.types.Operator):
    """List what changed from the print before to this one: keys, shape, settings, what is predicted, what was felt"""

    bl_label = "What Changed"

    @classmethod
    def missing(cls, context, part):
        before = json.loads(part.kept).get("part", {}).get("previous") if part.kept else None
        return super().missing(context, part) or ("" if before else "This is the first print: none came before it")

    def act(self, context, part):
        from ...core.run.compared_revisions import side_by_side
        from ...core.run.revisions import read_revision
        from .. import scene
        from . import notes
        from .changed_words import key_words

        named = json.loads(part.kept)["part"]["previous"]
        before = read_revision(Path(named), part.number, named)
        folder = scene.target_folder(part.folder)
        if not folder.is_dir():
            raise InputError(f"Print {part.revision} is not in {folder} yet.", hint="Export the part first.")
        now = read_revision(folder, part.number, str(folder))
        if now.name != part.revision:
            raise InputError(f"{folder} holds print {now.name}.", hint="Export the part first.")
        found = side_by_side(before, now, trials=notes.read(context))
        kept = part.trials
        kept.changed.clear()
        for kind, title in _KINDS:
            for each in getattr(found, kind):
                if each.before != each.now:
                    row = kept.changed.add()
                    what = key_words(each.what) if kind == "keys" else each.what
                    row.kind, row.name = title, f"{each.where}: {what}" if each.where else what
                    row.before, row.now, row.change = each.before or "-", each.now or "-", each.change
        kept.changed_said = "\n".join((*found.shape_words, *found.notes))
        kept.changed_of = f"{found.before} and {found.now}"
        reporting.tell(self, " ".join(found.in_short))
