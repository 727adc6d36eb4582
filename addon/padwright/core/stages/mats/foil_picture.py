"""The picture of a pressed foil or paper, scanned flat or photographed: the darker, the harder it was pressed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.errors import InputError
from ...base.mesh import Bool, Float
from ...base.perceived import light_tables, lightness_of
from ...job.mat_table import RAW, Mat
from ..scans.pictures import FlatPicture, read_flat_picture
from .foil_faults import foil_notes, refuse_even
from .foil_scale import FoilFacts, PixelScale, pixel_scale
from .mat_reading import MatReading
from .sheet import SeenSheet, commonest, find_sheet, mapped, to_pixels

_CELLS = 120  # across the longer side: as fine as a sheet's grain lets it, and a body's pressure needs; ours
_FINEST_MM, _COARSEST_MM = 0.5, 4.0
_LOOKED_AT = 600  # pixels across the longer side in which the sheet is looked for
_PER_CELL = 4  # samples a cell each way where the sheet is seen at a slant
_LEAST_TURN = 100.0  # pixels squared that two sides span: a sheet of 10 x 10
_NOISES = 3.0  # standard deviations of bare paper below which nothing is pressed
_LEAST_STEP = 1.0  # of lightness below the paper's: two shades of it side by side are hardly told apart; ours


@dataclass(frozen=True, eq=False)
class _Laid:
    """A picture as cells of even size."""

    lightness: Float  # (rows, columns), CIELAB, of the mean light in each
    is_on: Bool  # (rows, columns); on the sheet
    cell_mm: tuple[float, float] | None  # row to row, column to column
    to_cells: Float  # (3, 3); from pixels right and down to columns and rows


def read_foil(data: bytes, name: str, asked: Mat) -> MatReading:
    """Return what the picture of a foil shows: in each cell how much darker than the bare paper it is.

    The numbers are steps of CIELAB lightness (ISO/CIE 11664-4:2019), 0 to 100, of the mean light of a cell. They rise
    with pressure, in no known proportion.

    Raises ScanError when the picture cannot be read; InputError when it is about as light everywhere, has a unit, or no
    sheet can be seen where one is said to be.
    """
    if asked.unit not in (None, RAW):
        error = InputError(
            f'"{name}" is a picture: how dark it is has no unit, and unit = "{asked.unit}" was given.',
            hint="Leave unit out, or give kpa_per_unit: kPa for one step of lightness of 100.",
        )
        error.within = ("unit",)
        raise error
    picture = read_flat_picture(data, name)
    small, every = _small(picture.pixels)
    sheet = find_sheet(small)
    scale = pixel_scale(picture, asked)
    laid = _rectified(picture, name, asked, sheet, every) if asked.sheet_mm else _flat(picture, scale, sheet, every)
    lightness = laid.lightness if asked.dark_bears else 100.0 - laid.lightness
    seen = lightness[laid.is_on]
    paper = commonest(seen[seen >= 0.5 * (seen.min() + seen.max())])
    above = seen[seen >= paper] - paper
    noise = max(_LEAST_STEP, _NOISES * float(np.sqrt(np.mean(above**2))))
    darker = np.where(laid.is_on, np.maximum(paper - lightness, 0.0), 0.0)
    refuse_even(name, float(darker.max()))
    pressed = np.where(darker > noise, darker, 0.0)
    facts = FoilFacts(
        pixels=(picture.pixels.shape[1], picture.pixels.shape[0]),
        scale=scale,
        to_cells=laid.to_cells,
        paper=paper if asked.dark_bears else 100.0 - paper,
        darkest=float(darker.max()),
        noise=noise,
    )
    notes, full = foil_notes(name, picture, laid.lightness, laid.is_on, pressed, facts, asked, sheet, small)
    return MatReading(
        pressure=pressed * (asked.kpa_per_unit or 1.0),
        is_sensor=laid.is_on,
        is_kpa=asked.kpa_per_unit is not None,
        unit="" if asked.kpa_per_unit is not None else RAW,
        unit_basis="job" if asked.kpa_per_unit is not None else "picture",
        kpa_per_unit=asked.kpa_per_unit,
        pitch_mm=laid.cell_mm,
        pitch_basis=scale.basis if laid.cell_mm else "unknown",
        offset_mm=(0.0, 0.0) if laid.cell_mm is None else (0.5 * laid.cell_mm[0], 0.5 * laid.cell_mm[1]),
        frame_count=1,
        frame_rule="one picture",
        frame_sums=np.array([pressed.sum()]),
        saturated=full,
        filled=(),
        written=facts.words,
        header=(),
        notes=notes,
        foil=facts,
    )


def _mean_light(pixels: NDArray[np.uint8], down: int, across: int) -> Float:
    """Return the mean light, 0 to 1, of blocks of a picture."""
    rows, columns = pixels.shape[0] // down, pixels.shape[1] // across
    tables = light_tables().astype(np.float32)
    found = np.zeros((rows, columns))
    step = max(1, 4_000_000 // max(1, down * columns * across))
    for first in range(0, rows, step):
        last = min(first + step, rows)
        part = pixels[first * down : last * down, : columns * across]
        light = sum(table[part[..., channel]] for channel, table in enumerate(tables))
        found[first:last] = light.reshape(last - first, down, columns, across).mean(axis=(1, 3), dtype=np.float64)
    return found


def _small(pixels: NDArray[np.uint8]) -> tuple[Float, int]:
    """Return the lightness of a picture made small, and how many of its pixels one of those is."""
    every = max(1, max(pixels.shape[:2]) // _LOOKED_AT)
    return lightness_of(_mean_light(pixels, every, every)), every


def _cell_of(longest_mm: float) -> float:
    return float(np.clip(longest_mm / _CELLS, _FINEST_MM, _COARSEST_MM))


def _flat(picture: FlatPicture, scale: PixelScale, sheet: SeenSheet | None, every: int) -> _Laid:
    """Return a picture that was taken straight on as blocks of pixels; beside a sheet it shows nothing."""
    high, wide = picture.pixels.shape[:2]
    if scale.mm is None:
        down = across = max(1, max(high, wide) // _CELLS)
    else:
        cell = _cell_of(max(wide * scale.mm[0], high * scale.mm[1]))
        across, down = (max(1, round(cell / mm)) for mm in scale.mm)
    light = _mean_light(picture.pixels, down, across)
    to_cells = np.array([[1.0 / across, 0.0, 0.5 / across - 0.5], [0.0, 1.0 / down, 0.5 / down - 0.5], [0.0, 0.0, 1.0]])
    is_on = np.ones(light.shape, dtype=bool)
    if sheet is not None:
        row, column = np.indices(light.shape)
        is_on = ndimage.map_coordinates(
            ndimage.binary_erosion(sheet.is_on).astype(np.float64),  # its edge throws a shadow
            [((row + 0.5) * down - 0.5) / every, ((column + 0.5) * across - 0.5) / every], order=1,
        ) > 0.99  # fmt: skip
    cell_mm = None if scale.mm is None else (down * scale.mm[1], across * scale.mm[0])
    return _Laid(lightness_of(light), is_on, cell_mm, to_cells)


def _rectified(picture: FlatPicture, name: str, asked: Mat, sheet: SeenSheet | None, every: int) -> _Laid:
    """Return the sheet of a picture as cells of even size, however it was held to the camera."""
    assert asked.sheet_mm is not None
    width, height = asked.sheet_mm
    if asked.sheet_corners is not None:
        corners = _in_order(asked.sheet_corners)
    elif sheet is not None:
        corners = (sheet.corners + 0.5) * every - 0.5
        up, right, low, left = sheet.side_lengths
        if ((up + low) > (right + left)) != (width > height):  # it lies on its side
            corners = np.roll(corners, -1, axis=0)
    else:
        error = InputError(
            f'"{name}": no sheet with four corners stands out from what lies around it.',
            hint="Lay it on something evenly dark, all four corners in view, or give sheet_corners: their pixels.",
        )
        error.within = ("sheet_mm",)
        raise error
    pixels_of = to_pixels(corners, (width, height))
    cell = _cell_of(max(width, height))
    columns, rows = max(2, round(width / cell)), max(2, round(height / cell))
    across, down = width / columns, height / rows
    fine = (np.arange(_PER_CELL * max(rows, columns)) + 0.5) / _PER_CELL
    x, y = np.meshgrid(across * fine[: _PER_CELL * columns], down * fine[: _PER_CELL * rows])
    at = mapped(pixels_of, np.column_stack([x.ravel(), y.ravel()]))
    side = float(np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1).mean())
    step = max(1, int(side / (0.5 * (columns + rows)) / _PER_CELL))  # pixels a sample stands for
    light = _mean_light(picture.pixels, step, step)
    row_column = ((at + 0.5) / step - 0.5)[:, ::-1].T
    seen = ndimage.map_coordinates(light, row_column, order=1, mode="nearest")
    light = seen.reshape(rows, _PER_CELL, columns, _PER_CELL).mean(axis=(1, 3))
    is_on = np.ones(light.shape, dtype=bool)
    is_on[[0, -1], :] = is_on[:, [0, -1]] = False  # its own edge, and what lies beside it
    to_cells = np.array([[1.0 / across, 0.0, -0.5], [0.0, 1.0 / down, -0.5], [0.0, 0.0, 1.0]])
    return _Laid(lightness_of(light), is_on, (down, across), to_cells @ np.linalg.inv(pixels_of))


def _in_order(given: Sequence[float]) -> Float:
    """Return corners clockwise, the first one kept, however they were gone around: a picture is not mirrored.

    Raises InputError where they are no four corners of a sheet.
    """
    corners = np.array(given, dtype=np.float64).reshape(4, 2)
    way = np.roll(corners, -1, axis=0) - corners
    turn = way[:, 0] * np.roll(way[:, 1], -1) - way[:, 1] * np.roll(way[:, 0], -1)
    if not ((turn > _LEAST_TURN).all() or (turn < -_LEAST_TURN).all()):
        error = InputError(
            "The sheet_corners are no four corners one after the other around a sheet.",
            hint="Give right and down of each from corner to corner: upper left, upper right, lower right, lower left.",
        )
        error.within = ("sheet_corners",)
        raise error
    return corners if turn[0] > 0.0 else corners[[0, 3, 2, 1]]
