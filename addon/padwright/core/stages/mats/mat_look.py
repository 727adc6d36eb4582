"""What a mat's file is, in words, as a picture of signs, as a PNG, and as lines to paste into a job."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...base.mesh import Float
from ...base.ramps import ramp_colors
from ...base.text import counted, figure
from ...geometry.raster import png_bytes
from ...job.mat_table import KPA_PER_UNIT, OF_PICTURES, Mat
from ...job.toml_values import toml_value
from .find_pose import mat_peaks
from .foil_scale import FoilFacts
from .laid_mat import LaidMat
from .mat_reading import MatReading

_SIGNS = " .:-=+*#%@"
_WIDEST, _WIDEST_PICTURE = 100, 60  # signs in a line
_CELL_PX, _GREATEST_PX = 16, 1200
_NOT_THE_LOAD = 1.25  # times the load, or one in so many: worth a question; our choice
_OF_ALL = ("unit", "kpa_per_unit")
_OF_TABLES = ("zero", "pitch_mm", "no_sensor", "saturated_at", "grid", "frames", "frame")
_NO_SENSOR = np.array([0.80, 0.79, 0.75])


def mat_facts(mat: MatReading) -> dict[str, Any]:
    """Return what was found as plain data, for a script."""
    return {
        "rows": mat.shape[0],
        "columns": mat.shape[1],
        "written": mat.written,
        "unit": mat.unit or None,
        "unit_from": mat.unit_basis,
        "kpa_per_unit": mat.kpa_per_unit,
        "pitch_mm": None if mat.pitch_mm is None else list(mat.pitch_mm),
        "pitch_from": mat.pitch_basis,
        "offset_mm": list(mat.offset_mm),
        "picture": None if mat.foil is None else picture_facts(mat.foil),
        "frames": mat.frame_count,
        "frame_rule": mat.frame_rule,
        "frame_sums": [float(each) for each in mat.frame_sums],
        "sum_n": mat.force_n,
        "peak": mat.peak,
        "bears_hardest_at": [[float(each) for each in cell] for cell in mat_peaks(mat.pressure, mat.peak_cells)],
        "saturated_cells": [list(each) for each in mat.saturated],
        "filled_cells": [list(each) for each in mat.filled],
        "notes": list(mat.notes),
    }


def picture_facts(foil: FoilFacts) -> dict[str, Any]:
    """Return what is known of the picture of a foil as plain data."""
    return {
        "pixels": list(foil.pixels),
        "pixel_mm": None if foil.scale.mm is None else list(foil.scale.mm),
        "size_from": foil.scale.basis,
        "paper_lightness": foil.paper,
        "darkest_below_paper": foil.darkest,
        "counts_from": foil.noise,
    }


def mat_lines(mat: MatReading, load_n: float | None = None) -> list[str]:
    """Return what was found, line by line, with what to find out where something is not known."""
    if mat.foil is not None:
        return _foil_lines(mat, mat.foil, load_n)
    stated = {"file": "the file states it", "job": "as you say", "unknown": "nothing states it"}
    lines = [f"{mat.size_words}; {mat.frame_rule}; {mat.written}"]
    if mat.pitch_mm is None:
        lines.append("distance of cells: nothing states it; give --pitch MM (the mat's manual, or a ruler)")
    else:
        lines.append(f"distance of cells: {stated[mat.pitch_basis]}")
    if mat.is_kpa:
        lines.append(f"unit: {mat.unit or f'{mat.kpa_per_unit:g} kPa each'} ({stated[mat.unit_basis]})")
        if mat.force_n is not None:
            lines.append(f"sum: {figure(mat.force_n)} N{_beside_load(mat.force_n, load_n)}")
    else:
        lines += _unknown_unit(mat, load_n)
    row, column = np.unravel_index(int(np.argmax(mat.pressure)), mat.shape)
    pressed = int((mat.pressure > 0.0).sum())
    lines.append(
        f"peak: {figure(mat.peak)} {mat.unit_words} at cell [{row}, {column}]; {pressed} of {mat.pressure.size} cells "
        "are pressed"
    )
    tops = ", ".join(f"[{cell[0]:.1f}, {cell[1]:.1f}]" for cell in mat_peaks(mat.pressure))
    lines.append(f"bears hardest at: {tops} (row, column, from 0)")
    if mat.frame_count > 1:
        sums = mat.frame_sums / max(float(mat.frame_sums.max()), 1e-12)
        lines.append(f"frames, sum of each against the greatest: {_in_signs(sums)}")
    return lines


def _foil_lines(mat: MatReading, foil: FoilFacts, load_n: float | None) -> list[str]:
    """Return what was found of the picture of a foil, line by line."""
    stated = {"file": "its file states it", "job": "as you say", "sheet": "by the sheet's size"}
    size = f"size: {stated.get(foil.scale.basis, 'not known: give --dpi, or of a photo --sheet-mm')}"
    if foil.scale.mm is not None:
        size += f"; {foil.pixels[0] * foil.scale.mm[0]:.0f} x {foil.pixels[1] * foil.scale.mm[1]:.0f} mm"
    row, column = np.unravel_index(int(np.argmax(mat.pressure)), mat.shape)
    right, down = foil.pixel_of((float(row), float(column)))
    area = "" if mat.pitch_mm is None else f", {(mat.pressure > 0).sum() * np.prod(mat.pitch_mm) / 100.0:.0f} cm2"
    tops = [foil.pixel_of((float(each[0]), float(each[1]))) for each in mat_peaks(mat.pressure, mat.peak_cells)]
    lines = [
        f"{foil.words}; read as {mat.size_words}",
        size,
        f"bare paper: lightness {foil.paper:.0f} of 100; darkest: {foil.darkest:.0f} below it, at pixel "
        f"[{right:.0f}, {down:.0f}]; pressed: {(mat.pressure > 0).sum() / mat.is_sensor.sum() * 100.0:.0f} % of the "
        f"sheet{area}",
        f"bears hardest at: {', '.join(f'[{each[0]:.0f}, {each[1]:.0f}]' for each in tops)} (pixel: right, down)",
        "unit: none: it tells where the body bore more and where less; no sum can be checked against a load",
    ]
    if load_n is not None and mat.force_if(1.0) is not None and not mat.is_kpa:
        one = load_n / (mat.force_if(1.0) or 1.0)
        lines.append(
            f"if it bore {load_n:g} N, and in proportion, one step of lightness is {one:.4g} kPa: kpa_per_unit"
        )
    return lines


def _beside_load(force_n: float, load_n: float | None) -> str:
    if load_n is None:
        return " (is that what it bore? else unit or pitch is wrong)"
    times = force_n / load_n
    asked = ""
    if times > _NOT_THE_LOAD:
        asked = ": another unit or pitch, or each cell's maximum over time?"
    elif times < 1.0 / _NOT_THE_LOAD:
        asked = ": another unit or pitch, or did part of the load bear beside the mat?"
    return f", {times:.2f} times the load of {figure(load_n)} N{asked}"


def _unknown_unit(mat: MatReading, load_n: float | None) -> list[str]:
    """Return what the numbers would sum to in each unit, and which fits a load best."""
    lines = [
        f"unit: {'raw, as you say' if mat.unit_basis == 'job' else 'nothing states it' if not mat.unit else 'raw'}"
    ]
    if mat.pitch_mm is None:
        return lines
    if mat.unit and load_n is not None:  # raw numbers are of no unit: none can be nearest
        one = load_n / (mat.force_if(1.0) or 1.0)
        lines.append(f"if it bore {load_n:g} N, one of its numbers is {one:.4g} kPa: kpa_per_unit")
    if mat.unit:
        return lines
    sums = {unit: mat.force_if(KPA_PER_UNIT[unit]) or 0.0 for unit in ("kPa", "mmHg", "N/cm2", "psi", "mbar", "g/cm2")}
    lines.append(f"its sum would be {', '.join(f'{figure(force)} N in {unit}' for unit, force in sums.items())}")
    if load_n is not None:
        best = min(sums, key=lambda unit: abs(np.log(sums[unit] / load_n)))
        lines.append(f"nearest to {load_n:g} N: {best}, unless they are raw counts")
    return lines


def mat_signs(mat: MatReading) -> list[str]:
    """Return a picture of signs as the file has it: the darker, the harder; blank: nothing. A mat's row is a line."""
    every = max(1, int(np.ceil(mat.shape[1] / (_WIDEST if mat.foil is None else _WIDEST_PICTURE))))
    high = every if mat.foil is None else 2 * every  # signs are twice as high as wide; a table's rows stay rows
    rows = np.add.reduceat(mat.pressure, np.arange(0, mat.shape[0], high), axis=0)
    some = np.add.reduceat(rows, np.arange(0, mat.shape[1], every), axis=1)
    return [_in_signs(row / some.max()) for row in some]


def _in_signs(shares: Float) -> str:
    """Return shares of 1 as signs; whatever is above 0 is seen."""
    level = np.ceil(np.clip(shares, 0.0, 1.0) * (len(_SIGNS) - 1)).astype(int)
    return "".join(_SIGNS[each] for each in level)


def mat_png(mat: MatReading) -> bytes:
    """Return a picture of the mat, a square a cell as the file has it, row 0 on top; gray: no sensor."""
    side = max(1, min(_CELL_PX, _GREATEST_PX // max(mat.shape)))
    share = mat.pressure / mat.peak
    color = ramp_colors(np.round(share * 14.0).ravel() / 14.0, "one_way").reshape(*mat.shape, 3)
    color[~mat.is_sensor] = _NO_SENSOR
    pixels = np.repeat(np.repeat(color, side, axis=0), side, axis=1)
    return png_bytes(np.round(255.0 * pixels).astype(np.uint8))


def mat_table_lines(asked: Mat, mat: MatReading) -> list[str]:
    """Return the table to paste into a job: what was given, and what neither the file states nor was given."""
    is_foil = mat.foil is not None
    lines = ["[mat]", f"file = {toml_value(asked.file)}"]
    given = {name: getattr(asked, name) for name in (*_OF_ALL, *(OF_PICTURES if is_foil else _OF_TABLES))}
    plain = Mat()
    for name, value in given.items():
        if value != getattr(plain, name):
            shown = [int(each) if each == int(each) else each for each in value] if isinstance(value, tuple) else value
            lines.append(f"{name} = {toml_value(shown)}")
    if not mat.is_kpa and asked.unit is None and not is_foil:
        lines.append('unit = "?"                # kPa, mmHg, N/cm2 ...; or raw: then only its shape counts')
    if mat.pitch_mm is None and is_foil:
        lines.append("dpi = ?                   # what the scanner was set to; of a photo sheet_mm = [width, height]")
    elif mat.pitch_mm is None:
        lines.append("pitch_mm = [?]            # from cell to cell, mm")
    lines += [
        "# One place tells which way round it lay; two or three lay it. Else it is laid by what it shows.",
        "# [[mat.places]]",
        "# pixel = [0, 0]            # right and down, as picture programs tell it"
        if is_foil
        else "# cell = [0, 0]             # row and column, from 0",
        "# point = [x, y, z]         # about where that lay, in the numbers of the scan with clay",
    ]
    return lines


def laid_lines(laid: LaidMat) -> list[str]:
    """Return how a mat was laid on a job's body side, and each way it fits."""
    agrees = "" if laid.agreement is None else f"; it agrees with the imprint by {laid.agreement:.2f} of 1"
    ways = [
        f"pose {number}: {laid.turned_words(number)}, seen from {'below' if each.is_flipped else 'the body'}; "
        f"agrees by {each.agreement:.2f}"
        for number, each in enumerate(laid.poses, 1)
    ]
    return [
        f"laid on the body side{agrees}; {counted(max(len(ways), 1), 'way')} it fits",
        *(ways if len(ways) > 1 else []),
        *(f"note: {each}" for each in laid.notes),
    ]
