"""What a run says to the person, in one screen."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from .packing import Packed
from .run_parts import Part
from .run_summary_firmness import firmness_lines, selection_lines
from .wording import counted, figure

_WIDTH = 110
_MOST_OTHERS = 5  # notes that change nothing of the part


def run_summary(part: Part, packed: Packed) -> tuple[str, ...]:
    """Return the lines: what was made, how it fits, what to watch."""
    lines = [_title(part)]
    lines.append(_scale_line(part))
    if part.alignment is not None:
        found = part.alignment
        lines.append(
            f"Alignment: the scans agree to {found.rms_mm:.2f} mm over the {100 * found.overlap:.0f} % of the "
            f"impression that shows the base."
        )
    lines += _body_lines(part)
    if part.pad is not None:
        lines += _pad_lines(part, packed)
    lines += firmness_lines(part, packed)
    lines += _notes(part)
    lines += _cautions(part)
    lines.append(_made_in(part))
    return tuple(lines)


def selection_summary(part: Part, packed: Packed) -> tuple[str, ...]:
    """Return the lines for a selection of the part's regions: which they are, how firm, what they take to print."""
    assert packed.selection is not None
    lines = [_title(part)]
    lines += textwrap.wrap(packed.selection.sentence, _WIDTH, subsequent_indent="  ")
    lines += selection_lines(part, packed)
    for note in part.notes:
        lines += textwrap.wrap(f"Note: {note}", _WIDTH, subsequent_indent="  ")
    lines += _cautions(part)
    lines.append(_made_in(part))
    return tuple(lines)


def _title(part: Part) -> str:
    words = part.job.part
    side = "; mirrored: this is the part for the other side" if words.mirror else ""
    return f"{words.name} ({words.number}, {part.family.name}{side})"


def _cautions(part: Part) -> list[str]:
    """Return all that the family's card has, a line each; settings.json and the run document have the whole texts."""
    return [f"Caution: {caution.brief}" for caution in part.family.cautions]


def _made_in(part: Part) -> str:
    return f"Made in {sum(each.seconds for each in part.times):.1f} s."


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


def _notes(part: Part) -> list[str]:
    """Return what was changed or left out, all of it, then as many other notes as fit, and where the rest is."""
    told = list(part.notes)
    for scan in (part.base, part.impression):
        # What the check lengths have to say comes early: every other number rests on the scale.
        told += scan.fit.notes if scan is not None and scan.fit is not None and scan.fit.names else ()
    for stage in (part.pad, part.zones, part.regions):
        told += stage.notes if stage is not None else ()
    firmness = part.firmness
    others: list[tuple[str, Iterable[str]]] = [
        ("alignment", part.alignment.notes if part.alignment else ()),
        ("impression", part.reading.notes if part.reading else ()),
        ("firmness", firmness.notes if firmness else ()),
        ("tuning", firmness.tuning.notes if firmness and firmness.tuning else ()),
        ("load", firmness.loads[0][1].notes if firmness and firmness.loads else ()),
        ("base scan", part.base.notes),
        ("impression scan", part.impression.notes if part.impression else ()),
    ]
    about = {note: subject for subject, notes in others for note in notes if note not in told}
    lines = []
    for note in [*dict.fromkeys(told), *list(about)[:_MOST_OTHERS]]:
        lines += textwrap.wrap(f"Note: {note}", _WIDTH, subsequent_indent="  ")
    left = list(about.values())[_MOST_OTHERS:]
    if left:
        counts = ", ".join(f"{left.count(subject)} on the {subject}" for subject in dict.fromkeys(left))
        text = f'({len(left)} more in {part.job.part.number}.run.json, under the "notes" of each stage: {counts}.)'
        lines += textwrap.wrap(text, _WIDTH, subsequent_indent="  ")
    return lines
