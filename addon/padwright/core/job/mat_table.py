"""The job's table of a pressure mat or a pressed foil: its file, what it means, and how it lay on the body side."""

from __future__ import annotations

from dataclasses import dataclass

from .keys import key

KPA_PER_UNIT: dict[str, float] = {
    "kPa": 1.0,
    "Pa": 0.001,
    "hPa": 0.1,
    "mbar": 0.1,
    "bar": 100.0,
    "N/cm2": 10.0,
    "N/mm2": 1000.0,
    "mmHg": 0.133322387415,
    "psi": 6.894757293168361,
    "g/cm2": 0.0980665,
    "kg/cm2": 98.0665,
}
"""kPa in one unit: SI; the conventional millimeter of mercury and the pound-force per square inch as in NIST Special
Publication 811 (2008), appendix B.8; grams by standard gravity."""

RAW = "raw"
MAT_UNITS = (*KPA_PER_UNIT, RAW)
FRAME_RULES = ("mean", "maximum", "one")
OF_PICTURES = ("dpi", "sheet_mm", "sheet_corners", "dark_bears")
PICTURE_ENDINGS = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".heic", ".heif", ".avif", ".bmp", ".gif")
LAYINGS = ("auto", "places", "load_centers", "outline")


@dataclass(frozen=True)
class Place:
    """Where one cell of a pressure grid lies."""

    cell: tuple[float, ...] = key("numbers", "[row, column], from 0", low=0, high=100_000, count=(2, 2))
    point: tuple[float, float, float] = key("point", "that place on the scan")


@dataclass(frozen=True)
class MatPlace:
    """Where one place of the mat lay."""

    cell: tuple[float, ...] | None = key(
        "numbers", "[row, column] of a cell, from 0", low=0, high=100_000, count=(2, 2), default=None
    )
    at_mm: tuple[float, ...] | None = key(
        "numbers", "instead: [down, right] from the mat's first corner, by ruler", low=-10_000, high=10_000,
        count=(2, 2), default=None,
    )  # fmt: skip
    pixel: tuple[float, ...] | None = key(
        "numbers", "instead, of a picture: [right, down] of a pixel, as picture programs tell it", low=0, high=100_000,
        count=(2, 2), default=None,
    )  # fmt: skip
    point: tuple[float, float, float] = key("point", "that place on the scan", example=(0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Mat:
    """What a pressure mat, or a foil that darkens where it is pressed, showed under the body.

    Its accuracy by default, 10 %, is common practice, no source. On a rig five devices for the foot were off by 0.5 to
    5 % (root of mean square; Giacomozzi 2010, doi 10.1016/j.gaitpost.2010.03.014, abstract read), and 5 % are 8 % nine
    times in ten of a normal distribution; under a soft, curved body a mat does worse.
    """

    file: str | None = key("file", "the mat's file, text or JSON; or the picture of a pressed foil", default=None)
    unit: str | None = key(
        "choice", "what its numbers are in, where the file does not state it", choices=MAT_UNITS, default=None
    )
    kpa_per_unit: float | None = key(
        "number", "kPa for 1 of its numbers, instead of a unit", low=0, above=True, high=100_000, default=None
    )
    zero: float = key("number", "what an unloaded cell reads; taken off", low=-1e9, high=1e9, default=0.0)
    pitch_mm: tuple[float, ...] | None = key(
        "numbers", "from cell to cell: one number, or [row to row, column to column]", low=0.2, high=200, count=(1, 2),
        default=None,
    )  # fmt: skip
    offset_mm: tuple[float, ...] | None = key(
        "numbers", "[down, right] from the mat's first corner to the middle of its first cell", low=-5000, high=5000,
        count=(2, 2), default=None,
    )  # fmt: skip
    no_sensor: tuple[float, ...] = key(
        "numbers", "numbers that stand for no sensor; below 0 anyway", low=-1e9, high=1e9, count=(0, 20), default=()
    )
    saturated_at: float | None = key("number", "the most a cell can read", low=-1e9, high=1e9, default=None)
    grid: tuple[float, ...] | None = key(
        "numbers", "[rows, columns] of a frame, where the file does not show it", low=2, high=5000, count=(2, 2),
        default=None,
    )  # fmt: skip
    frames: str = key("choice", "of several frames their mean, maximum, or one", choices=FRAME_RULES, default="mean")
    frame: int | None = key("integer", "which one, from 1", low=1, high=10_000_000, default=None)
    dpi: float | None = key(
        "number", "of a picture: how many of its pixels are an inch, where its file does not state it", low=10,
        high=20_000, default=None,
    )  # fmt: skip
    sheet_mm: tuple[float, ...] | None = key(
        "numbers", "of a picture: [width, height] of the sheet whose four corners it shows", low=10, high=5000,
        count=(2, 2), default=None,
    )  # fmt: skip
    sheet_corners: tuple[float, ...] | None = key(
        "numbers", "of a picture: pixels [right, down, right, down ...] of those corners, in order around the sheet; "
        "left out: found", low=0, high=100_000, count=(8, 8), default=None,
    )  # fmt: skip
    dark_bears: bool = key("flag", "of a picture: the darker, the harder it was pressed", default=True)
    flipped: bool | None = key("flag", "the file shows the mat from below; left out: found out", default=None)
    laid: str = key(
        "choice", "how it is laid on: by places, by its own load centers, by its outline", choices=LAYINGS,
        default="auto",
    )  # fmt: skip
    places: tuple[MatPlace, ...] = key(
        "tables",
        "where places of it lay: 2 or 3 lay it, 1 tells which way round",
        default=(),
        table=MatPlace,
        count=(1, 3),
    )
    places_on: str | None = key(
        "choice", "the scan the points lie on; left out: that of the impression, else the base",
        choices=("base", "impression"), default=None,
    )  # fmt: skip
    pose: int | None = key("integer", "which of the ways it fits, by its number", low=1, high=8, default=None)
    measured_on: str = key(
        "choice", "what lay under the mat when it was measured", choices=("base", "clay", "pad"), default="base"
    )
    accuracy_percent: float = key(
        "number", "how far a pressure of it may be off, nine times in ten", low=0, high=60, default=10.0
    )
    use_for_load: bool = key("flag", "the body bears on the pad as it bore on the mat", default=True)
