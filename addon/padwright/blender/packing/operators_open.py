"""Open what was written for people to read, in the person's own browser."""

import bpy
from bpy.props import EnumProperty

from ...core.base.errors import InputError
from .. import reporting
from ..button import Button


class PADWRIGHT_OT_open_page(Button, bpy.types.Operator):
    """Open the page in your browser, as it was exported last"""

    bl_label = "Open Page"
    bl_options = {"REGISTER"}
    modes = set()

    page: EnumProperty(
        name="Page",
        description="Which page",
        items=[
            ("report", "Report", "The part in words and pictures, to read and to keep"),
            ("sheet", "Print Sheet", "One page to print from, region by region"),
        ],
    )

    @classmethod
    def missing(cls, context, part):
        is_known = bool(part.folder.strip() or bpy.data.filepath)
        return "" if part.is_started and is_known else "Export the part first"

    def act(self, context, part):
        from .. import scene

        path = scene.target_folder(part.folder) / f"{part.number}.{self.page}.html"
        if not path.is_file():
            raise InputError(f"There is no {path}.", hint="Export the part first.")
        bpy.ops.wm.url_open(url=path.as_uri())
        reporting.tell(self, f"{path.name} is open in your browser")
