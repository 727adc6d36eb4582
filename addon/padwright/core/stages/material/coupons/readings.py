"""What a person wrote down while pressing blocks: a CSV file in, checked readings out."""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NoReturn

import numpy as np

from ....base.errors import InputError
from ....base.mesh import Float, Int
from ....base.text import counted
from .coupons import READ_MM, Coupon
from .reading_notes import STEPS_MM, hasty, height_sd, rounding, sinking

COLUMNS = ("block", "load_kg", "height_mm")
MASS, STEP, WAIT = "mass_g", "step_mm", "wait_s"
_REPEAT = re.compile(r"height_[2-9]_mm")
_MOST_SHOWN = 12
MOST_READINGS = 300
"""The fit's work grows with the third power of the readings; at 300, twenty-five on each of twelve blocks, it takes
some seconds. Nobody presses blocks more often by hand."""
_LONGEST_LINE = 2000
MOST_READINGS_BYTES = 1_000_000
_HEAVIEST_KG = 250.0
_TALLEST = 1.15
"""Share of its nominal height beyond which a block without load is another block or another unit."""

_UNITS = {"cm": 0.1, "inches": 1.0 / 25.4, "metres": 0.001}


@dataclass(frozen=True, eq=False)
class Readings:
    """Heights under load, in the order of the file."""

    block: Int  # (n,); number of the block
    load_kg: Float  # (n,)
    height_mm: Float  # (n,); mean of the repeats
    height_sd_mm: Float  # (n,); standard deviation of that mean
    line: Int  # (n,); in the file
    source: str  # the file's name
    notes: tuple[str, ...] = ()
    mass_g: Mapping[int, float] = field(default_factory=dict)  # by block number, of the blocks that were weighed
    # between two marks of what the heights were read with; as stated, or seen from their rounding.
    step_mm: float = READ_MM

    def place(self, index: int) -> str:
        """Return "file:line" of a reading."""
        return f"{self.source}:{self.line[index]}"


class _Faults:
    def __init__(self, name: str) -> None:
        self.name = name
        self.found: list[tuple[int, str]] = []

    def add(self, line: int, text: str) -> None:
        self.found.append((line, f"{self.name}:{line}: {text}"))

    def stop(self) -> NoReturn:
        told = [text for _, text in sorted(self.found, key=lambda fault: fault[0])]
        more = len(told) - _MOST_SHOWN
        if more > 0:
            told = [*told[:_MOST_SHOWN], f"... and {more} more."]
        raise InputError("\n".join(told))


def read_readings(data: bytes, name: str, coupons: Sequence[Coupon]) -> Readings:
    """Return the readings of a CSV file.

    Comma, semicolon or tab between columns; with the last two also decimal commas. Lines that begin with # and lines
    without a height are passed over.

    The name is the file's, for messages. Raises InputError when columns are missing, a value is no number, a block is
    not known, a height or a load is in another unit or past what the block can be, or a block grew taller under more
    load. All faults are told, each with its line.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"{name}:{line}: the text is not UTF-8.", hint="Save the file as CSV, UTF-8.") from None
    faults = _Faults(name)
    known = {coupon.number: coupon for coupon in coupons}
    sides = _Sides()
    rows = _rows(text, name, faults, known, sides)
    if len(rows) > MOST_READINGS:
        raise InputError(
            f"{name}: there are {len(rows)} readings; {MOST_READINGS} are the most.",
            hint="Keep the heights that were read after each load had settled, one row a load and block.",
        )
    if faults.found:
        faults.stop()
    if not rows:
        raise InputError(f"{name}: there is no reading with a height.", hint="Fill in height_mm and keep the columns.")
    block = np.array([row[1] for row in rows], dtype=np.int32)
    load = np.array([row[2] for row in rows])
    height = np.array([float(np.mean(row[3])) for row in rows])
    step = sides.step_mm or rounding([each for row in rows for each in row[3]])
    spread = np.array([height_sd(step, len(row[3])) for row in rows])
    lines = np.array([row[0] for row in rows], dtype=np.int32)
    readings = Readings(block, load, height, spread, lines, name)
    _check_units(readings, known, faults)
    if not faults.found:
        _check_order(readings, faults)
    if faults.found:
        faults.stop()
    notes = (*_notes(readings, rows, coupons), *hasty(sides.wait_s), *sinking(rows, known))
    return Readings(block, load, height, spread, lines, name, notes, sides.mass_g, step)


@dataclass
class _Sides:
    """What stands in the other columns: weights, shortest waits in seconds of each block, the instrument's step."""

    mass_g: dict[int, float] = field(default_factory=dict)
    wait_s: dict[int, float] = field(default_factory=dict)
    step_mm: float = 0.0


_Row = tuple[int, int, float, list[float]]


def _rows(text: str, name: str, faults: _Faults, known: Mapping[int, Coupon], sides: _Sides) -> list[_Row]:
    lines = text.splitlines()
    numbered = enumerate(lines, 1)
    kept = [(number, line) for number, line in numbered if line.strip() and not line.lstrip().startswith("#")]
    if not kept:
        raise InputError(f"{name}: the file is empty.")
    start, header = kept[0]
    mark = next((each for each in (";", "\t") if each in header), ",")
    names = [each.strip().strip('"').lower() for each in header.split(mark)]
    missing = [each for each in COLUMNS if each not in names]
    if missing:
        raise InputError(
            f"{name}:{start}: the column {' and '.join(missing)} is missing; found {', '.join(names)[:120]}.",
            hint="The first line names the columns: block,load_kg,height_mm.",
        )
    if len(set(names) - {""}) != len([each for each in names if each]):
        raise InputError(f"{name}:{start}: a column is there twice.")
    heights = [index for index, each in enumerate(names) if each == "height_mm" or _REPEAT.fullmatch(each)]
    at = {each: names.index(each) for each in COLUMNS}
    rows: list[_Row] = []
    for number, line in kept[1:]:
        if len(line) > _LONGEST_LINE:
            faults.add(number, f"{len(line)} characters in one line; is it the right file?")
            continue
        try:
            cells = [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=mark))]
        except csv.Error as error:
            faults.add(number, f"it is no line of a table ({error}).")
            continue
        if len(cells) > len(names) and any(cells[len(names) :]):
            faults.add(
                number,
                f"{counted(len(cells), 'value')} for {counted(len(names), 'column')}; is a decimal comma among them?",
            )
            continue
        cells += [""] * (len(names) - len(cells))
        for column in (MASS, WAIT, STEP):
            if column in names and cells[names.index(column)]:
                _beside(column, cells[at["block"]], cells[names.index(column)], mark, number, faults, sides)
        if not any(cells[index] for index in heights):
            continue
        values = [_number(cells[index], names[index], mark, number, faults) for index in heights if cells[index]]
        load = _number(cells[at["load_kg"]], "load_kg", mark, number, faults)
        block = _number(cells[at["block"]], "block", mark, number, faults)
        if block is not None and block not in known:
            told = ", ".join(str(each) for each in sorted(known))
            faults.add(number, f"there is no block {cells[at['block']]}; known are {told}.")
            block = None
        if load is not None and load < 0.0:
            faults.add(number, f"a load of {load:g} kg cannot be; set the scale to zero with block and plank on it.")
            load = None
        good = [value for value in values if value is not None]
        if block is not None and load is not None and len(good) == len(values):
            rows.append((number, int(block), load, good))
    return rows


def _beside(column: str, block: str, cell: str, mark: str, line: int, faults: _Faults, sides: _Sides) -> None:
    """Take what stands beside a reading; twice the same is once."""
    value = _number(cell, column, mark, line, faults)
    number = _number(block, "block", mark, line, faults)
    if value is None or number is None:
        return
    if column == STEP:
        if not STEPS_MM[-1] <= value <= STEPS_MM[0]:
            faults.add(line, f"step_mm is {value:g}; marks are {STEPS_MM[-1]:g} to {STEPS_MM[0]:g} mm apart.")
        sides.step_mm = max(sides.step_mm, value)
    elif value <= 0.0:
        faults.add(line, f"a block of {value:g} g cannot be." if column == MASS else f"wait_s is {value:g}.")
    elif column == WAIT:
        sides.wait_s[int(number)] = min(value, sides.wait_s.get(int(number), value))
    elif sides.mass_g.setdefault(int(number), value) != value:
        faults.add(
            line, f"block {number:g} weighs {sides.mass_g[int(number)]:g} g in a line above and {value:g} g here."
        )


def _number(cell: str, column: str, mark: str, line: int, faults: _Faults) -> float | None:
    text = cell.replace(",", ".") if mark != "," else cell
    try:
        value = float(text)
    except ValueError:
        unit = re.fullmatch(r"[-+0-9.,]+\s*([A-Za-z\"']+)", cell)
        hint = f"leave the unit out: {column} says it" if unit else "expected a number"
        faults.add(line, f'{column} is "{cell[:40]}"; {hint}.' if cell else f"{column} is empty.")
        return None
    if not math.isfinite(value):
        faults.add(line, f'{column} is "{cell[:40]}"; expected a number.')
        return None
    return value


def _check_units(readings: Readings, known: Mapping[int, Coupon], faults: _Faults) -> None:
    nominal = np.array([known[int(number)].geometry.thickness_mm for number in readings.block])
    share = readings.height_mm / nominal
    tallest = float(share.max())
    unit = next((name for name, one in _UNITS.items() if 0.9 * one <= tallest <= _TALLEST * one), "")
    first = int(np.argmax(share))
    if unit:
        faults.add(
            int(readings.line[first]),
            f"the tallest height is {readings.height_mm[first]:g} for a block of {nominal[first]:g} mm: these look "
            f"like {unit}; write mm.",
        )
        return
    bare = readings.load_kg < np.array([known[int(number)].bare_kg for number in readings.block])
    if (readings.height_mm < 0.5).any() and 0.6 < np.median(readings.load_kg / nominal) <= _TALLEST:
        faults.add(
            int(readings.line[first]),
            f"load_kg is {np.median(readings.load_kg):g} in the middle row and blocks are {nominal[first]:g} mm tall: "
            "are load_kg and height_mm in each other's column?",
        )
        return
    # Nobody is asked to press a block to less than half of its height, and without load it is nearly all there.
    told = bare if bare.any() and np.median(share[bare]) < 0.2 else ~bare & (share > 0.0)
    if told.any() and np.median(share[told]) < (0.2 if told is bare else 0.3):
        index = int(np.flatnonzero(told)[0])
        faults.add(
            int(readings.line[index]),
            f"{'without load' if told is bare else f'under {readings.load_kg[index]:g} kg'} the height is "
            f"{readings.height_mm[index]:g} mm, but the block is {nominal[index]:g} mm "
            "tall: height_mm is what is left, not how far it went down.",
        )
        return
    for index in np.flatnonzero((readings.height_mm <= 0.0) | (share > _TALLEST)):
        faults.add(
            int(readings.line[index]),
            f"a height of {readings.height_mm[index]:g} mm cannot be: block {readings.block[index]} is "
            f"{nominal[index]:g} mm tall.",
        )
    for index in np.flatnonzero(readings.load_kg > _HEAVIEST_KG):
        faults.add(
            int(readings.line[index]),
            f"a load of {readings.load_kg[index]:g} kg is more than a person; is it in newtons (divide by 9.81), grams "
            "or pounds (divide by 2.205)?",
        )


def _check_order(readings: Readings, faults: _Faults) -> None:
    """Tell where more load left a block taller, beyond what reading errors explain."""
    for number in np.unique(readings.block):
        own = np.flatnonzero(readings.block == number)
        own = own[np.argsort(readings.load_kg[own], kind="stable")]
        for lower, upper in itertools.pairwise(own):
            grown = readings.height_mm[upper] - readings.height_mm[lower]
            error = float(np.hypot(readings.height_sd_mm[upper], readings.height_sd_mm[lower]))
            if readings.load_kg[upper] > readings.load_kg[lower] and grown > 4.0 * error:
                faults.add(
                    int(readings.line[upper]),
                    f"block {number} is {grown:.1f} mm taller under {readings.load_kg[upper]:g} kg than under "
                    f"{readings.load_kg[lower]:g} kg (line {readings.line[lower]}): a block does not grow under load. "
                    "Are two numbers swapped, or is it another block?",
                )


def _notes(readings: Readings, rows: Sequence[_Row], coupons: Sequence[Coupon]) -> tuple[str, ...]:
    notes = []
    read = set(readings.block.tolist())
    absent = [str(coupon.number) for coupon in coupons if coupon.number not in read]
    if absent:
        notes.append(f"No reading of block {', '.join(absent)}.")
    least = {coupon.number: coupon.bare_kg for coupon in coupons}
    bare = {
        number
        for number, load in zip(readings.block.tolist(), readings.load_kg.tolist(), strict=True)
        if load < least[number]
    }
    without = [str(number) for number in sorted(read - bare)]
    if without:
        notes.append(f"Block {', '.join(without)} has no height without load; its nominal height is taken, +/- 0.3 mm.")
    for line, number, _, heights in rows:
        if len(heights) > 1 and max(heights) - min(heights) > 5.0 * READ_MM:
            apart = max(heights) - min(heights)
            notes.append(
                f"{readings.source}:{line}: repeats of block {number} are {apart:.1f} mm apart; was it still sinking?"
            )
    return tuple(notes)
