"""What a run says to the person, in one screen."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from pathlib import Path

from ..base.text import counted, figure
from .packing import Packed
from .parts import Part
from .summary_load import firmness_lines, selection_lines

_WIDTH = 110
_CHANGED = "on what changed"
_MOST_LINES, _REGIONS_WITHIN = 30, 6  # for so many regions; one line more for each further


def run_summary(part: Part, packed: Packed, *, in_full: bool = False) -> tuple[str, ...]:
    """Return the lines: what was made, how it fits, how it is printed, what to watch.

    Parameters
    ----------
    part : Part
    packed : Packed
    in_full : bool
        Every note whole and all that the load check says. Otherwise, with the line that names the files, at most 30
        lines for up to 6 regions and one more for each further: the heaviest notes fill what the rest leaves. Notes
        on what changed the part are always told and may need more, and so may long names with settings all different.
    """
    lines = [_title(part), _scale_line(part)]
    if part.alignment is not None:
        found = part.alignment
        lines.append(
            f"Alignment: the scans agree to {found.rms_mm:.2f} mm over the {100 * found.overlap:.0f} % of the "
            f"impression that shows the base."
        )
    lines += _body_lines(part)
    if part.pad is not None:
        lines += _pad_lines(part, packed)
    lines = [line for each in lines for line in textwrap.wrap(each, _WIDTH, subsequent_indent="  ")]
    lines += firmness_lines(part, packed, in_full=in_full)
    cautions = _cautions(part)
    most = _MOST_LINES + max(0, len(packed.bodies) - _REGIONS_WITHIN)
    room = None if in_full else most - len(lines) - len(cautions) - 1  # 1: where the files are
    return tuple([*lines, *_notes(part, room), *cautions])


def files_line(folder: Path, names: Sequence[str], *, in_full: bool = False) -> str:
    """Return where the files are: the one to open by name, the others counted, or all of them in full."""
    if in_full:
        return f"Written to {folder}: {', '.join(names)}"
    shapes = sum(name.endswith(".stl") for name in names)
    others = [name for name in names if not name.endswith(".stl")]
    stl = [f"{counted(shapes, 'STL')} (as scanned, not on the bed)"] if shapes else []
    return f"Written to {folder}: {', '.join([*others, *stl])}"


def selection_summary(part: Part, packed: Packed) -> tuple[str, ...]:
    """Return the lines for a selection of the part's regions: which they are, how firm, what they take to print."""
    assert packed.selection is not None
    lines = [_title(part)]
    lines += textwrap.wrap(packed.selection.sentence, _WIDTH, subsequent_indent="  ")
    lines += selection_lines(part, packed)
    for note in part.notes:
        lines += textwrap.wrap(f"Note: {note}", _WIDTH, subsequent_indent="  ")
    lines += _cautions(part)
    return tuple(lines)


def _title(part: Part) -> str:
    words = part.job.part
    side = "; mirrored: this is the part for the other side" if words.mirror else ""
    seconds = sum(each.seconds for each in part.times)
    return f"{words.name} ({words.number}, {part.family.name}{side}), made in {seconds:.1f} s"


def _cautions(part: Part) -> list[str]:
    """Return all that the family's card has, a line each; settings.json and the run document have the whole texts."""
    return [f"Caution: {caution.brief}" for caution in part.family.cautions]


def _pad_lines(part: Part, packed: Packed) -> list[str]:
    pad = part.pad
    assert pad is not None
    line = f"Pad: {figure(packed.volume_cm3, 1)} cm3 over {figure(pad.footprint_cm2)} cm2"
    if pad.least_thickness_mm is not None:
        line += f", at least {pad.least_thickness_mm:.1f} mm thick"
        if pad.rim_thickness_mm is not None:
            line += f" ({pad.rim_thickness_mm:.1f} mm within its rounded rim)"
    lines = [line + "."]
    if pad.base_gap_mm is not None:
        low, _, high = pad.base_gap_mm
        lines.append(
            f"Fit: the base side lies {low:.2f} to {high:.2f} mm off the base scan's own surface (5th to 95th "
            f"percentile; {part.job.pad.fit_gap_mm:g} asked)."
        )
    return lines


def _scale_line(part: Part) -> str:
    fit = part.base.fit
    if fit is None or not fit.names:
        return "Scale: no check length was given; the sizes are the scan's own, unchecked."
    length = max(part.base.after.size)
    half = fit.half_width_mm(length)
    error = f", good to {half:.2f} mm on {length:.0f} mm" if half is not None else ""
    off = 100.0 * (1.0 / part.base.factor - 1.0)
    if abs(off) < 0.005:
        return f"Scale: the base scan's own size is right{error}."
    return f"Scale: the base scan was {off:+.2f} % off and was corrected{error}."


def _body_lines(part: Part) -> list[str]:
    reading = part.reading
    if reading is None:
        return []
    lines = [f"Body: bears on {figure(reading.contact_area_cm2)} cm2"]
    centres = reading.load_centres
    if centres:
        depths = ", ".join(f"{centre.depth_mm:.1f}" for centre in centres)
        lines[0] += f", hardest at {counted(len(centres), 'place')} ({depths} mm deep)"
    # Of more than two places it would not be said between which.
    if reading.spacing_mm is not None and (len(centres) == 2 or reading.measured_spacing_mm is not None):
        lines[0] += f", {reading.spacing_mm:.1f} mm apart"
        if reading.measured_spacing_mm is not None:
            lines[0] += f" (by hand {reading.measured_spacing_mm:.0f})"
    lines[0] += "."
    return lines


def _weighed(part: Part) -> list[tuple[str, str]]:
    """Return all notes with their weight, heaviest first: what changed the part, what to look at, background."""
    # What the check lengths have to say weighs most: every other number rests on the scale.
    scans = (part.base, part.impression)
    scale = [note for scan in scans if scan and scan.fit and scan.fit.names for note in scan.fit.notes]
    changed = [*scale, *part.notes]
    for stage in (part.pad, part.regions):
        changed += stage.notes if stage is not None else ()
    firmness = part.firmness
    look = list(firmness.notes) if firmness else []
    look += firmness.loads[0][1].notes if firmness and firmness.loads else ()
    look += firmness.tuning.notes if firmness and firmness.tuning else ()
    for found in (part.alignment, part.zones):
        look += found.notes if found is not None else ()
    behind = list(part.reading.notes) if part.reading else []
    for scan in scans:
        behind += scan.notes if scan is not None else ()
    weighed: dict[str, str] = {}
    for weight, notes in ((_CHANGED, changed), ("to look at", look), ("background", behind)):
        for note in notes:
            weighed.setdefault(note, weight)
    return list(weighed.items())


def _notes(part: Part, room: int | None) -> list[str]:
    """Return the notes that `room` lines hold, heaviest first, and how many of which weight are left.

    What changed the part is told in any case: where the room is short by its first sentence, and past the room where
    even that does not fit. A lighter note is never shown while a heavier one is left out.
    """
    weighed = _weighed(part)
    wrapped = [(_wrapped(note), weight) for note, weight in weighed]
    if room is None or sum(len(note) for note, _ in wrapped) <= room:
        return [line for note, _ in wrapped for line in note]
    changed = sum(len(note) for note, weight in wrapped if weight == _CHANGED)
    if changed >= room:
        wrapped = [
            (_wrapped(_first_sentence(n)) if weight == _CHANGED else _wrapped(n), weight) for n, weight in weighed
        ]
    lines: list[str] = []
    left: list[str] = []
    for note, weight in wrapped:
        if weight == _CHANGED or (not left and len(lines) + len(note) < room):
            lines += note
        else:
            left.append(weight)
    if not left:
        return lines
    counts = ", ".join(f"{left.count(weight)} {weight}" for weight in dict.fromkeys(left))
    return [*lines, f"({counted(len(left), 'more note')}: {counts}. All with -v, or in the .run.json.)"]


def _wrapped(note: str) -> list[str]:
    return textwrap.wrap(f"Note: {note}", _WIDTH, subsequent_indent="  ")


def _first_sentence(note: str) -> str:
    """Return the note up to its first full stop before a capital letter."""
    return re.split(r"(?<=\.)\s+(?=[A-Z])", note, maxsplit=1)[0]
