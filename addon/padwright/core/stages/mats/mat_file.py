"""Any mat's file to pressures, a picture of a foil too: the job goes before what the file states."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Bool, Float
from ...base.notes import Note, on_change, to_look_at
from ...base.text import counted, figure
from ...job.mat_table import KPA_PER_UNIT, OF_PICTURES, PICTURE_ENDINGS, RAW, Mat
from ..scans.pictures import is_picture
from .foil_picture import read_foil
from .header import HeaderFacts, header_facts
from .mat_faults import dead_lines, filled_in, holes, saturated_cells
from .mat_json import read_mat_json
from .mat_reading import MatReading
from .mat_text import read_mat_text
from .raw_mat import RawMat

_UNLOADED = 0.5  # of the median frame's sum: below it nobody bore on the mat yet; our choice
_SHOWN = 6  # cells named in a sentence


def read_mat(data: bytes, name: str, asked: Mat, *, needs_unit: bool = True) -> MatReading:
    """Return what a mat's file says, by the keys that the job gives for it.

    Raises InputError when it holds no grid, rows differ in length, the unit is not known (unless `needs_unit` is
    False), or no cell is pressed; of a picture as
    `read_foil`.
    """
    if is_picture(data) or PurePath(name).suffix.lower() in PICTURE_ENDINGS:
        return read_foil(data, name, asked)
    raw = _raw(data, name, asked)
    facts = header_facts(raw.header)
    notes = [*raw.notes, *_idle_of_pictures(asked)]
    unit, basis, factor = _unit(facts, asked, notes)
    pitch, pitch_basis = _pitch(facts, asked, notes)
    offset = asked.offset_mm or facts.offset_mm or tuple(0.5 * each for each in pitch or (0.0, 0.0))
    frames, is_sensor = _sensors(raw.frames, (*asked.no_sensor, *facts.no_sensor), notes)
    zero = asked.zero or facts.zero or 0.0
    if zero:
        frames = np.where(np.isfinite(frames), np.maximum(frames - zero, 0.0), np.nan)
        notes.append(f"{zero:g} was taken off each reading: what an unloaded cell reads.")
    values, rule, sums, used = _of_frames(frames, asked, name, notes)
    stated = asked.saturated_at if asked.saturated_at is not None else facts.saturated_at
    is_full = _saturated(frames[used], stated, zero)
    is_read = np.isfinite(values)
    values = np.where(is_read, values, 0.0)
    if not (values > 0.0).any():
        raise InputError(f'"{name}": no cell is pressed.', hint="Export a frame in which somebody bears on the mat.")
    is_hole = holes(is_read, values)
    is_line = np.zeros(values.shape, dtype=bool)
    for what, line in dead_lines(values, is_read):
        index: tuple[int | slice, int | slice] = (line, slice(None)) if what == "row" else (slice(None), line)
        is_line[index] |= is_read[index]
        notes.append(
            to_look_at(f"{what.capitalize()} {line} reads nothing between two that are pressed, and was filled in.")
        )
    single = _cells_of(is_hole & ~is_line)
    is_hole |= is_line
    whole = filled_in(values, is_hole)
    gained = float(whole.sum() - values.sum()) / float(whole.sum())
    filled = _cells_of(is_hole)
    if single and gained > 0.0:
        notes.append(
            to_look_at(
                f"{counted(len(single), 'cell')} amid others had no reading and "
                f"{'was' if len(single) == 1 else 'were'} filled in: {_named(single)}."
            )
        )
    full = _cells_of(is_full)
    if full:
        notes.append(
            to_look_at(
                f"{counted(len(full), 'cell')} {'is' if len(full) == 1 else 'are'} saturated: {_named(full)}. There "
                "the pressure was higher than the mat can tell, so peak and sum are too low."
            )
        )
    return (
        MatReading(
            pressure=whole * (factor or 1.0),
            is_sensor=is_sensor | is_hole,
            is_kpa=factor is not None,
            unit=unit,
            unit_basis=basis,
            kpa_per_unit=factor,
            pitch_mm=pitch,
            pitch_basis=pitch_basis,
            offset_mm=(float(offset[0]), float(offset[1])),
            frame_count=len(frames),
            frame_rule=rule,
            frame_sums=sums,
            saturated=full,
            filled=filled,
            written=raw.written,
            header=raw.header,
            notes=tuple(notes),
        )
        if factor is not None or not needs_unit or unit == RAW
        else _refuse_unit(name, facts, whole, pitch)
    )


def _idle_of_pictures(asked: Mat) -> list[Note]:
    idle = [name for name in OF_PICTURES if getattr(asked, name) != getattr(Mat(), name)]
    return [on_change(f"{', '.join(idle)}: of pictures alone; this mat is a table.")] if idle else []


def _raw(data: bytes, name: str, asked: Mat) -> RawMat:
    grid = None if asked.grid is None else (int(asked.grid[0]), int(asked.grid[1]))
    is_json = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"{" or name.lower().endswith(".json")
    return read_mat_json(data, name, grid) if is_json else read_mat_text(data, name, grid)


def _unit(facts: HeaderFacts, asked: Mat, notes: list[str]) -> tuple[str, str, float | None]:
    """Return the unit, what says so, and kPa for one number; None where that is not known."""
    if asked.kpa_per_unit is not None:
        return asked.unit or "", "job", asked.kpa_per_unit
    if asked.unit is not None:
        others = [each for each in facts.units if each != asked.unit]
        if others and asked.unit not in facts.units:
            notes.append(
                to_look_at(
                    f'The file names {" and ".join(others)}, the job says unit = "{asked.unit}": the job\'s was taken.'
                )
            )
        return asked.unit, "job", KPA_PER_UNIT.get(asked.unit)
    if len(facts.units) == 1:
        return facts.units[0], "file", KPA_PER_UNIT.get(facts.units[0])
    return "", "unknown", None


def _pitch(facts: HeaderFacts, asked: Mat, notes: list[str]) -> tuple[tuple[float, float] | None, str]:
    if asked.pitch_mm is not None:
        given = (asked.pitch_mm[0], asked.pitch_mm[-1])
        stated = facts.pitch_mm
        if stated is not None and max(abs(one / two - 1.0) for one, two in zip(given, stated, strict=True)) > 0.02:
            notes.append(
                to_look_at(
                    f"The file states cells {stated[0]:g} x {stated[1]:g} mm apart, the job {given[0]:g} x {given[1]:g}"
                    ": that of the job was taken."
                )
            )
        return given, "job"
    if facts.pitch_mm is None:
        return None, "unknown"
    if facts.is_pitch_bare:
        notes.append(
            to_look_at(
                f"The file states a distance of cells of {facts.pitch_mm[0]:g} without a unit: taken as mm. If that is "
                "wrong, write pitch_mm."
            )
        )
    return facts.pitch_mm, "file"


def _sensors(frames: Float, marks: Sequence[float], notes: list[str]) -> tuple[Float, Bool]:
    """Return the frames, nan where there is no sensor or no reading, and where there is one, (rows, columns)."""
    is_mark = np.zeros(frames.shape, dtype=bool)
    for each in marks:
        is_mark |= frames == each
    below = frames[np.isfinite(frames) & (frames < 0.0) & ~is_mark]
    if len(below):
        levels = np.unique(below)
        if len(levels) == 1 and levels[0] == np.round(levels[0]):
            is_mark |= frames == levels[0]
            notes.append(f"{levels[0]:g} was taken for: no sensor.")
        else:
            notes.append(
                to_look_at(
                    f"{counted(len(below), 'reading')} below 0, down to {levels[0]:g}, counted as 0; if some number "
                    "stands for no sensor, write no_sensor."
                )
            )
    frames = np.where(is_mark, np.nan, np.where(frames < 0.0, 0.0, frames))
    return frames, np.asarray(np.isfinite(frames).any(axis=0))


def _of_frames(frames: Float, asked: Mat, name: str, notes: list[str]) -> tuple[Float, str, Float, Bool]:
    """Return one frame of them, in words how, the sum of each, and which were used, (f,)."""
    sums = np.nansum(frames, axis=(1, 2))
    used = np.ones(len(frames), dtype=bool)
    if len(frames) == 1:
        if asked.frame is not None and asked.frame > 1:
            raise InputError(f'"{name}" holds one frame; frame {asked.frame} was asked for.', hint="Leave frame out.")
        return frames[0], "one frame", sums, used
    if asked.frames == "one":
        number = asked.frame or 1
        if number > len(frames):
            raise InputError(f'"{name}" holds {len(frames)} frames; frame {number} was asked for.')
        used = np.arange(len(frames)) == number - 1
        return frames[number - 1], f"frame {number} of {len(frames)}", sums, used
    used = sums >= _UNLOADED * float(np.median(sums[sums > 0.0])) if (sums > 0.0).any() else used
    left = int((~used).sum())
    if left:
        notes.append(
            f"{counted(left, 'frame')} of {len(frames)} bore less than half of what is usual (not settled yet) "
            f"and {'was' if left == 1 else 'were'} left out."
        )
    some = frames[used]
    is_read = np.isfinite(some).any(axis=0)
    whole = np.where(np.isfinite(some), some, 0.0)
    count = np.maximum(np.isfinite(some).sum(axis=0), 1)
    mean, most = whole.sum(axis=0) / count, whole.max(axis=0)
    if asked.frames == "maximum" and mean.any():
        notes.append(
            to_look_at(
                f"Each cell's maximum over {len(some)} frames adds up to {most.sum() / mean.sum():.2f} times their "
                "mean: it never bore so much at once."
            )
        )
    values = most if asked.frames == "maximum" else mean
    return np.where(is_read, values, np.nan), f"{asked.frames} of {len(some)} frames", sums, used


def _saturated(frames: Float, stated: float | None, zero: float) -> Bool:
    at = None if stated is None else stated - zero
    greatest = float(np.nanmax(frames)) if np.isfinite(frames).any() else 0.0
    found = np.zeros(frames.shape[1:], dtype=bool)
    for frame in frames:
        found |= saturated_cells(np.nan_to_num(frame), at, greatest)
    return found


def _cells_of(is_one: Bool) -> tuple[tuple[int, int], ...]:
    return tuple((int(row), int(column)) for row, column in np.argwhere(is_one))


def _named(cells: Sequence[tuple[int, int]]) -> str:
    some = ", ".join(f"[{row}, {column}]" for row, column in cells[:_SHOWN])
    return some if len(cells) <= _SHOWN else f"{some} and {len(cells) - _SHOWN} more"


def _refuse_unit(name: str, facts: HeaderFacts, values: Float, pitch: tuple[float, float] | None) -> MatReading:
    """Refuse pressures without a unit, with what each would make of them."""
    said = f"names {' and '.join(facts.units)}" if facts.units else "does not state what unit its numbers are in"
    meant = ""
    if pitch is not None:
        sums = [
            f"{figure(float(values.sum()) * KPA_PER_UNIT[unit] * pitch[0] * pitch[1] / 1000.0)} N in {unit}"
            for unit in ("kPa", "mmHg", "N/cm2", "psi")
        ]
        meant = f" Its sum would be {', '.join(sums)}: take what is nearest to the load it bore."
    error = InputError(
        f'"{name}" {said}.',
        hint=f'Write unit = "kPa", "mmHg", "N/cm2" ... or "raw" (numbers of no unit).{meant}',
    )
    error.within = ("unit",)
    raise error


def unit_note(mat: MatReading) -> str:
    """Return what to say of numbers without a unit; "" where they have one."""
    if mat.is_kpa:
        return ""
    if mat.foil is not None:
        return on_change(
            "How dark a foil is rises with pressure, not in proportion: zones by percent hold, how much more one place "
            "bears than another does not, and no sum was checked against the load."
        )
    return on_change(
        "The mat's numbers are raw: only their shape counts. With kpa_per_unit they have a force and can be compared "
        "in kPa."
    )
