"""The job's tables as frozen dataclasses: every key, its limits and its meaning. docs/job.md tells them to a person."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..base.color_names import NAMED_COLORS
from ..base.resources import family_places
from .fill_table import Fill
from .keys import key, listed
from .load_tables import Load, Target
from .mat_table import Mat, Place
from .output_tables import Output, Printer
from .toml_lines import KeyPlaces
from .zone_keys import SOURCES

Point = tuple[float, float, float]

SCHEMA = 1
FAMILIES = tuple(family_places())
STRUCTURES = ("solid", "gyroid", "honeycomb", "square_grid", "none")
LONGEST_NAME = 200  # the settings document takes no longer one
_LONGEST_ZONE = 80  # "<one> to <other> 8, 12" names a piece of a blend step between two zones, within LONGEST_NAME
_LONGEST_REVISION = 40  # as the settings document has it
RETIRED = {
    ("coupons",): "blocks to press are made by: python -m padwright coupons",
    ("output", "layout"): "the 3MF holds all regions as one item, in their places",
}
"""Keys of earlier versions: read and left out with a note, and what is there instead."""

_UNITS = ("mm", "cm", "m", "in")
_SCANS = ("base", "impression")


@dataclass(frozen=True)
class Part:
    """Who the part is."""

    name: str = key("text", "name in your words", count=(1, 1), high=LONGEST_NAME, example="My part")
    number: str = key("slug", "part number; the names of all files begin with it", example="PART-1")
    family: str = key("choice", "part family; its card gives the defaults", choices=FAMILIES)
    revision: str = key("text", "tells one print from the next", default="1", count=(1, 1), high=_LONGEST_REVISION)
    previous: str | None = key("folder", "folder of the files of the revision before this one", default=None)
    mirror: bool = key("flag", "write the part for the other side", default=False)
    certified_gear: bool | None = key(
        "flag", "is it for a helmet or other certified protective gear? answer yourself", default=None
    )
    note: str = key("text", "anything to keep with the part", default="")


@dataclass(frozen=True)
class CheckLength:
    """A distance measured by hand and the two scan points it belongs to."""

    name: str = key("text", "what was measured", default="", example="between the two front screws")
    measured_mm: float = key("number", "by caliper or tape", low=0.1, high=10_000, example=100.0)
    plus_minus_mm: float = key(
        # Common practice, no source: a caliper on soft or rounded features is good to 0.1 to 0.3 mm.
        "number",
        "limits of that measurement",
        low=0,
        above=True,
        high=100,
        default=0.2,
    )
    from_point: Point = key("point", "one end, in the scan file's own numbers", toml="from", example=(0.0, 0.0, 0.0))
    to_point: Point = key("point", "the other end", toml="to", example=(100.0, 0.0, 0.0))


@dataclass(frozen=True)
class Base:
    """The scan of the hard thing that the part sits on."""

    scan: str = key("file", "file of the base scan", example="base.stl")
    unit: str | None = key("choice", "one unit of the scan; never guessed", choices=_UNITS, default=None, example="mm")
    pick_error_mm: float = key(
        # Common practice, no source: each point is off by about the noise and half a triangle of the scan.
        "number",
        "standard deviation of a length from picking its points on the scan",
        low=0,
        high=50,
        default=0.3,
    )
    check_lengths: tuple[CheckLength, ...] = key("tables", "distances by hand", default=(), table=CheckLength)


@dataclass(frozen=True)
class LoadCenter:
    """What the person says of one load center."""

    near: Point = key("point", "about where it is, in the base scan file's numbers", example=(0.0, 0.0, 0.0))
    name: str = key("text", "name in your words", default="", high=LONGEST_NAME)
    use: bool = key("flag", "false: it is none, and nothing rests on it", default=True)
    within_mm: float = key(
        # About a third of the spacing of two sit bones: common practice, no source.
        "number",
        "how far from that place it may be found, across the press direction",
        low=0,
        above=True,
        high=100,
        default=15.0,
    )


@dataclass(frozen=True)
class Impression:
    """The scan of the base covered in clay that a body has pressed; without a scan, clay that is only computed."""

    scan: str | None = key(
        "file", "file of the impression scan; left out: body.scan is pressed into virtual clay", default=None,
        example="impression.stl",
    )  # fmt: skip
    unit: str | None = key("choice", "one unit of the scan; never guessed", choices=_UNITS, default=None, example="mm")
    pick_error_mm: float = key(
        "number", "standard deviation of a length from picking its points on the scan", low=0, high=50, default=0.3
    )
    scale: str | None = key(
        "choice", "the base scan's correction or none; or check lengths of its own",
        choices=("as base", "as file"), default=None,
    )  # fmt: skip
    check_lengths: tuple[CheckLength, ...] = key("tables", "distances by hand", default=(), table=CheckLength)
    clay_thickness_mm: float | None = key(
        "number", "clay as laid, before the body pressed it", low=0, above=True, high=300, default=None
    )
    imprint_depth_mm: float | None = key(
        # Two thirds of the clay: what is left still parts the body from the base. Common practice, no source.
        "number", "virtual clay: how deep the body goes in where that is most; left out: two thirds of the clay",
        low=0, above=True, high=300, default=None,
    )  # fmt: skip
    clay_strength_kpa: float | None = key(
        "number", "virtual clay: its shear strength, instead of the depth, which then follows from the load",
        low=0, above=True, high=10_000, default=None,
    )  # fmt: skip
    contact_depth_mm: float = key("number", "least imprint depth of contact", low=0, above=True, high=50, card=True)
    smoothing_mm: float | None = key(
        "number", "width of the smoothing that finds load centers", low=0, above=True, high=30, default=None
    )
    body_side_smoothing_mm: float = key(
        "number", "width over which finger marks and film wrinkles are smoothed away", low=0, high=30, default=0.0
    )
    pressed_with_n: float | None = key(
        "number", "force the clay was pressed with, if it was not the load's own", low=0, above=True, high=50_000,
        default=None,
    )  # fmt: skip
    clay_pressure: str = key(
        "choice", "how the clay had pressed: evenly, heaped up where it was thin, or somewhere between",
        choices=("between", "even", "heaped"), default="between",
    )  # fmt: skip
    average_sides: bool = key("flag", "average left and right over the base's mid-plane", default=False)
    load_center_count: tuple[float, ...] = key(
        "numbers", "[least, most] load centers of such a part; of more the strongest are used", low=0, high=50,
        count=(2, 2), card=True,
    )  # fmt: skip
    load_centers: tuple[LoadCenter, ...] = key(
        "tables", "load centers to name, to use or not to use", default=(), table=LoadCenter, count=(0, 100)
    )


@dataclass(frozen=True)
class Pair:
    """The same place on both scans."""

    base: Point = key("point", "on the base scan, its file's numbers", example=(0.0, 0.0, 0.0))
    impression: Point = key("point", "the same place on the impression scan", example=(0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Alignment:
    """Point pairs, or nothing for an automatic alignment."""

    pairs: tuple[Pair, ...] = key("tables", "3 or more pairs of points", default=(), table=Pair, count=(3, 1000))
    pose: int | None = key("integer", "which of the poses that fit, by its number", low=1, high=20, default=None)


@dataclass(frozen=True)
class Datum:
    """Where the part's own frame lies."""

    plane: tuple[Point, ...] | None = key("points", "3 points on the base", default=None, count=(3, 3))
    line: tuple[Point, ...] | None = key("points", "2 points on the base", default=None, count=(2, 2))
    point: Point | None = key("point", "the origin, on the base", default=None)
    symmetric: bool = key("flag", "lay the part in the base's mid-plane instead", default=False)


@dataclass(frozen=True)
class BodyPair:
    """A landmark of the body and where it comes to lie on the base."""

    name: str = key("text", "what it is, in your words", default="", high=LONGEST_NAME, example="heel")
    body: Point = key("point", "on the body scan, its file's numbers", example=(0.0, 0.0, 0.0))
    base: Point = key("point", "where that comes to lie on the base scan", example=(0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Body:
    """How the body meets the part."""

    press_direction: Point | str = key("press", "how the body loads the part, base file's axes", card=True)
    load_center_spacing_mm: float | None = key(
        "number", "spacing of the two load centers by hand, if measured", low=0, above=True, high=1000, default=None
    )
    flesh_thickness_mm: float | None = key(
        "number", "flesh over the bone where it bears, unloaded, if you know it", low=0.5, high=300, default=None
    )
    scan: str | None = key("file", "scan of the body as it comes down on the part", default=None)
    scan_unit: str = key("choice", "one unit in that file", choices=_UNITS, default="mm")
    pairs: tuple[BodyPair, ...] = key(
        "tables", "3 or more landmarks that lay it on the base; none: it lies in the base scan's frame already",
        default=(), table=BodyPair, count=(3, 1000),
    )  # fmt: skip
    check_lengths: tuple[CheckLength, ...] = key("tables", "distances by hand", default=(), table=CheckLength)
    scan_load_share: float | None = key(
        "number", "share of the load that the body bore while it was scanned: 0 hanging free, 1 all of it", low=0,
        high=1, default=None,
    )  # fmt: skip
    rigid: bool = key("flag", "press as a body as hard as stone, without flesh", default=False)


@dataclass(frozen=True)
class Relief:
    """An opening or a channel in the pad."""

    name: str = key("text", "what it is for", default="")
    kind: str = key("choice", "what is cut along the line: opening or channel", choices=("opening", "channel"))
    points: tuple[Point, ...] = key("points", "closed outline of an opening, line of a channel", count=(2, 100_000))
    points_on: str = key("choice", "the scan its points lie on", choices=_SCANS, default="base")
    width_mm: float | None = key("number", "width of a channel", low=0, above=True, high=1000, default=None)
    depth_mm: float | None = key(
        "number", "depth of a channel below the body side", low=0, above=True, high=1000, default=None
    )
    edge_radius_mm: float = key(
        # Below 1 mm an edge cuts into skin: common practice, no source.
        "number",
        "radius of its edges",
        low=1,
        high=50,
        card=True,
    )


@dataclass(frozen=True)
class Pad:
    """The flexible part's shape."""

    fit_gap_mm: float = key("number", "offset of the base side from the base", low=0, high=20, card=True)
    least_thickness_mm: float = key("number", "the pad is nowhere thinner", low=0.4, high=100, card=True)
    cover_mm: float = key("number", "allowance on the body side for fabric or film", low=0, high=20, card=True)
    rim_radius_mm: float = key("number", "radius of the rounded rim", low=0, high=50, card=True)
    footprint: tuple[Point, ...] | None = key(
        "points", "outline instead of the clay's own edge", default=None, count=(3, 100_000)
    )
    footprint_from: str = key(
        "choice", "where the pad ends: the clay's edge, around the contact, or there if the clay goes far beyond",
        choices=("clay", "contact", "auto"), card=True,
    )  # fmt: skip
    contact_margin_mm: float = key("number", "how far around what the body pressed", low=0, high=200, card=True)
    footprint_on: str = key("choice", "the scan the footprint lies on", choices=_SCANS, default="base")
    envelope: str | None = key("file", "closed solid of your own instead of the clay, base scan's frame", default=None)
    envelope_unit: str = key("choice", "one unit in that file", choices=_UNITS, default="mm")
    reliefs: tuple[Relief, ...] = key("tables", "openings and channels", default=(), table=Relief)


@dataclass(frozen=True)
class Zone:
    """An area of the body side with one firmness wish."""

    name: str = key("text", "unique; names the region", count=(1, 1), high=_LONGEST_ZONE)
    level: float = key("number", "firmness level: 1 relief, 2 soft, 3 medium, 4 firm", low=1, high=4)
    stiffness_times: float = key(
        "number", "times as stiff as its level: what trials taught", low=0.1, high=10, default=1.0
    )
    source: str = key("choice", "where the zone comes from", choices=SOURCES)
    radius_mm: float | None = key(
        "number", "around each load center", low=0, above=True, high=500, default=None, card=True
    )
    load_centers: tuple[str, ...] | None = key(
        "texts", "names of some load centers, not all", default=None, count=(1, 50)
    )
    from_mm: float | None = key("number", "least imprint depth", low=-300, high=300, default=None)
    to_mm: float | None = key("number", "largest imprint depth", low=-300, high=300, default=None)
    points: tuple[Point, ...] | None = key("points", "closed outline", default=None, count=(3, 100_000))
    points_on: str | None = key("choice", "the scan the points lie on", choices=_SCANS, default=None)
    color: str | None = key("color", "color of the marks", default=None, choices=tuple(NAMED_COLORS))
    color_tolerance: float | None = key("number", "how far a color may be off, 0 to 1", low=0, high=1, default=None)
    gap_mm: float | None = key("number", "gaps in a mark's line up to this are closed", low=0, high=50, default=None)
    filled: bool | None = key("flag", "what a mark surrounds belongs to it", default=None)
    least_cm2: float | None = key("number", "smaller marks are left out", low=0, high=1000, default=None)
    from_dark_pct: float | None = key("number", "least darkness of the foil", low=0, high=100, default=None)
    to_dark_pct: float | None = key("number", "most darkness of the foil", low=0, high=100, default=None)
    light: str | None = key("color", "the foil where nothing pressed", default=None, choices=tuple(NAMED_COLORS))
    dark: str | None = key("color", "the foil where it was pressed hardest", default=None, choices=tuple(NAMED_COLORS))
    file: str | None = key("file", "weights or pressure grid", default=None)
    places: tuple[Place, ...] = key("tables", "where cells lie", default=(), table=Place, count=(2, 3))
    from_kpa: float | None = key("number", "least pressure", low=0, high=100_000, default=None)
    to_kpa: float | None = key("number", "largest pressure", low=0, high=100_000, default=None)
    from_pct: float | None = key("number", "least pressure, of the mat's peak", low=0, high=100, default=None)
    to_pct: float | None = key("number", "largest pressure, of the mat's peak", low=0, high=100, default=None)


@dataclass(frozen=True)
class Between:
    """The blend between two zones."""

    zones: tuple[str, ...] = key("texts", "names of the two zones", count=(2, 2))
    steps: int | None = key("integer", "steps between them", low=0, high=8, default=None)
    width_mm: float | None = key("number", "width of the whole blend", low=0, above=True, high=500, default=None)


@dataclass(frozen=True)
class Blend:
    """Steps of firmness between neighboring zones."""

    steps: int = key("integer", "steps between neighbors", low=0, high=8, card=True)
    width_mm: float = key("number", "width of the whole blend", low=0, above=True, high=500, card=True)
    between: tuple[Between, ...] = key("tables", "single pairs", default=(), table=Between)


@dataclass(frozen=True)
class Regions:
    """How the pad is cut."""

    contact: str = key("choice", "how neighbors meet", choices=("touching", "overlapping"), default="touching")
    overlap_mm: float = key("number", "how far one reaches into the next", low=0, above=True, high=10, default=0.2)
    least_width_beads: float = key("number", "no region narrower, in beads", low=1, high=100, card=True)


@dataclass(frozen=True)
class Material:
    """What the part is printed from."""

    card: str = key("file", "material card, or a card file of your own", card=True)
    # No plastic is lighter than 0.1 g/cm3, foam included, and no printer extrudes less than 0.1 mm3/s: our own limits.
    density_g_cm3: float | None = key("number", "if you know better", low=0.1, high=5, default=None)
    max_volume_flow_mm3_s: float | None = key("number", "if you know better", low=0.1, high=200, default=None)
    price_per_kg: float | None = key("number", "in your currency", low=0, high=100_000, default=None)


@dataclass(frozen=True)
class Limits:
    """Which settings may be chosen."""

    bead_widths_mm: tuple[float, ...] | None = key(
        "numbers", "bead widths, best liked first", low=0.1, high=5, count=(1, 20), default=None
    )
    solid_share_pct: tuple[float, ...] = key(
        "numbers", "[least, most] fill share", low=1, high=70, count=(2, 2), card=True
    )
    fill_structures: tuple[str, ...] = key(
        "texts", "fill structures, best liked first", choices=STRUCTURES[:4], count=(1, 4), card=True
    )
    contour_counts: tuple[float, ...] = key(
        "numbers", "[least, most] contours; 0 holds inside the part", low=0, high=50, count=(2, 2), card=True
    )


@dataclass(frozen=True)
class Job:
    """Everything about one part."""

    schema: int = key("integer", "version of this list of keys", low=SCHEMA, high=SCHEMA, example=SCHEMA)
    given: tuple[str, ...] = listed("the keys you set yourself, in a file that writes out the others too")
    seed: int = key("integer", "starts every random choice", low=0, high=2**31, default=0)
    part: Part = key("table", "who the part is", table=Part)
    base: Base = key("table", "the base scan", table=Base)
    impression: Impression | None = key("table", "the impression scan", default=None, table=Impression)
    alignment: Alignment = key("table", "impression to base", default=Alignment(), table=Alignment)
    datum: Datum = key("table", "the part's frame", default=Datum(), table=Datum)
    body: Body = key("table", "how the body meets the part", table=Body)
    mat: Mat = key("table", "what a pressure mat showed under the body", default=Mat(), table=Mat)
    pad: Pad = key("table", "the part's shape", table=Pad)
    zones: tuple[Zone, ...] = key("tables", "areas and their firmness", table=Zone, card=True, count=(0, 100))
    blend: Blend = key("table", "steps between zones", table=Blend)
    regions: Regions = key("table", "how the pad is cut", table=Regions)
    material: Material = key("table", "what it is printed from", table=Material)
    printer: Printer = key("table", "what it is printed on", table=Printer)
    limits: Limits = key("table", "which settings may be chosen", table=Limits)
    fill: Fill = key("table", "what makes it soft", default=Fill(), table=Fill)
    load: Load = key("table", "how hard the body bears", table=Load)
    target: Target = key("table", "what tuning aims for", table=Target)
    output: Output = key("table", "what is written", default=Output(), table=Output)
    retired: tuple[str, ...] = field(default=(), compare=False, kw_only=True)
    """Keys of `RETIRED` that the file holds; they are not written again."""
    set_outside: tuple[str, ...] = field(default=(), compare=False, kw_only=True)
    """Keys that were set on the command line, each as a line of TOML."""
    renamed: tuple[str, ...] = field(default=(), compare=False, kw_only=True)
    """Notes of the old names in the file; it is written with the new ones."""
    places: KeyPlaces = field(default=KeyPlaces("job", {}), compare=False, repr=False, kw_only=True)
    """Where its keys stand in the file that was read."""
