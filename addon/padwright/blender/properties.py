"""The part's data on the scene: what the artist says, and what the stages found."""

from typing import Any

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.base.resources import family_places, shared_path
from .load.properties_load import PADWRIGHT_PG_found
from .pad.properties_drawn import PADWRIGHT_PG_place, PADWRIGHT_PG_relief
from .properties_lists import PADWRIGHT_PG_length, PADWRIGHT_PG_pair, PADWRIGHT_PG_stage, PADWRIGHT_PG_zone
from .reading.properties_centers import PADWRIGHT_PG_center
from .view.properties_view import PADWRIGHT_PG_view

FAMILY_ITEMS = [
    (each, each.replace("_", " ").title(), "Part family", place - 1) for each, place in family_places().items()
]
UNIT_ITEMS = [
    ("mm", "Millimeters", "One unit of the scan is a millimeter"),
    ("cm", "Centimeters", "One unit of the scan is a centimeter"),
    ("m", "Meters", "One unit of the scan is a meter"),
    ("in", "Inches", "One unit of the scan is an inch"),
]
OWN_CARD = "own"


def _material_items() -> list[tuple[str, str, str]]:
    names = sorted(path.stem for path in shared_path("materials").glob("*.toml"))
    shown = [(name, name.replace("_", " ").upper(), "Generic material card") for name in names]
    return [*shown, (OWN_CARD, "Own Card", "A material card of your own, kept in the job")]


def _mm(name: str, description: str, **limits: Any) -> FloatProperty:
    return FloatProperty(name=f"{name} (mm)", description=f"{description}, in mm", **{"min": 0.0, **limits})


class PADWRIGHT_PG_part(bpy.types.PropertyGroup):
    """One part."""

    # No pointer has a poll function: the modeller as a Python module (4.2) crashes on ending once one was registered.

    is_started: BoolProperty(name="Is Started", description="The part has a family, a name and a number")
    family: EnumProperty(name="Family", description="What kind of part it is", items=FAMILY_ITEMS)
    part_name: StringProperty(name="Name", description="Name of the part in your words")
    number: StringProperty(name="Number", description="Part number; the names of all files begin with it")
    revision: StringProperty(name="Revision", description="Tells one print from the next", default="1")
    is_mirrored: BoolProperty(name="Mirrored", description="Write the part for the other side of the body")
    base: PointerProperty(name="Base", description="The hard thing the part sits on", type=bpy.types.Object)
    impression: PointerProperty(
        name="Impression",
        description="The base with the clay that a body has pressed",
        type=bpy.types.Object,
    )
    base_unit: EnumProperty(name="Base Unit", description="One unit of the base scan", items=UNIT_ITEMS)
    impression_unit: EnumProperty(
        name="Impression Unit", description="One unit of the impression scan", items=UNIT_ITEMS
    )
    impression_scale: EnumProperty(
        name="Impression Size",
        description="How the impression scan's size is corrected when it has no check lengths of its own",
        items=[
            ("as base", "As the Base", "Same device, same distance: the same correction"),
            ("as file", "As Scanned", "No correction"),
        ],
    )
    lengths: CollectionProperty(type=PADWRIGHT_PG_length, name="Check Lengths", description="Distances by hand")
    length_index: IntProperty(name="Check Length", description="The check length in work", min=0)
    pairs: CollectionProperty(type=PADWRIGHT_PG_pair, name="Point Pairs", description="Same places on both scans")
    pair_index: IntProperty(name="Point Pair", description="The pair in work", min=0)
    pose: IntProperty(name="Pose", description="Number of the pose that was taken; 0: none", min=0, max=20)
    pose_scans: StringProperty(name="Scans of the Pose", description="Fingerprint of the scans it is of")
    pose_shown: IntProperty(name="Pose on Show", description="Number of the pose the impression is shown in", min=0)
    pose_shown_scans: StringProperty(name="Scans on Show", description="Fingerprint of the scans it is of")
    press: EnumProperty(
        name="Press Direction",
        description="How the body loads the part",
        items=[
            ("auto", "Found", "From the clay and the base"),
            ("inward", "Inward", "Around the part, everywhere towards the base"),
            ("given", "Given", "A direction along the base scan's axes"),
        ],
    )
    press_vector: FloatVectorProperty(
        name="Direction", description="From the body into the part, along the base scan's axes", default=(0, 0, -1)
    )
    clay_thickness_mm: _mm("Clay Laid", "Clay before the body pressed it; 0 when not known", max=300.0)
    spacing_mm: _mm("Spacing", "Distance of the two load centers by hand; 0 when not measured", max=1000.0)
    centers: CollectionProperty(
        type=PADWRIGHT_PG_center, name="Load Centers", description="Where the body bears hardest"
    )
    center_index: IntProperty(name="Load Center", description="The load center in work", min=0)
    fit_gap_mm: _mm("Fit Gap", "Distance of the base side from the base", max=20.0)
    least_thickness_mm: _mm("Thinnest", "The pad is nowhere thinner", min=0.4, max=100.0, default=4.0)
    cover_mm: _mm("Cover", "Allowance on the body side for fabric or film", max=20.0)
    rim_radius_mm: _mm("Rim Radius", "Radius of the rounded rim", max=50.0)
    body_side_smoothing_mm: _mm("Smooth", "Width over which finger marks and film wrinkles go; 0: none", max=30.0)
    average_sides: BoolProperty(name="Left Like Right", description="Average left and right over the base's mid-plane")
    footprint: PointerProperty(
        name="Footprint",
        description="Closed curve around the pad; empty: the clay's own edge",
        type=bpy.types.Object,
    )
    reliefs: CollectionProperty(type=PADWRIGHT_PG_relief, name="Reliefs", description="Openings and channels")
    relief_index: IntProperty(name="Relief", description="The relief in work", min=0)
    envelope: PointerProperty(
        name="Envelope",
        description="Closed mesh of your own that takes the place of the clay; the base is taken out of it",
        type=bpy.types.Object,
    )
    datum: EnumProperty(
        name="Part Frame",
        description="What the part's own axes are; the scene itself is not moved",
        items=[
            ("none", "As Scanned", "The base scan's own axes"),
            ("points", "Six Points", "Three points make the plane, two the line, one the origin"),
            ("symmetric", "Mid-Plane", "The base's mid-plane is found, and x runs across it"),
        ],
    )
    datum_places: CollectionProperty(type=PADWRIGHT_PG_place, name="Datum", description="Six places on the base scan")
    zones: CollectionProperty(
        type=PADWRIGHT_PG_zone, name="Zones", description="Where two claim a place, the first has it"
    )
    zone_index: IntProperty(name="Zone", description="The zone in work", min=0)
    blend_steps: IntProperty(name="Blend Steps", description="Steps of firmness between neighbors", min=0, max=8)
    blend_width_mm: _mm("Blend", "Width of the whole blend", min=0.1, max=500.0, default=12.0)
    contact: EnumProperty(
        name="Regions",
        description="How neighboring regions meet",
        items=[
            ("touching", "Touch", "Neighbors share the same faces"),
            ("overlapping", "Overlap", "Each reaches a little into the next"),
        ],
    )
    overlap_mm: _mm("Overlap", "How far one reaches into the next", min=0.01, max=10.0, default=0.2)
    material: EnumProperty(name="Material", description="What the part is printed from", items=_material_items())
    nozzle_mm: _mm("Nozzle", "Nozzle diameter", min=0.1, max=3.0, default=0.4)
    body_mass_kg: FloatProperty(
        name="Body Mass (kg)", description="Mass of the body, in kg; 0 when not known", min=0.0, max=400.0
    )
    share: FloatProperty(
        name="Share of Weight", description="Share of the body's weight on the part", min=0.0, max=10.0
    )
    grip_pressure_kpa: FloatProperty(
        name="Grip (kPa)", description="Mean pressure of the grip, in kPa", min=0.0, max=1000.0
    )
    goal: EnumProperty(
        name="Aim",
        description="What the settings of the zones are chosen for",
        items=[
            ("levels", "Levels of Zones", "Each zone as firm as its level says"),
            ("even", "Even Pressure", "Pressure as even as can be, near the levels"),
            ("relieve", "Relief", "Less load on the zones marked for relief"),
        ],
    )
    sinkage_limit_mm: _mm("Sinkage", "The body sinks in no further", min=0.1, max=200.0, default=6.0)
    writes_stl: BoolProperty(name="STL per Region", description="Write an STL file for every region too", default=True)
    folder: StringProperty(
        name="Folder",
        description="Where the files of the part are written; empty: a folder beside the saved scene",
        subtype="DIR_PATH",
    )
    kept: StringProperty(name="Kept", description="What a loaded job says and no panel shows")
    legend: StringProperty(name="Legend", description="What the colors on show mean")
    found: PointerProperty(type=PADWRIGHT_PG_found, name="Found", description="What was found of load and regions")
    view: PointerProperty(type=PADWRIGHT_PG_view, name="View", description="What the viewport shows of the part")
    pad: PointerProperty(name="Pad", description="The pad as it was built", type=bpy.types.Object)
    body: PointerProperty(name="Body Side", description="The impression as it was read", type=bpy.types.Object)
    stages: CollectionProperty(type=PADWRIGHT_PG_stage, name="Stages", description="What each stage left")


CLASSES = (PADWRIGHT_PG_part,)
