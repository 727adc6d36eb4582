"""`mat`: say what a pressure mat's file or a foil's picture is, show it, and try how it lies on a job's body side."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..core.base.errors import InputError
from ..core.base.files import MOST_TABLE_BYTES, read_named
from ..core.base.progress import drain
from ..core.job.mat_table import FRAME_RULES, MAT_UNITS, Mat
from .options import add_command, write_out

if TYPE_CHECKING:
    from ..core.run.parts import MadePart


def add_mat_command(commands: Any) -> None:
    """Add `mat` to the command line."""
    mat = add_command(
        commands,
        "mat",
        "say what the file of a pressure mat, or the picture of a pressed foil, is, and show it",
        "seat.csv  # size, unit, sum, faults, lines for the job",
        "seat.csv --unit mmHg --pitch 10.16 --load-n 430  # with what the file does not state",
        "frames.txt --grid 32 32 --unit raw  # a frame in each row",
        "foil.png --picture read.png  # a pressed foil, scanned flat",
        "photo.jpg --sheet-mm 210 297  # photographed: by its four corners",
        "seat.csv --on job.toml --picture laid.png  # as it lies on a job's clay",
    )
    mat.add_argument("file", metavar="FILE", help="the mat's file, text or JSON; or a picture of a foil")
    mat.add_argument("--unit", choices=MAT_UNITS, help="what its numbers are in")
    mat.add_argument("--kpa-per-unit", metavar="KPA", type=float, help="kPa for 1 of its numbers")
    mat.add_argument(
        "--pitch", metavar="MM", type=float, nargs="+", help="from cell to cell; or row to row, column to column"
    )
    mat.add_argument("--grid", metavar="N", type=int, nargs=2, help="rows and columns, where each row is a frame")
    mat.add_argument("--frames", choices=FRAME_RULES, default="mean", help="what to make of several (default: mean)")
    mat.add_argument("--frame", metavar="N", type=int, help="which one, from 1, with --frames one")
    mat.add_argument("--zero", metavar="N", type=float, default=0.0, help="what an unloaded cell reads")
    mat.add_argument("--no-sensor", metavar="N", type=float, nargs="+", default=(), help='numbers for "no sensor"')
    mat.add_argument("--dpi", metavar="N", type=float, help="of a picture: how many of its pixels are an inch")
    mat.add_argument(
        "--sheet-mm", metavar="MM", type=float, nargs=2, help="of a picture: width and height of the sheet it shows"
    )
    mat.add_argument(
        "--sheet-corners", metavar="N", type=float, nargs=8,
        help="of a picture: pixels, right and down, of that sheet's corners, in order around it (default: found)",
    )  # fmt: skip
    mat.add_argument("--light-bears", action="store_true", help="of a picture: the lighter, the harder")
    mat.add_argument("--load-n", metavar="N", type=float, help="the force it bore, to hold its sum against")
    mat.add_argument("--on", metavar="JOB", help="a job: try how the mat lies on its clay, by the job's own [mat]")
    mat.add_argument("--picture", metavar="FILE", help="write it as a PNG; with --on one for each way it fits")
    mat.add_argument("--json", action="store_true", help="print what was found as JSON")
    mat.set_defaults(body=_mat)


def _mat(args: argparse.Namespace) -> list[str]:
    from ..core.stages.mats.mat_file import read_mat
    from ..core.stages.mats.mat_look import mat_facts, mat_lines, mat_png, mat_signs, mat_table_lines

    if args.on is not None:
        return _on_job(args)
    asked = _asked(args)
    path = Path(args.file)
    data = read_named(path, "The mat's file", most_bytes=MOST_TABLE_BYTES, hint="Check its name and folder.")
    mat = read_mat(data, path.name, asked, needs_unit=False)
    if args.picture is not None:
        write_out(Path(args.picture), mat_png(mat))
    if args.json:
        return [json.dumps({"file": args.file, **mat_facts(mat)}, indent=1)]
    return [
        f"{args.file}:",
        *(f"  {line}" for line in mat_lines(mat, args.load_n)),
        *(f"  note: {note}" for note in mat.notes),
        "As the file has it, row 0 on top:",
        *(f"  |{line}|" for line in mat_signs(mat)),
        "To use it, add to the job:",
        *(f"  {line}" for line in mat_table_lines(asked, mat)),
        *([f"Wrote {args.picture}."] if args.picture is not None else []),
    ]


def _asked(args: argparse.Namespace) -> Mat:
    """Return what the command line says of the mat. Raises InputError where that cannot be."""
    if args.pitch is not None and (len(args.pitch) > 2 or not all(0.2 <= each <= 200.0 for each in args.pitch)):
        raise InputError("--pitch takes one or two distances from 0.2 to 200 mm.")
    if args.grid is not None and not all(2 <= each <= 5000 for each in args.grid):
        raise InputError("--grid takes rows and columns, 2 or more each.")
    if (args.frames == "one") != (args.frame is not None) or (args.frame or 1) < 1:
        raise InputError("--frame N, from 1, goes with --frames one.")
    if args.kpa_per_unit is not None and not args.kpa_per_unit > 0.0:
        raise InputError("--kpa-per-unit takes a number above 0.")
    if args.load_n is not None and not args.load_n > 0.0:
        raise InputError("--load-n takes a force above 0 N.")
    if args.dpi is not None and (args.sheet_mm is not None or not 10.0 <= args.dpi <= 20_000.0):
        raise InputError("--dpi takes 10 to 20000 pixels in an inch, and goes without --sheet-mm.")
    if args.sheet_mm is not None and not all(10.0 <= each <= 5000.0 for each in args.sheet_mm):
        raise InputError("--sheet-mm takes width and height, 10 to 5000 mm each.")
    if args.sheet_corners is not None and args.sheet_mm is None:
        raise InputError("--sheet-corners goes with --sheet-mm: how far those corners are apart.")
    return Mat(
        file=args.file,
        unit=args.unit,
        kpa_per_unit=args.kpa_per_unit,
        zero=args.zero,
        pitch_mm=None if args.pitch is None else tuple(args.pitch),
        no_sensor=tuple(args.no_sensor),
        grid=None if args.grid is None else tuple(float(each) for each in args.grid),
        frames=args.frames,
        frame=args.frame,
        dpi=args.dpi,
        sheet_mm=None if args.sheet_mm is None else tuple(args.sheet_mm),
        sheet_corners=None if args.sheet_corners is None else tuple(args.sheet_corners),
        dark_bears=not args.light_bears,
    )


def _on_job(args: argparse.Namespace) -> list[str]:
    """Lay the job's own mat on its clay, and show each way it fits."""
    from ..core.base.errors import PadwrightError
    from ..core.job.read import read_job, tell_place
    from ..core.run.mat_pictures import mat_pictures
    from ..core.run.memory import StageMemory
    from ..core.stages.body.weight import force_of
    from ..core.stages.mats.mat_look import laid_lines, mat_lines

    path = Path(args.on)
    job = read_job(path)
    if job.mat.file is None:
        raise InputError(
            f'"{args.on}" has no [mat].', hint=f"Add the lines that this prints: python -m padwright mat {args.file}"
        )
    if (path.parent / job.mat.file).resolve() != Path(args.file).resolve():
        raise InputError(f'"{args.on}" has another mat, "{job.mat.file}".', hint="Give that file, or change mat.file.")
    try:
        part: MadePart = drain(StageMemory().reach(job, path.parent, "mats"))
    except PadwrightError as error:
        raise tell_place(error, job) from None
    laid = part.mat
    assert laid is not None
    load = part.job.load  # with what the family's card has
    load_n = force_of(load, load.force_n, load.share) if args.load_n is None else args.load_n
    lines = [
        f"{args.file} on {args.on}:",
        *(f"  {line}" for line in mat_lines(laid.mat, load_n)),
        *(f"  {line}" for line in laid_lines(laid)),
    ]
    if args.picture is not None:
        first = Path(args.picture)
        for number, data in mat_pictures(part):
            target = first if number == laid.pose else first.with_name(f"{first.stem}-pose-{number}{first.suffix}")
            write_out(target, data)
            how = "as it is laid" if number == laid.pose else f"as pose {number}"
            lines.append(f"Wrote {target}: left the imprint, right the mat {how}, seen from the body.")
    return lines
