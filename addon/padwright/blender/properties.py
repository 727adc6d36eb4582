"""The part's data on the scene: what the artist says, and what the stages found."""

from typing import Any
from zlib import crc32

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.base.resources import family_places, shared_path
from .compare.properties_compare import PADWRIGHT_PG_compare
from .job_places import OPTIONAL, PLACES
from .key_properties import UNIT_ITEMS, of_key, words_of
from .load.properties_load import PADWRIGHT_PG_found
from .mats.mat_units import MAT_UNIT_ITEMS
from .mats.properties_mats import PADWRIGHT_PG_mat_place
from .pad.properties_drawn import PADWRIGHT_PG_relief
from .properties_lists import (
    SCAN_ITEMS,
    PADWRIGHT_PG_found_color,
    PADWRIGHT_PG_length,
    PADWRIGHT_PG_pair,
    PADWRIGHT_PG_stage,
    PADWRIGHT_PG_zone,
)
from .reading.properties_centers import PADWRIGHT_PG_center
from .scans.properties_datum import PADWRIGHT_PG_place
from .trials.properties_trials import PADWRIGHT_PG_trials
from .view.properties_view import PADWRIGHT_PG_view

FAMILY_ITEMS = [
    (each, each.replace("_", " ").title(), words_of("part.family"), place - 1)
    for each, place in family_places().items()
]
OWN_CARD = "own"
_MATERIALS = (
    *("tpe_80a", "tpu_45d", "tpu_54d", "tpu_60a", "tpu_64d", "tpu_70a", "tpu_80a", "tpu_85a", "tpu_90a", "tpu_95a"),
    OWN_CARD,
)
"""Saved scenes hold a material by its place in here: a new card goes to the end."""


def _material_items() -> list[tuple[str, str, str, int]]:
    names = sorted(path.stem for path in shared_path("materials").glob("*.toml"))
    shown = [(name, name.replace("_", " ").upper(), "Generic material card") for name in names]
    own = (OWN_CARD, "Own Card", "A material card of your own, kept in the job")
    return [(*each, _number_of(each[0])) for each in (*shown, own)]


def _number_of(material: str) -> int:
    """Return what stands for a material in a saved scene, also for a card laid beside those that come along."""
    return _MATERIALS.index(material) if material in _MATERIALS else crc32(material.encode()) >> 1


def _of_key(name: str, title: str, **more: Any) -> Any:
    """Return a property that is named after what it is, by the place of its key in a job."""
    return of_key(".".join(PLACES[name]), title, can_be_unknown=name in OPTIONAL, **more)


class PADWRIGHT_PG_part(bpy.types.PropertyGroup):
    """One part."""

    # No pointer has a poll function: the modeller as a Python module (4.2) crashes on ending once one was registered.

    is_started: BoolProperty(name="Is Started", description="The part has a family, a name and a number")
    family: EnumProperty(name="Family", description=words_of("part.family"), items=FAMILY_ITEMS)
    part_name: _of_key("part_name", "Name")
    number: _of_key("number", "Number")
    revision: _of_key("revision", "Revision")
    is_mirrored: _of_key("is_mirrored", "Mirrored")
    base: PointerProperty(name="Base", description="The hard thing the part sits on", type=bpy.types.Object)
    impression: PointerProperty(
        name="Impression",
        description="The base with the clay that a body has pressed",
        type=bpy.types.Object,
    )
    shows_body: BoolProperty(
        name="Scan of the Body",
        description="The second scan shows the body itself, no clay: it is pressed into virtual clay",
    )
    base_unit: EnumProperty(name="Base Unit", description=words_of("base.unit"), items=UNIT_ITEMS)
    impression_unit: EnumProperty(name="Impression Unit", description=words_of("impression.unit"), items=UNIT_ITEMS)
    impression_scale: _of_key(
        "impression_scale",
        "Impression Size",
        words={
            "as base": ("As the Base", "Same device, same distance: the same correction"),
            "as file": ("As Scanned", "No correction"),
        },
    )
    lengths: CollectionProperty(type=PADWRIGHT_PG_length, name="Check Lengths", description="Distances by hand")
    length_index: IntProperty(name="Check Length", description="The check length in work", min=0)
    pairs: CollectionProperty(type=PADWRIGHT_PG_pair, name="Point Pairs", description="Same places on both scans")
    pair_index: IntProperty(name="Point Pair", description="The pair in work", min=0)
    pose: of_key("alignment.pose", "Pose", can_be_unknown=True)
    pose_scans: StringProperty(name="Scans of the Pose", description="Fingerprint of the scans it is of")
    pose_shown: IntProperty(name="Pose on Show", description="Number of the pose the impression is shown in", min=0)
    pose_shown_scans: StringProperty(name="Scans on Show", description="Fingerprint of the scans it is of")
    press: EnumProperty(
        name="Press Direction",
        description=words_of("body.press_direction"),
        items=[
            ("auto", "Found", "From the clay and the base"),
            ("inward", "Inward", "Around the part, everywhere towards the base"),
            ("given", "Given", "A direction along the base scan's axes"),
        ],
    )
    press_vector: FloatVectorProperty(
        name="Direction",
        description="From the body into the part, along the base scan's axes",
        default=(0, 0, -1),
        subtype="XYZ",  # so that its fields are named
    )
    clay_thickness_mm: _of_key("clay_thickness_mm", "Clay Laid")
    imprint_depth_mm: _of_key("imprint_depth_mm", "Deepest")
    clay_strength_kpa: _of_key("clay_strength_kpa", "Strength")
    scan_load_share: _of_key("scan_load_share", "Bore in Scan")
    spacing_mm: _of_key("spacing_mm", "Spacing")
    centers: CollectionProperty(
        type=PADWRIGHT_PG_center, name="Load Centers", description="Where the body bears hardest"
    )
    center_index: IntProperty(name="Load Center", description="The load center in work", min=0)
    fit_gap_mm: _of_key("fit_gap_mm", "Fit Gap", default=0.4)
    least_thickness_mm: _of_key("least_thickness_mm", "Thinnest", default=4.0)
    cover_mm: _of_key("cover_mm", "Cover")
    rim_radius_mm: _of_key("rim_radius_mm", "Rim Radius", default=2.0)
    body_side_smoothing_mm: _of_key("body_side_smoothing_mm", "Smooth")
    average_sides: _of_key("average_sides", "Left Like Right")
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
    mat_file: StringProperty(
        name="File",
        description="File of a pressure mat, text or JSON, or picture of a pressed foil; empty: none",
        subtype="FILE_PATH",
    )
    mat_unit: EnumProperty(name="Unit", description=words_of("mat.unit"), items=MAT_UNIT_ITEMS)
    mat_pitch_mm: FloatVectorProperty(
        name="Pitch (mm)",
        description="Row to row and column to column; 0: as the file states, or as the other",
        size=2,
        min=0.0,
        max=200.0,
    )
    mat_dpi: of_key("mat.dpi", "Pixels in an Inch", can_be_unknown=True)
    mat_sheet_mm: FloatVectorProperty(
        name="Sheet (mm)",
        description="Of a photo: width and height of the sheet whose four corners it shows; 0: it was scanned flat",
        size=2,
        min=0.0,
        max=5000.0,
    )
    mat_dark_bears: _of_key("mat_dark_bears", "Dark Bears")
    mat_frames: _of_key("mat_frames", "Frames")
    mat_frame: _of_key("mat_frame", "Frame", default=1)
    mat_seen: EnumProperty(
        name="Seen",
        description=words_of("mat.flipped"),
        items=[
            ("found", "Found Out", "From the body, unless from below it fits clearly better"),
            ("body", "From the Body", "The file shows the mat as seen from the body"),
            ("below", "From Below", "The file shows the mat mirrored"),
        ],
    )
    mat_laid: _of_key(
        "mat_laid",
        "Laid By",
        words={
            "auto": ("Itself", "By two or three places, else by its outline, without a pitch by its load centers"),
            "places": ("Places", "By two or three places of the list below"),
            "load_centers": ("Load Centers", "Where it bears hardest lies on the load centers of the clay"),
            "outline": ("Outline", "What it shows lies where that agrees best with the imprint"),
        },
    )
    mat_pose: of_key("mat.pose", "Pose", can_be_unknown=True)
    mat_measured_on: _of_key("mat_measured_on", "Lay On")
    mat_for_load: _of_key("mat_for_load", "Use for the Load")
    mat_accuracy: _of_key("mat_accuracy", "Good To (%)")
    mat_places: CollectionProperty(
        type=PADWRIGHT_PG_mat_place, name="Places of the Mat", description="Two or three lay it; one tells its turn"
    )
    mat_place_index: IntProperty(name="Place of the Mat", description="The place in work", min=0)
    mat_places_on: EnumProperty(
        name="Points On", description=words_of("mat.places_on"), items=SCAN_ITEMS, default="impression"
    )
    mat_picture: PointerProperty(
        name="Mat's Picture", description="What the mat's file holds, a square a cell", type=bpy.types.Object
    )
    scan_colors: CollectionProperty(
        type=PADWRIGHT_PG_found_color, name="Colors", description="Found on the impression scan, the clay's first"
    )
    zones: CollectionProperty(
        type=PADWRIGHT_PG_zone, name="Zones", description="Where two claim a place, the first has it"
    )
    zone_index: IntProperty(name="Zone", description="The zone in work", min=0)
    blend_steps: _of_key("blend_steps", "Blend Steps")
    blend_width_mm: _of_key("blend_width_mm", "Blend", default=12.0)
    contact: _of_key(
        "contact",
        "Regions",
        words={
            "touching": ("Touch", "Neighbors share the same faces"),
            "overlapping": ("Overlap", "Each reaches a little into the next"),
        },
    )
    overlap_mm: _of_key("overlap_mm", "Overlap")
    fill_kind: _of_key(
        "fill_kind",
        "Softness",
        words={
            "settings": ("By Settings", "Regions, each with a fill of its own that your print program makes"),
            "folds": ("By Folded Walls", "One plain solid, soft by walls folded between two skins"),
        },
    )
    fill_layout: _of_key(
        "fill_layout",
        "Walls",
        words={
            "rows": ("In Rows", "Side by side across the part, inside a rim"),
            "rings": ("In Rings", "One inside the other, along the outline"),
        },
    )
    rows_run: EnumProperty(
        name="Rows Run",
        description=words_of("fill.direction").partition(";")[0],
        items=[
            ("across", "Across", "Across the part's longer side"),
            ("given", "As Pointed Out", "Along two places that you click on the pad; walls lean to the right of it"),
        ],
    )
    run_vector: FloatVectorProperty(
        name="Direction",
        description="Which way rows run, along the base scan's axes; seen from the body, walls lean to the right of it",
        default=(0, 1, 0),
        subtype="XYZ",
    )
    wall_folds: _of_key("wall_folds", "Folds")
    wall_beads: _of_key("wall_beads", "Beads a Wall")
    wall_pitch_mm: _of_key("wall_pitch_mm", "Pitch")
    most_slope_deg: _of_key("most_slope_deg", "Most Slope")
    longest_bridge_mm: _of_key("longest_bridge_mm", "Bridge")
    skin_layers: _of_key("skin_layers", "Skin Layers")
    least_core_mm: _of_key("least_core_mm", "Least Core")
    voids: _of_key(
        "voids",
        "Air Inside",
        words={
            "open": ("Breathes", "It moves in and out through openings, and all can be rinsed"),
            "sealed": ("Shut In", "Nothing gets in or out; the air is counted as a spring"),
        },
    )
    material: EnumProperty(
        name="Material", description=words_of("material.card"), items=_material_items(), default="tpu_85a"
    )
    nozzle_mm: _of_key("nozzle_mm", "Nozzle", default=0.4)
    body_mass_kg: _of_key("body_mass_kg", "Body Mass")
    share: _of_key("share", "Share of Weight", default=0.75)
    grip_pressure_kpa: _of_key("grip_pressure_kpa", "Grip")
    is_rigid: _of_key("is_rigid", "Hard as Stone")
    flesh_thickness_mm: _of_key("flesh_thickness_mm", "Flesh")
    goal: _of_key(
        "goal",
        "Aim",
        words={
            "levels": ("Levels of Zones", "Each zone as firm as its level says"),
            "even": ("Even Pressure", "Pressure as even as can be, near the levels"),
            "relieve": ("Relief", "Less load on the zones marked for relief"),
        },
    )
    sinkage_limit_mm: _of_key("sinkage_limit_mm", "Sink Limit", default=6.0)
    writes_stl: _of_key("writes_stl", "STL per Region")
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
    solid: PointerProperty(name="Solid", description="The part of folded walls as printed", type=bpy.types.Object)
    walls: PointerProperty(name="Walls", description="The lines that walls stand on", type=bpy.types.Object)
    inside: PointerProperty(
        name="Inside", description="The solid cut open, or one layer of it, to look at", type=bpy.types.Object
    )
    body: PointerProperty(name="Body Side", description="The impression as it was read", type=bpy.types.Object)
    trials: PointerProperty(type=PADWRIGHT_PG_trials, name="Trials", description="How prints were to wear")
    compare: PointerProperty(type=PADWRIGHT_PG_compare, name="Print", description="The print held against the part")
    stages: CollectionProperty(type=PADWRIGHT_PG_stage, name="Stages", description="What each stage left")
