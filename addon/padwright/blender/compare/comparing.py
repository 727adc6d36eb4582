"""A print held against the part: worked out by the command line's use case, kept for the panel, shown as colors."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ...core.base.files import MOST_SCAN_BYTES, read_named
from .. import attributes, state
from ..bridge import as_typed
from ..job_places import sub_table
from ..stage_memory import begun_memory
from ..stage_work import part_pose, result_object
from ..trials import next_print, notes
from ..view import value_colors

if TYPE_CHECKING:
    from ...core.base.progress import Steps
    from ...core.job.schema import Job
    from ...core.run.parts import MadePart
    from ...core.stages.compare.records import Comparison, Correction

_PLUS_MINUS_MM = 0.3
"""Limits of a length on a soft print, by caliper (common practice, no source); as the command line takes them."""

OFF = "padwright_off_mm"
"""Mesh attribute of the print: how far it is off the part; above 0 it stands out."""


def compared(job: Job, folder: Path, given: Any) -> Steps[tuple[MadePart, Comparison]]:
    """Return the work that makes the part, as far as it is not remembered, and holds the scan of its print against it.

    Raises PadwrightError as the stages do, and when the scan cannot be read or does not show the part.
    """
    from ...core.base.progress import nested
    from ...core.run.asked_part import asked_from_part
    from ...core.run.compare_printed import PrintReadings, compare_printed
    from ...core.stages.compare.scale import PrintLength

    scan = Path(bpy.path.abspath(given.scan.strip()))
    sizes = [(axis, getattr(given, f"extent_{axis}_mm")) for axis in ("long", "x", "y", "z")]
    readings = PrintReadings(
        unit=given.unit,
        weight_g=as_typed(given.weight_g) or None,
        on_print=[PrintLength(axis, as_typed(size), _PLUS_MINUS_MM) for axis, size in sizes if size > 0.0],
    )
    data = read_named(scan, "The scan of the print", most_bytes=MOST_SCAN_BYTES)
    part = yield from nested(begun_memory().reach(job, folder, state.STAGES[-1]), 0.0, 0.5)
    found = yield from nested(
        compare_printed(asked_from_part(part), data, scan.name, readings, seed=job.seed), 0.5, 1.0
    )
    return part, found


def keep(part: Any, found: Comparison) -> None:
    """Keep what was found for the panel."""
    from ...core.run.compare_words import distance_words, scale_words, shrinkage_words

    kept = part.compare
    kept.of, kept.said = found.revision, distance_words(found)
    facts = [scale_words(found), *(f"{each.words}: {shrinkage_words(each)}" for each in found.shrinkage)]
    facts += [found.bend.note] if found.bend.is_clear else []
    facts += [found.weighing.note] if found.weighing is not None else []
    kept.facts = "\n".join(facts)
    kept.doubts = "\n".join(found.doubts)
    kept.worst.clear()
    for each in found.worst:
        row = kept.worst.add()
        row.name, row.off_mm, row.at = each.words, each.distance_mm, each.position_mm
    kept.corrections = "\n".join(f"{_correction(each)}: {each.why}" for each in found.corrections)
    kept.keys = json.dumps([[list(each.path), each.value] for each in found.corrections]) if found.corrections else ""
    kept.limit_mm = found.color_limit_mm
    notes.tell_compared(part)


def _correction(each: Correction) -> str:
    """Return what a correction sets, in words: neither key has a field of its own."""
    if each.path[-1] == "shrinkage_pct":
        return "Make up for a shrinkage of " + ", ".join(
            f"{value:g} % along {axis}" for axis, value in zip("xyz", each.value, strict=True)
        )
    return f"{str(each.path[-1]).removesuffix('_pct').capitalize()} {each.value:g} %"


def show(context: bpy.types.Context, made: MadePart, found: Comparison) -> str:
    """Show the print on the part, colored by how far it is off; return in words what the colors mean."""
    part = context.scene.padwright
    kept = part.compare
    kept.obj = result_object(context, kept.obj, f"{part.number} Print", found.scan, part_pose(context, made))
    attributes.write(kept.obj.data, OFF, np.where(found.is_judged, found.distance_mm, 0.0))
    state.hide(kept.obj, True)  # so that it goes with its colors
    return show_again(context)


def show_again(context: bpy.types.Context) -> str:
    """Color the print by how far it is off, and return in words what the colors mean."""
    from ...core.base.scales import in_words, round_ticks

    kept = context.scene.padwright.compare
    limit = kept.limit_mm
    values = attributes.read(kept.obj.data, OFF)
    assert values is not None
    marks = round_ticks(-limit, limit, 4)
    said = [in_words(value, limit / 2) for value in marks]
    said[0], said[-1] = f"{said[0]} or more short", f"{said[-1]} or more over"
    return value_colors.show(
        context, kept.obj, values, title="Print Off the Part", unit="mm", low=-limit, high=limit, ramp="two_way",
        ticks=list(zip(marks, said, strict=True)),
    )  # fmt: skip


def take(part: Any) -> list[str]:
    """Set the corrected keys in the next print, and return them in words.

    Raises InputError when there is no folder of this print's files.
    """
    next_print.begin(part, part.compare.of, next_print.next_free(part))
    tables = json.loads(part.kept) if part.kept else {}
    said = []
    for path, value in json.loads(part.compare.keys):
        sub_table(tables, tuple(path[:-1]))[path[-1]] = value
        said.append(str(path[-1]).removesuffix("_pct").replace("_", " "))
    part.kept = json.dumps(tables)
    part.compare.keys = ""
    return said
