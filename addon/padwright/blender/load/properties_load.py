"""What load check, tuning and cutting left, as the panels show it."""

import bpy
from bpy.props import CollectionProperty, EnumProperty, FloatProperty, IntProperty, PointerProperty, StringProperty

PRESSURE, BEFORE, STRAIN, GIVE = "pressure", "pressure_before", "strain", "give"
VALUES = {
    PRESSURE: ("Pressure", "Under the load case that the list shows, in kPa", "kPa", 1.0),
    BEFORE: ("Pressure Before Tuning", "With the zones' own levels, in kPa, on the same scale", "kPa", 1.0),
    STRAIN: ("Strain", "How much of its thickness the pad is squeezed by, in percent", "%", 100.0),
    GIVE: ("Give Used", "How much of its give the pad has used up, in percent: at 100 it bottoms out", "%", 100.0),
}
"""Values of the load check that can be shown: key -> title, tooltip, unit, factor from the attribute."""

BOTTOMING_ITEMS = [
    ("far", "Far", "Plenty of give left"),
    ("some", "Some Left", "Some of the give is left"),
    ("doubtful", "Doubtful", "It may bottom out"),
    ("out", "Bottoms Out", "The hard base is felt"),
]


class PADWRIGHT_PG_row(bpy.types.PropertyGroup):
    """One number in words."""

    name: StringProperty(name="Name", description="What it is")
    now: StringProperty(name="Now", description="The number with low and high")
    before: StringProperty(name="Before", description="The number before tuning")


class PADWRIGHT_PG_case(bpy.types.PropertyGroup):
    """What one load case came to."""

    name: StringProperty(name="Posture", description="Name of the load case")
    force: StringProperty(name="Load", description="How hard the body bears")
    peak: StringProperty(name="Peak", description="Peak pressure under it, beside that of the other loads")
    bottoming: EnumProperty(name="Bottoming", description="How near the pad is to its end", items=BOTTOMING_ITEMS)
    meaning: StringProperty(name="Meaning", description="What that means and what to do")
    rows: CollectionProperty(type=PADWRIGHT_PG_row, name="Numbers", description="Of the pad as a whole")
    zones: CollectionProperty(type=PADWRIGHT_PG_row, name="Zones", description="Share of the load of each zone")


class PADWRIGHT_PG_region(bpy.types.PropertyGroup):
    """One region."""

    name: StringProperty(name="Name", description="The zone's, with a number where it is in several pieces")
    region: StringProperty(name="Region", description="Its id in the files")
    obj: PointerProperty(name="Object", description="The object that shows it", type=bpy.types.Object)
    level: FloatProperty(name="Level", description="Firmness level")
    wished_level: FloatProperty(name="Wished", description="Firmness level asked for")
    level_name: StringProperty(name="Level in Words", description="Firmness level in words")
    volume_cm3: FloatProperty(name="Volume", description="In cubic centimeters")
    kpa: StringProperty(name="Stiffness", description="Secant modulus as printed, in kPa, as squeezed under the load")
    settings: StringProperty(name="Settings", description="What will be printed")
    binding: StringProperty(name="Limit", description="What keeps it from its level")


class PADWRIGHT_PG_found(bpy.types.PropertyGroup):
    """What the stages found of load and regions."""

    cases: CollectionProperty(type=PADWRIGHT_PG_case, name="Load Cases", description="Every way the body bears")
    case_index: IntProperty(name="Load Case", description="The load case on show", min=0)
    tuning: CollectionProperty(type=PADWRIGHT_PG_row, name="Tuning", description="Before and after")
    tuning_said: StringProperty(name="Tuning in Words", description="Whether the aim is met, and what binds")
    takes: CollectionProperty(type=PADWRIGHT_PG_row, name="Print", description="What the print takes")
    takes_not: StringProperty(name="Not Counted", description="What mass and hours leave out")
    takes_of: StringProperty(name="Known Of", description="Fingerprint of the settings that mass and hours are of")
    regions: CollectionProperty(type=PADWRIGHT_PG_region, name="Regions", description="Closed solids of the pad")
    region_index: IntProperty(name="Region", description="The region in work", min=0)
