"""Text of any mat: find how cells are parted, which lines are rows of them, and where frames begin."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.notes import to_look_at
from ...base.text import counted
from .header import HeaderFacts, header_facts, number
from .raw_mat import RawMat

_SIGNS = ((";", "semicolons"), ("\t", "tabs"), (",", "commas"), ("", "spaces"))
_CELL = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_NOTHING = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "---", "*", "x", "."})
_LEAST_NUMBERS = 2  # in a row of cells
_MOST_CELLS = 20_000_000
_MOST_LABEL = 12  # characters of a row's name


@dataclass(frozen=True)
class _CellRow:
    line: int  # from 1
    label: str  # what stands before its cells and is no number
    cells: tuple[str, ...]


@dataclass(frozen=True)
class _CellBlock:
    """Rows of one width, one line below the other."""

    rows: tuple[_CellRow, ...]

    @property
    def width(self) -> int:
        return len(self.rows[0].cells)


def read_mat_text(data: bytes, name: str, grid: tuple[int, int] | None = None) -> RawMat:
    """Return what a text file of a mat holds; `grid` is the rows and columns of a frame, where they are known.

    Raises InputError when there are no rows of numbers in it, or rows differ in length (line told).
    """
    lines = _decoded(data).splitlines()
    sign, told = _sign_of(lines)
    rows: list[_CellRow | None] = []
    header: list[str] = []
    for index, line in enumerate(lines, 1):
        row = _row(line, sign, index)
        rows.append(row)
        if row is None and line.strip():
            header.append(line.strip().strip('"')[:300])
    blocks = _blocks(rows, lines)
    if not blocks:
        first = next((line.strip()[:40] for line in lines if line.strip()), "")
        raise InputError(
            f'"{name}" holds no grid of numbers; it begins with "{first}".',
            hint="Export the mat's pressures as text: rows of numbers, parted by commas, semicolons, tabs or spaces.",
        )
    facts = header_facts(header)
    main, header_rows = _main_blocks(blocks, name)
    header += [" ".join(each.cells) for each in header_rows]
    notes: list[str] = []
    tables = []
    for block in main:
        table, said = _without_numbering(block)
        tables.append(table)
        notes += [each for each in said if each not in notes]
    frames = _frames(tables, main, facts, grid, name, notes)
    uses_comma = any("," in cell for block in main[:1] for row in block.rows for cell in row.cells)
    decimals = ", decimal commas" if uses_comma else ""
    return RawMat(frames, tuple(header), f"cells parted by {told}{decimals}", tuple(notes))


def _decoded(data: bytes) -> str:
    for mark, code in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig")):
        if data.startswith(mark):
            return data.decode(code, "replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # "²" and "µ" as older programs write them


def _cells(line: str, sign: str) -> list[str]:
    parts = line.split(sign) if sign else line.split()
    return [part.strip().strip('"').strip() for part in parts]


def _sign_of(lines: Sequence[str]) -> tuple[str, str]:
    """Return what parts the cells, and its name: that which makes most numbers of the file's lines."""

    def numbers(sign: str) -> int:
        found = (_row(line, sign, 0) for line in lines)
        return sum(len(row.cells) for row in found if row is not None)

    some = list(lines)
    if len(some) > 4000:  # enough to tell
        lines = some[:2000] + some[len(some) // 2 : len(some) // 2 + 2000]
    best = max(_SIGNS, key=lambda each: numbers(each[0]))  # of equals the first
    return best


def _is_number(cell: str, sign: str) -> bool:
    return bool(_CELL.fullmatch(cell)) and not (sign == "," and "," in cell)


def _row(line: str, sign: str, index: int) -> _CellRow | None:
    """Return a line as a row of cells, or None where it is none: numbers, or signs that stand for none."""
    if not line.strip():
        return None
    cells = _cells(line.rstrip("\r\n"), sign)
    label = ""
    if len(cells) > _LEAST_NUMBERS and cells[0].lower() not in _NOTHING and not _is_number(cells[0], sign):
        if len(cells[0]) > _MOST_LABEL:
            return None
        label, cells = cells[0], cells[1:]
    while len(cells) > 1 and cells[-1] == "" and sign:
        cells = cells[:-1]
        if any(each == "" for each in cells):  # an empty cell within: the last one may be empty too
            cells = [*cells, ""]
            break
    are_numbers = [_is_number(each, sign) for each in cells]
    if sum(are_numbers) < _LEAST_NUMBERS:
        # A row of nothing but signs for no sensor is one of cells; one of commas alone, as spreadsheets leave, is not.
        marks = [each for each in cells if each.lower() in _NOTHING]
        if len(cells) < 3 or len(marks) + sum(are_numbers) < len(cells) or not any(cells):
            return None
    if not all(is_one or each.lower() in _NOTHING for each, is_one in zip(cells, are_numbers, strict=True)):
        return None
    return _CellRow(index, label, tuple(cells))


def _blocks(rows: Sequence[_CellRow | None], lines: Sequence[str]) -> list[_CellBlock]:
    found: list[list[_CellRow]] = []
    is_open = False
    for row in rows:
        if row is None:
            is_open = False
        elif is_open and len(found[-1][-1].cells) == len(row.cells):
            found[-1].append(row)
        else:
            found.append([row])
            is_open = True
    if len(found) > 2 and all(len(each) == 1 for each in found):  # a blank line after each row
        widths = {len(each[0].cells) for each in found}
        blank = all(not lines[each[0].line].strip() for each in found[:-1] if each[0].line < len(lines))
        if len(widths) == 1 and blank:
            found = [[row for each in found for row in each]]
    return [_CellBlock(tuple(each)) for each in found]


def _main_blocks(blocks: Sequence[_CellBlock], name: str) -> tuple[list[_CellBlock], list[_CellRow]]:
    """Return the blocks of cells, and rows of numbers that are none: a few words of the header."""
    cells: Counter[int] = Counter()
    for block in blocks:
        cells[block.width] += len(block.rows) * block.width
    width = cells.most_common(1)[0][0]
    main = [block for block in blocks if block.width == width]
    for before, block in pairwise(blocks):
        joins = before.rows[-1].line + 1 == block.rows[0].line
        if joins and width in (before.width, block.width) and min(before.width, block.width) >= 0.5 * width:
            if len(before.rows) == 1 and _numbers_columns(before.rows[0]):
                continue
            odd = block.rows[0] if before.width == width else before.rows[-1]
            other = before if before.width == width else block
            raise InputError(
                f'"{name}", line {odd.line}: {counted(len(odd.cells), "cell")}; the rows beside it have {other.width}.',
                hint="Each row needs as many cells: leave one empty, or -1, where there is no sensor.",
            )
    return main, [row for block in blocks if block.width != width for row in block.rows if len(block.rows) < 3]


def _table(rows: Sequence[_CellRow]) -> Float:
    return np.array(
        [[np.nan if each.lower() in _NOTHING else number(each) for each in row.cells] for row in rows], dtype=np.float64
    )


def _counts_up(values: Float) -> bool:
    return len(values) > 2 and bool(
        np.isfinite(values).all() and (np.diff(values) == 1.0).all() and values[0] in (0, 1)
    )


def _numbers_columns(row: _CellRow) -> bool:
    """Say if a row's numbers count up, beside what may stand empty over the numbers of rows."""
    numbers = _table([row])[0]
    return _counts_up(numbers[np.isfinite(numbers)])


def _without_numbering(block: _CellBlock) -> tuple[Float, list[str]]:
    """Return the cells of a block without numbers of rows and columns that stand beside them."""
    table = _table(block.rows)
    if table.shape[0] < 2:
        return table, []
    first = table[0]
    head = first[1:] if not np.isfinite(first[0]) or _counts_up(first[1:]) else first
    is_column_row = _counts_up(head) and table.shape[1] > 3
    body = table[1:] if is_column_row else table
    is_row_column = _counts_up(body[:, 0]) and table.shape[1] > 3 and (is_column_row or not np.isfinite(first[0]))
    said = []
    if is_column_row and (is_row_column or head is first or block.rows[0].label):
        table = body
        said.append("Its first row numbers the columns and was left out.")
    if is_row_column:
        table = table[:, 1:]
        said.append("Its first column numbers the rows and was left out.")
    return table, said


def _square(width: int) -> str:
    """Return which square grid a row may be, with what may stand before it; "" where none is near."""
    for beside in range(6):
        side = math.isqrt(width - beside)
        if side * side == width - beside:
            return f" [{side}, {side}] would fit{f', with {beside} before it (a time, a count)' if beside else ''}."
    return ""


def _frames(
    tables: list[Float],
    blocks: Sequence[_CellBlock],
    facts: HeaderFacts,
    grid: tuple[int, int] | None,
    name: str,
    notes: list[str],
) -> Float:
    """Return the frames, (f, rows, columns): a block each, blocks below each other in one, or a row each."""
    if sum(each.size for each in tables) > _MOST_CELLS:
        raise InputError(f'"{name}" holds more than {_MOST_CELLS / 1e6:g} million cells.', hint="Export fewer frames.")
    stated = (facts.rows, facts.columns) if facts.rows and facts.columns else None
    shape = grid or stated
    width = tables[0].shape[1]
    if any(each.shape[1] != width for each in tables):
        raise InputError(f'"{name}": its frames differ in how many cells a row has.', hint="Export them anew.")
    if shape is not None:
        rows, columns = shape
        whole = np.concatenate(tables)
        if width == columns and len(whole) % rows == 0:
            return whole.reshape(-1, rows, columns)
        beside = width - rows * columns
        if 0 <= beside <= 20:
            if beside:
                first = "The first number" if beside == 1 else f"The first {beside} numbers"
                notes.append(f"{first} of each row (a time, a count) {'was' if beside == 1 else 'were'} left out.")
            return whole[:, beside:].reshape(-1, rows, columns)
        if grid is not None:
            raise InputError(
                f'"{name}": frames of {rows} x {columns} cells were asked for, and it has rows of {width} numbers, '
                f"{len(whole)} in all.",
                hint=f"Write grid = [rows, columns] so that it has {width} columns, or rows times columns is {width}.",
            )
        notes.append(
            to_look_at(f"Its header states {rows} x {columns} cells, its rows have {width} numbers: taken as they are.")
        )
    heights = Counter(len(each) for each in tables)
    height = max(heights, key=lambda each: (heights[each], each))
    odd = [index for index, each in enumerate(tables) if len(each) != height]
    if odd == [len(tables) - 1] and len(tables) > 1 and len(tables[-1]) < height:
        notes.append(f"Its last frame ends after {counted(len(tables[-1]), 'row')} of {height} and was left out.")
        tables = tables[:-1]
    elif odd:
        line = blocks[odd[0]].rows[0].line
        raise InputError(
            f'"{name}", line {line}: a grid of {counted(len(tables[odd[0]]), "row")} begins; others have {height}.',
            hint="Leave other tables out of the export, or write grid = [rows, columns].",
        )
    if height < 2 or width < 2:
        raise InputError(
            f'"{name}" is no grid: it has {counted(height, "row")} of {counted(width, "cell")}.',
            hint=f"If a row is a whole frame, write grid = [rows, columns] with rows times columns {width}.",
        )
    if width >= 200 and width > 4 * height:
        notes.append(
            to_look_at(
                f"Each row has {width} numbers, in {counted(height, 'row')}: if a row is a whole frame, write "
                f"grid = [rows, columns].{_square(width)}"
            )
        )
    return np.stack(tables)
