"""`compare`: hold the scan of a print against the part, and say what to correct."""

from __future__ import annotations

import argparse
import json
import math
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..core.base.errors import InputError, PadwrightError
from ..core.base.files import MOST_SCAN_BYTES, read_named
from ..core.base.progress import drain
from ..core.base.units import MM_PER_UNIT
from .numbers import number
from .options import add_command, folder, write_out
from .progress import wanted_bar
from .say import program, say

if TYPE_CHECKING:
    from ..core.job.schema import Job
    from ..core.stages.compare.compare import AskedPart
    from ..core.stages.compare.scale import PrintLength

_PLUS_MINUS_MM = 0.3
"""Limits of a length on a soft print, by caliper (common practice, no source)."""

_EXTENT = re.compile(r"\s*(x|y|z|long)\s*=\s*([0-9.]+)\s*(?:\+-\s*([0-9.]+))?\s*", re.IGNORECASE)


def add_compare_command(commands: Any) -> None:
    """Add `compare` to the command line; it sets `body`, which returns lines for the person."""
    made = add_command(
        commands,
        "compare",
        "hold the scan of a print against the part, and say what to correct",
        "job.toml --printed scan.ply --unit m --weight-g 181  # how far it is off, and where",
        "job.toml --printed scan.ply --unit m --extent long=276.1  # shrunk by how much",
        "job.toml --printed scan.ply --unit m --write job-2.toml  # corrected, to run",
    )
    made.add_argument("job", metavar="JOB", help="the job file of the part that was printed")
    made.add_argument("--printed", metavar="SCAN", required=True, help="scan of the finished part")
    made.add_argument("--unit", choices=tuple(MM_PER_UNIT), help="one unit of the scan, where its file states none")
    made.add_argument("--weight-g", metavar="G", type=number(0.1, 100_000), help="the print on a kitchen scale")
    made.add_argument(
        "--extent",
        metavar="AXIS=MM",
        type=_extent,
        action="append",
        default=[],
        help="the print's longest extent by hand, long=276.1, or its whole extent along x, y or z of the bed, x=258.2; "
        f"long=276.1+-0.5 with limits (default {_PLUS_MINUS_MM:g} mm); may be given again",
    )
    made.add_argument(
        "--scan-length",
        metavar='"FROM TO MM"',
        type=_scan_length,
        action="append",
        default=[],
        help='a length found on the scan and measured by hand: "x,y,z x,y,z mm", points in the scan file\'s numbers',
    )
    made.add_argument("--pose", metavar="N", type=int, help="take another of the ways that fit")
    made.add_argument(
        "--out", metavar="DIR", type=folder, help="folder with the part's files (default: where `run` puts them)"
    )
    made.add_argument("--write", metavar="FILE", help="corrected job of the next revision; never overwrites one")
    made.add_argument("--json", action="store_true", help="print what was found as JSON instead of lines")
    made.add_argument(
        "--progress",
        action=argparse.BooleanOptionalAction,
        help="show how far the work is, or do not (default: on a terminal)",
    )
    made.set_defaults(body=_compare, verbose=False)


def _extent(text: str) -> PrintLength:
    from ..core.stages.compare.scale import PrintLength

    found = _EXTENT.fullmatch(text)
    try:
        if found is None:
            raise ValueError
        measured, limits = float(found[2]), float(found[3] or _PLUS_MINUS_MM)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text[:40]}" is none; write long=276.1, x=258.2, or x=258.2+-0.5') from None
    if not (measured > 0.0 and limits > 0.0):
        raise argparse.ArgumentTypeError(f'"{text[:40]}": a length and its limits are above 0')
    return PrintLength(found[1].lower(), measured, limits)


def _scan_length(text: str) -> tuple[list[float], list[float], float, float]:
    try:
        values = [float(each) for each in re.split(r"[\s,;]+", text.strip())]
    except ValueError:
        values = []
    if len(values) != 7 or not all(map(math.isfinite, values)) or values[6] <= 0.0:
        raise argparse.ArgumentTypeError(f'"{text[:60]}" is none; write "x,y,z x,y,z mm"')
    return values[:3], values[3:6], values[6], _PLUS_MINUS_MM


def _compare(args: argparse.Namespace) -> list[str]:
    from ..core.job.read import read_job, tell_place
    from ..core.run.compare_printed import (
        PrintReadings,
        compare_files,
        compare_printed,
        corrected_text,
    )
    from ..core.run.compare_words import compare_lines
    from ..core.run.history import printed_folder
    from ..core.run.printed_before import compare_folder, compare_name
    from ..core.stages.packing.bundle import check_folder, mend_folder, run_document, write_bundle
    from ..core.stages.scans.known_formats import scan_kinds

    path, scan = Path(args.job), Path(args.printed)
    job = read_job(path, (), scan_kinds())
    write = None if args.write is None else Path(args.write)
    if write is not None and write.exists():
        raise InputError(f'"{write}" is there already and is left as it is.', hint="Give another --write.")
    data = read_named(scan, "The scan of the print", most_bytes=MOST_SCAN_BYTES)
    out = printed_folder(job, path.parent) if args.out is None else Path(args.out)
    beside = compare_folder(out)
    check_folder(beside)
    notes = list(mend_folder(beside)) if beside.exists() else []
    readings = PrintReadings(args.unit, args.weight_g, args.scan_length, args.extent, args.pose)
    bar = wanted_bar(args)
    try:
        asked = _asked(job, path.parent, out, bar.show if bar else None, is_said=args.out is not None)
        found = drain(compare_printed(asked, data, scan.name, readings, seed=job.seed), bar.show if bar else None)
    except PadwrightError as error:
        raise tell_place(error, job) from None
    finally:
        if bar:
            bar.end()
    made = None
    if write is not None:
        text = path.read_bytes().decode("utf-8-sig")
        made = corrected_text(text, job, found, out, path.parent, write.parent, path.name)
    files, evidence = compare_files(found, asked.name)
    commit = compare_name(found.number, "json")
    bundle = write_bundle(beside, {**files, commit: run_document(evidence, files)}, commit_name=commit)
    if write is not None and made is not None:
        write_out(write, made.encode())
    if args.json:
        return [json.dumps(evidence, indent=1, allow_nan=False)]
    told = [*compare_lines(found), *(f"note: {each}" for each in (*notes, *bundle.notes))]
    told.append(f"Written to {bundle.folder}: {', '.join(bundle.names)}")
    if write is not None:
        told.append(f"Wrote {write}. Make it with: {program()} run {write}")
    return told


def _asked(job: Job, here: Path, out: Path, show: Any, *, is_said: bool) -> AskedPart:
    """Return the part from the files of its run, else by running the job, which is told before it takes its time.

    Raises InputError where the person said that the files lie in a folder (`is_said`), and no run of the part does.
    """
    from ..core.run.asked_part import asked_from_files, asked_from_part
    from ..core.run.history import run_record
    from ..core.run.pipeline import run_job

    asked = asked_from_files(job, out)
    if asked is not None:
        return asked
    is_run = run_record(out, job.part.number) is not None
    if is_said and not is_run:
        raise InputError(
            f'"{out}" holds no run of part {job.part.number}.',
            hint="Name the folder with the files of the print, or leave --out out: the part is then made again where "
            "they are not found.",
        )
    what = "not the STL of each region" if is_run else "no run of this part"
    say(f"note: {out} holds {what}, so the part is made again to compare with.", sys.stderr)
    return asked_from_part(drain(run_job(job, here), show).part)
