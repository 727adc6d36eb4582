"""Make the demo's scans and job again: `python scripts/make_demo_scans.py [FOLDER]` (default shared/demo).

A sculler's sliding seat, its bare board and the board under clay that was sat on, both from formulas (demo_shapes.py):
meters, 2 % too large, each lying its own way, 0.2 mm noise, holes, dust, a piece of the turntable. Same bytes each
run on one machine with the same library versions.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from demo_shapes import HeightPart, seat_part
from scan_making import (
    Float,
    Height,
    Sheet,
    littered,
    noisy,
    ply_bytes,
    random_rotation,
    sheet_over,
    with_holes,
    write_if_changed,
)

FOLDER = Path(__file__).resolve().parents[1] / "shared" / "demo"
CLAY_MM = 30.0
NOISE_MM = 0.2
SCALE_ERROR = 1.02
MM_PER_UNIT = 1000.0
TRIANGLES = {"base": 44_000, "impression": 56_000}
TAIL_HALF_MM = (20.0, 22.0)
TAIL_MIDDLE_MM = (0.0, 42.0)

JOB = """\
# A pad for a sculler's sliding seat. Run it with:  python -m padwright run job.toml --out DIR
# The scans are made from formulas by scripts/make_demo_scans.py; docs/job.md lists every key a job may have.
schema = 1

[part]
name = "Sculler seat pad"
number = "DEMO-1"
family = "seat_pad"                  # shared/families/seat_pad.toml holds every default

# The bare seat, scanned with a phone: meters, and about 2 % too large, as such scans are.
[base]
scan = "base.ply"
unit = "m"

# Two lengths taken with a caliper from screw to screw correct the scale. The points are the scan file's own numbers.
[[base.check_lengths]]
name = "{name_0}"
measured_mm = {length_0:.1f}
plus_minus_mm = 0.2
from = {from_0}
to = {to_0}

[[base.check_lengths]]
name = "{name_1}"
measured_mm = {length_1:.1f}
plus_minus_mm = 0.2
from = {from_1}
to = {to_1}

# The same seat with clay on it, after the sculler sat on it. It lies another way round; it is aligned by itself.
[impression]
scan = "impression.ply"
unit = "m"
scale = "as base"                    # same phone, same distance: the same error
clay_thickness_mm = {clay:.1f}             # rolled out between two laths

[body]
press_direction = {press}   # from the body into the seat, along the base file's axes
load_center_spacing_mm = 118.0       # between the sit bones, felt by hand and measured with a tape

[pad]
fit_gap_mm = 0.4                     # room between pad and board
least_thickness_mm = 4.0

# Zones: where two claim a place, the one written first has it.
[[zones]]
name = "sit bones"
level = 4                            # firm: carries the load
source = "load_centers"
radius_mm = 28.0

[[zones]]
name = "tail relief"
level = 1                            # softest: keeps load off the tail bone
source = "outline"                   # drawn on the bare board, in the base file's numbers
points_on = "base"
points = [
{tail}
]

[[zones]]
name = "rest"
level = 2
source = "rest"

[material]
card = "tpu_85a"

[printer]
nozzle_mm = 0.4
bed_mm = [300, 300, 300]              # room to print on: width, depth, height

[load]
body_mass_kg = 74.0
share = 0.6                          # of the weight on the seat; feet and handle carry the other part
"""

FOLDED = (
    (
        "# A pad for a sculler's sliding seat. Run it with:  python -m padwright run job.toml --out DIR\n",
        "# The same pad for a sculler's sliding seat, soft by folded walls instead of by settings of a fill.\n"
        "# Run it with:  python -m padwright run folds.toml --out DIR\n",
    ),
    ('name = "Sculler seat pad"', 'name = "Sculler seat pad, folded walls"'),
    ('number = "DEMO-1"', 'number = "DEMO-2"'),
    (
        "[material]\n",
        "# One plain solid; its walls are folded over the thickness, and lean more where it is to be softer.\n"
        '[fill]\nkind = "folds"\n\n[material]\n',
    ),
)
"""What the second demo's job has otherwise."""


def folded(job: str) -> str:
    """Return a job as that of the second demo. Raises ValueError where a line to change is not there once."""
    for old, new in FOLDED:
        if job.count(old) != 1:
            raise ValueError(f"{job.count(old)} times in the job: {old}")
        job = job.replace(old, new)
    return job


def pose_of(role: str) -> Float:
    """Return the rigid motion, (4, 4), from the true frame to how the scan lies, mm."""
    rng = np.random.default_rng([2, *role.encode()])
    matrix = np.eye(4)
    matrix[:3, :3] = random_rotation(rng)
    matrix[:3, 3] = rng.uniform(-250.0, 250.0, 3)
    return matrix


def in_file(points: Float, role: str) -> Float:
    """Return true points, (n, 3) mm, in the numbers of a scan's file."""
    pose = pose_of(role)
    return (np.atleast_2d(points) @ pose[:3, :3].T + pose[:3, 3]) * (SCALE_ERROR / MM_PER_UNIT)


def scan_of(role: str, part: HeightPart) -> Sheet:
    """Return the scan "base" or "impression" in its file's numbers."""
    rng = np.random.default_rng([1, *role.encode()])
    is_impression = role == "impression"
    height = part.impression if is_impression else part.base
    sheet = sheet_over(
        height, part.outline, part.floor, TRIANGLES[role], rng, fillet=part.fillet, lip=part.lip, wall=part.wall
    )
    sheet = noisy(sheet, NOISE_MM, rng)
    missed = part.impression_holes if is_impression else part.base_holes
    sheet = with_holes(sheet, [(on_height(height, x, y), radius) for x, y, radius in missed])
    vertices, faces = littered(sheet, part.floor, rng)
    return in_file(vertices, role), faces


def on_height(height: Height, x: float, y: float) -> Float:
    """Return the true point of a height field at (x, y), mm."""
    return np.array([x, y, float(height(np.array(x), np.array(y)))])


def job_of(part: HeightPart) -> str:
    """Return the text of the demo's job."""

    def point(values: Float) -> str:
        return "[" + ", ".join(f"{value:.5f}" for value in values) + "]"

    fields: dict[str, object] = {"clay": CLAY_MM, "press": point(pose_of("base")[:3, :3] @ part.press_direction)}
    for count, (name, start, end) in enumerate(part.landmarks):
        ends = np.array([on_height(part.base, *start), on_height(part.base, *end)])
        first, second = in_file(ends, "base")
        fields |= {f"name_{count}": name, f"from_{count}": point(first), f"to_{count}": point(second)}
        fields[f"length_{count}"] = float(np.linalg.norm(ends[1] - ends[0]))
    turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    tail = np.stack(
        [TAIL_MIDDLE_MM[0] + TAIL_HALF_MM[0] * np.cos(turn), TAIL_MIDDLE_MM[1] + TAIL_HALF_MM[1] * np.sin(turn)], axis=1
    )
    drawn = in_file(np.array([on_height(part.base, x, y) for x, y in tail]), "base")
    fields["tail"] = "\n".join(f"    {point(row)}," for row in drawn)
    return JOB.format(**fields)


def files(part: HeightPart) -> dict[str, bytes]:
    """Return the demo's files by name."""
    made = {f"{role}.ply": ply_bytes(*scan_of(role, part)) for role in ("base", "impression")}
    job = job_of(part)
    return {**made, "job.toml": job.encode("utf-8"), "folds.toml": folded(job).encode("utf-8")}


def main(arguments: list[str]) -> int:
    """Write the demo's files and say which were new."""
    folder = Path(arguments[0]) if arguments else FOLDER
    for name, data in files(seat_part(CLAY_MM)).items():
        said = "written" if write_if_changed(folder / name, data) else "already so"
        print(f"{folder / name}: {len(data)} bytes, {said}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
