"""Hold every point of a job against the scan it is said to lie on, before any work: wrong units, swapped scans."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from ..base.errors import InputError
from ..base.mesh import Float
from ..base.units import mm_per_unit
from ..job.read import blame_key
from ..job.schema import Base, Impression, Job, Point
from ..job.toml_lines import show_path
from ..stages.alignment.placed_scans import refuse_far_points
from ..stages.scans.point_readings import PointReading, Seen, other_reading
from ..stages.scans.scale import fit_scale

_MOST_NAMED = 6
_OTHER = {"base": "impression", "impression": "base"}
_CORRECTED = 0.005
"""Of the scan's length: ends that lie farther off in their likely unit were not picked on the scan as it is."""


@dataclass(frozen=True, eq=False)
class _Group:
    """Points that were given together."""

    key: tuple[str | int, ...]
    on: str  # "base" or "impression"
    given: Sequence[Point]
    words: str
    chosen_by: str = ""  # the key that says which scan they lie on; empty where that is settled

    @property
    def points(self) -> Float:
        """As an array, (k, 3)."""
        return np.asarray(self.given, dtype=np.float64).reshape(-1, 3)


def check_points(job: Job, base: Seen, impression: Seen | None) -> None:
    """Refuse points that do not lie on their scan, and say what they look like.

    Raises InputError with the key, the distance, and the unit or the scan in which they would lie on it.
    """
    scans = {"base": base} | ({"impression": impression} if impression is not None else {})
    groups = [group for group in _groups(job) if group.on in scans]
    ends = [group for group in groups if "check_lengths" in group.key]
    _refuse(job, ends, scans, {})
    # What is corrected by the check lengths can be known only now that their ends are where they should be.
    factors = _factors(job, base, impression)
    _refuse(job, [group for group in groups if group not in ends], scans, factors)


def _refuse(job: Job, groups: Sequence[_Group], scans: Mapping[str, Seen], factors: Mapping[str, float]) -> None:
    found = [
        (group, other_reading(scans[group.on], scans.get(_OTHER[group.on]), group.points, factors.get(group.on, 1.0)))
        for group in groups
    ]
    wrong = [(group, reading) for group, reading in found if reading is not None]
    if wrong:
        (first, reading), *others = wrong
        alike = [
            show_path(group.key) for group, other in others if (other.unit, other.scan) == (reading.unit, reading.scan)
        ]
        with blame_key(*first.key):
            error = _refusal(job, first, scans[first.on], reading)
            if alike and reading.scan == scans[first.on].name:
                raise InputError(
                    error.message, hint=f"{error.hint} The same holds for {', '.join(alike[:_MOST_NAMED])}."
                )
            raise error
    for group in groups:
        scan = scans[group.on]
        if scan.beyond(group.points) > 1.0:
            times = mm_per_unit(scan.unit)
            with blame_key(*group.key):
                refuse_far_points(group.points, group.points * times, scan.mesh.scaled(times), scan.name, scan.bounds)


def _factors(job: Job, base: Seen, impression: Seen | None) -> dict[str, float]:
    """Return by what each scan will be corrected, as far as its check lengths hold."""
    found = {"base": _factor(job.base, base)}
    if impression is not None and job.impression is not None:
        is_own = job.impression.check_lengths or job.impression.scale == "as file"
        found["impression"] = _factor(job.impression, impression) if is_own else found["base"]
    return found


def _factor(table: Base | Impression, seen: Seen) -> float:
    with suppress(InputError):  # told with its own key when the scan is scaled
        return fit_scale(table.check_lengths, mm_per_unit(seen.unit), pick_error_mm=table.pick_error_mm).factor
    return 1.0


def _refusal(job: Job, group: _Group, scan: Seen, reading: PointReading) -> InputError:
    length = float(np.ptp(scan.bounds, axis=0).max()) * mm_per_unit(scan.unit)
    is_one = len(group.points) == 1
    said = (
        f"{group.words} {'lies' if is_one else 'lie'} {scan.away(group.points) * length:.4g} mm away from the "
        f"{scan.name}"
    )
    if "check_lengths" in group.key and reading.scan == scan.name and reading.away > _CORRECTED:
        return InputError(
            f"{said}; read in {reading.unit} they lie near it, as points of the part in its true size would.",
            hint=f'Pick them again in the scan file: its own numbers are asked, in "{scan.unit}".',
        )
    if reading.scan == scan.name:
        first = ", ".join(f"{value * reading.times:.6g}" for value in group.points[0])
        return InputError(
            f"{said}; read in {reading.unit} {'it lies' if is_one else 'they lie'} on it.",
            hint=f'Points are given in the scan file\'s own numbers, which are in "{scan.unit}": multiply by '
            f"{reading.times:g}, so that the first is [{first}].",
        )
    there = f"{said}, but on the {reading.scan}" + (f", read in {reading.unit}" if reading.times != 1.0 else "")
    if group.chosen_by:
        return InputError(f"{there}.", hint=f'Set {group.chosen_by} = "{_OTHER[group.on]}".')
    if group.key[0] == "alignment":
        return InputError(f"{there}.", hint="Exchange base and impression of every pair.")
    assert job.impression is not None
    if job.base.check_lengths and "check_lengths" not in group.key:  # their ends were found to lie on the base scan
        return InputError(
            f"{there}.",
            hint=f"Pick again on the {scan.name}: the ends of the check lengths lie on it, so it is the right file.",
        )
    return InputError(
        f"{there}: the scans look swapped.",
        hint=f'Write scan = "{job.impression.scan}" under [base] and scan = "{job.base.scan}" under [impression], each '
        "with its own unit. If the files are right, these points were picked on the other scan: pick them again.",
    )


def _groups(job: Job) -> Iterator[_Group]:
    for scan in ("base", "impression"):
        table = getattr(job, scan)
        for index, length in enumerate(table.check_lengths if table is not None else ()):
            words = f'The ends of check length "{length.name or index + 1}"'
            ends = [length.from_point, length.to_point]
            yield _Group((scan, "check_lengths", index, "from"), scan, ends, words)
    if job.alignment.pairs:
        for scan in ("base", "impression"):
            points = [getattr(pair, scan) for pair in job.alignment.pairs]
            yield _Group(("alignment", "pairs", 0, scan), scan, points, f"The {scan} points of the pairs")
    if job.datum.plane is not None:
        yield _Group(("datum", "plane"), "base", job.datum.plane, "The points of the datum's plane")
    if job.impression is not None:
        for index, mark in enumerate(job.impression.load_centers):
            words = f'The place "near" of load center {index + 1}'
            yield _Group(("impression", "load_centers", index, "near"), "base", [mark.near], words)
    if job.pad.footprint is not None:
        words = "The points of the footprint"
        yield _Group(("pad", "footprint"), job.pad.footprint_on, job.pad.footprint, words, "footprint_on")
    for index, relief in enumerate(job.pad.reliefs):
        words = f"The points of relief {index + 1}"
        yield _Group(("pad", "reliefs", index, "points"), relief.points_on, relief.points, words, "points_on")
    for index, zone in enumerate(job.zones):
        on = zone.points_on or "base"
        if zone.points is not None:
            words = f'The points of zone "{zone.name}"'
            yield _Group(("zones", index, "points"), on, zone.points, words, "points_on")
        if zone.places:
            words = f'The places of zone "{zone.name}"'
            yield _Group(("zones", index, "places"), on, [place.point for place in zone.places], words, "points_on")
    if job.load.point is not None:
        yield _Group(("load", "point"), "base", [job.load.point], "The load's point")
    for index, case in enumerate(job.load.cases):
        if case.point is not None:
            words = f'The point of load case "{case.name}"'
            yield _Group(("load", "cases", index, "point"), "base", [case.point], words)
