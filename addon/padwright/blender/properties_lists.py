"""The rows of the part's lists: check lengths, point pairs, zones, and what each stage left."""

import bpy
from bpy.props import (
    BoolProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from .key_properties import of_key

SCAN_ITEMS = [
    ("base", "Base", "The hard thing the part sits on"),
    ("impression", "Impression", "The base with the clay that a body has pressed"),
]


def _picked(zone, _context):
    """Forget the color's name: what is picked is a color of its own."""
    zone.color_name = ""


class PADWRIGHT_PG_found_color(bpy.types.PropertyGroup):
    """A color found on the impression scan."""

    name: StringProperty(name="Color", description="What a person would call it")
    color: FloatVectorProperty(
        name="Color", description="A color of the scan", subtype="COLOR_GAMMA", size=3, min=0.0, max=1.0
    )
    area_cm2: FloatProperty(name="Area", description="On the scan, in square centimeters")


class PADWRIGHT_PG_length(bpy.types.PropertyGroup):
    """A distance measured by hand."""

    name: StringProperty(name="Name", description="What was measured")
    scan: EnumProperty(name="Scan", description="The scan its two points lie on", items=SCAN_ITEMS)
    measured_mm: of_key("base.check_lengths.measured_mm", "By Hand", can_be_unknown=True, precision=2)
    plus_minus_mm: of_key("base.check_lengths.plus_minus_mm", "Tolerance", precision=2)
    start: FloatVectorProperty(name="From", description="One end, in the scan's own numbers", precision=4)
    end: FloatVectorProperty(name="To", description="The other end, in the scan's own numbers", precision=4)
    scan_mm: FloatProperty(name="On the Scan (mm)", description="Length on the scan as it was scanned, in mm")
    residual_mm: FloatProperty(
        name="Left Over (mm)", description="By hand minus the corrected scan, in mm", precision=3
    )
    is_fitted: BoolProperty(name="Is Fitted", description="The two lengths beside it are up to date")
    is_outlier: BoolProperty(name="Is Outlier", description="It does not fit the other lengths")


class PADWRIGHT_PG_pair(bpy.types.PropertyGroup):
    """The same place on both scans."""

    base: FloatVectorProperty(name="On the Base", description="In the base scan's own numbers", precision=4)
    impression: FloatVectorProperty(
        name="On the Impression", description="In the impression scan's own numbers", precision=4
    )
    has_base: BoolProperty(name="Has Base Point", description="The point on the base was set")
    has_impression: BoolProperty(name="Has Impression Point", description="The point on the impression was set")
    miss_mm: FloatProperty(name="Miss (mm)", description="What was left between the two after aligning, in mm")
    is_fitted: BoolProperty(name="Is Fitted", description="The miss beside it is up to date")


def _rename_group(zone: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    """Let a zone's vertex group follow its name, so that paint and name stay together."""
    from .zones import painting

    painting.rename_group(zone.id_data.padwright, zone)


class PADWRIGHT_PG_zone(bpy.types.PropertyGroup):
    """An area of the body side with one firmness wish."""

    name: StringProperty(
        name="Name", description="Names the zone, its vertex group and its region", update=_rename_group
    )
    level: of_key("zones.level", "Level", default=2, step=50)
    stiffness_times: of_key("zones.stiffness_times", "Times as Stiff", precision=2, step=5)
    source: EnumProperty(
        name="From",
        description="Where the zone comes from until you paint it",
        items=[
            ("load_centers", "Load Centers", "Around the places where the body bears hardest"),
            ("imprint_depth", "Imprint Depth", "Where the body sank in between two depths"),
            ("paint", "Paint", "What you paint in its vertex group"),
            ("outline", "Outline", "Inside a closed curve that you draw or choose"),
            ("color_marks", "Color Marks", "Where the impression scan has about this color"),
            ("rest", "Rest", "Whatever no other zone claims"),
            ("kept", "Job File", "As the loaded job file says"),
            ("pressure_grid", "Pressure Mat", "Where the mat showed a pressure between two ends"),
            ("pressed_foil", "Pressed Foil", "Where a foil on the scanned clay is so dark"),
        ],
        default="paint",
    )
    radius_mm: of_key("zones.radius_mm", "Radius", default=28.0)
    from_mm: of_key("zones.from_mm", "From", default=5.0)
    to_mm: of_key("zones.to_mm", "To", default=300.0)
    color: FloatVectorProperty(
        name="Color",
        description="Color of the marks on the impression scan",
        subtype="COLOR_GAMMA",
        size=3,
        min=0.0,
        max=1.0,
        default=(0.8, 0.1, 0.1),
        update=_picked,
    )
    color_name: StringProperty(
        name="Color Name", description="Name of the color in the job, as red; what is found by it is taken"
    )
    tolerance: of_key("zones.color_tolerance", "Tolerance", default=0.2, step=1)
    gap_mm: of_key("zones.gap_mm", "Gaps", default=3.0)
    filled: of_key("zones.filled", "Filled", default=True)
    from_dark_pct: of_key("zones.from_dark_pct", "Dark From", default=60.0)
    to_dark_pct: of_key("zones.to_dark_pct", "Dark To", default=100.0)
    least_cm2: of_key("zones.least_cm2", "Least Area", default=0.3, step=10)
    from_kpa: of_key("zones.from_kpa", "From", can_be_unknown=True)
    to_kpa: of_key("zones.to_kpa", "To", can_be_unknown=True)
    curve: PointerProperty(name="Outline", description="Closed curve around the zone", type=bpy.types.Object)
    kept: StringProperty(name="Kept", description="What a loaded job says of this zone and no panel shows")
    group: StringProperty(name="Group", description="Name of its vertex group on the pad")
    written: StringProperty(name="Written", description="Fingerprint of its vertex group as it was last written")
    paint: StringProperty(name="Paint", description="Fingerprint of what you painted, when it was last looked at")
    area_cm2: FloatProperty(name="Area", description="On the body side, in square centimeters")
    bears: StringProperty(name="Share of Load", description="What it bears of the load, with low and high")
    bore: StringProperty(name="Share Before", description="What it bore of the load before tuning")
    is_relieved: BoolProperty(name="Relieve", description="Tuning takes load off this zone")
    is_painted: BoolProperty(name="Is Painted", description="You have painted it, so it is kept as it is")


class PADWRIGHT_PG_stage(bpy.types.PropertyGroup):
    """What a stage left: its settings and what it has to say."""

    name: StringProperty(name="Stage", description="Name of the stage")
    settings: StringProperty(name="Settings", description="Fingerprint of the settings it was done with")
    lines: StringProperty(name="Result", description="What the stage found, then its notes, line by line")
    acting: IntProperty(name="To Act On", description="How many of the notes, from the first, ask for doing something")
    facts: StringProperty(name="Facts", description="What else it found that is always shown, line by line")
    is_open: BoolProperty(name="Show Notes", description="Show what else the stage has to say")
