"""Make the scans and the job of each example: `python scripts/make_example_scans.py FOLDER [NAME ...]`.

Each goes into FOLDER/NAME: a base, the same base under pressed clay, and a job of folded walls. The scans lie each its
own way, are in mm and 1 % too large, with noise and holes. Same bytes each run on one machine with the same
library versions.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from demo_shapes import HeightPart
from example_shapes import insole_part, liner_part, nose_rest_part
from make_demo_scans import on_height, pose_of
from scan_making import Float, noisy, ply_bytes, sheet_over, with_holes, write_if_changed

SCALE_ERROR = 1.01
TRIANGLES = 30_000


@dataclass(frozen=True)
class Example:
    """A part, and what its job says besides the scans."""

    part: Callable[[], HeightPart]
    number: str
    about: str
    certified: str  # line of [part]
    pad: str
    zones: str
    fill: str
    material: str
    printer: str
    load: str


EXAMPLES = {
    "insole": Example(
        insole_part,
        "INSOLE-1",
        "An insole for a runner, from the footbed of the shoe and the footbed under clay that was stood on.",
        "",
        "fit_gap_mm = 0.3\nleast_thickness_mm = 2.5",
        '[[zones]]\nname = "heel and ball"\nlevel = 4\nsource = "load_centers"\nradius_mm = 18.0\n\n'
        '[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"',
        "",
        "tpu_85a",
        "nozzle_mm = 0.4",
        "body_mass_kg = 70.0",
    ),
    "liner_pad": Example(
        liner_part,
        "LINER-1",
        "A fitting pad for the inside of a curved shell that carries a lamp and protects nobody.",
        "certified_gear = false\n",
        "fit_gap_mm = 0.4\nleast_thickness_mm = 4.0",
        '[[zones]]\nname = "bearing"\nlevel = 2\nsource = "load_centers"\nradius_mm = 18.0\n\n'
        '[[zones]]\nname = "rest"\nlevel = 1\nsource = "rest"',
        "wall_beads = 2                       # with 3 it would be twice as firm\n"
        "pitch_mm = 5.0                       # so close that no roof is too wide in its blunt corners\n",
        "tpu_85a",
        "nozzle_mm = 0.4",
        "force_n = 40.0",
    ),
    "nose_pad": Example(
        nose_rest_part,
        "NOSE-1",
        "A rest for the nose on a viewing hood that one leans on.",
        "",
        "fit_gap_mm = 0.2\nleast_thickness_mm = 2.0\nrim_radius_mm = 1.0",
        '[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"',
        "",
        "tpu_60a",
        "nozzle_mm = 0.4",
        "force_n = 4.0",
    ),
}

JOB = """\
# {about}
# Run it with:  python -m padwright run job.toml --out DIR
# The scans are made from formulas by scripts/make_example_scans.py; docs/job.md lists every key a job may have.
schema = 1

[part]
name = "{name}"
number = "{number}"
family = "{family}"
{certified}
[base]
scan = "base.ply"
unit = "mm"

{lengths}
[impression]
scan = "impression.ply"
unit = "mm"
scale = "as base"

[body]
press_direction = {press}

[pad]
{pad}

{zones}

# One plain solid; its walls are folded over the thickness, and lean more where it is to be softer.
[fill]
kind = "folds"
{fill}
[material]
card = "{material}"

[printer]
{printer}

[load]
{load}
"""


def in_file(points: Float, role: str) -> Float:
    """Return true points, (n, 3) mm, in the numbers of a scan's file."""
    pose = pose_of(role)
    return (np.atleast_2d(points) @ pose[:3, :3].T + pose[:3, 3]) * SCALE_ERROR


def scan_bytes(part: HeightPart, role: str, triangles: int) -> bytes:
    """Return the file of the scan "base" or "impression"."""
    rng = np.random.default_rng([3, *part.family.encode(), *role.encode()])
    height = part.impression if role == "impression" else part.base
    sheet = sheet_over(
        height, part.outline, part.floor, triangles, rng, fillet=part.fillet, lip=part.lip, wall=part.wall
    )
    sheet = noisy(sheet, part.noise_mm, rng)
    missed = part.impression_holes if role == "impression" else part.base_holes
    sheet = with_holes(sheet, [(on_height(height, x, y), radius) for x, y, radius in missed])
    return ply_bytes(in_file(sheet[0], role), sheet[1])


def job_text(example: Example) -> str:
    """Return the text of an example's job."""
    part = example.part()

    def point(values: Float) -> str:
        return "[" + ", ".join(f"{value:.4f}" for value in values) + "]"

    lengths = []
    for name, start, end in part.landmarks:
        ends = np.array([on_height(part.base, *start), on_height(part.base, *end)])
        first, second = in_file(ends, "base")
        lengths.append(
            f'[[base.check_lengths]]\nname = "{name}"\nmeasured_mm = {np.linalg.norm(ends[1] - ends[0]):.2f}\n'
            f"plus_minus_mm = 0.1\nfrom = {point(first)}\nto = {point(second)}\n"
        )
    words = {name: getattr(example, name) for name in ("about", "number", "certified", "pad", "zones", "material")}
    words |= {name: getattr(example, name) for name in ("fill", "printer", "load")}
    press = point(pose_of("base")[:3, :3] @ part.press_direction)
    return JOB.format(name=part.name, family=part.family, lengths="\n".join(lengths), press=press, **words)


def write_example(name: str, folder: Path, triangles: int = TRIANGLES) -> Path:
    """Write an example's scans and job into a folder, made where it is not there; return the job's path."""
    example = EXAMPLES[name]
    folder.mkdir(parents=True, exist_ok=True)
    for role in ("base", "impression"):
        write_if_changed(folder / f"{role}.ply", scan_bytes(example.part(), role, triangles))
    write_if_changed(folder / "job.toml", job_text(example).encode("utf-8"))
    return folder / "job.toml"


def main(arguments: list[str]) -> int:
    """Write the examples and say where they are."""
    folder, *names = arguments
    for name in names or EXAMPLES:
        print(f"{write_example(name, Path(folder) / name)}: {EXAMPLES[name].about}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
