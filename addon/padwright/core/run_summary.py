"""What a run says to the person, in one screen."""

from __future__ import annotations

import textwrap

from .packing import Packed
from .run_parts import Part
from .run_summary_firmness import firmness_lines, selection_lines

_WIDTH = 110
_MOST_NOTES = 6


def run_summary(part: Part, packed: Packed) -> tuple[str, ...]:
    """Return the lines: what was made, how it fits, what to watch."""
    lines = [f"{part.job.part.name} ({part.job.part.number}, {part.family.name})"]
    lines.append(_scale_line(part))
    if part.alignment is not None:
        found = part.alignment
        lines.append(
            f"Alignment: the scans agree to {found.rms_mm:.2f} mm over the {100 * found.overlap:.0f} % of the "
            f"impression that shows the base."
        )
    lines += _body_lines(part)
    if part.pad is not None:
        lines.append(
            f"Pad: {packed.volume_cm3:.1f} cm3 over {part.pad.footprint_cm2:.0f} cm2, at least "
            f"{part.pad.least_thickness_mm:.1f} mm thick, base side within {part.pad.base_noise_left_mm:.2f} mm."
        )
    lines += firmness_lines(part, packed)
    lines += _notes(part)
    lines += _cautions(part)
    lines.append(_made_in(part))
    return tuple(lines)


def selection_summary(part: Part, packed: Packed) -> tuple[str, ...]:
    """Return the lines for a selection of the part's regions: which they are, how firm, what they take to print."""
    assert packed.selection is not None
    lines = [f"{part.job.part.name} ({part.job.part.number}, {part.family.name})"]
    lines += textwrap.wrap(packed.selection.sentence, _WIDTH, subsequent_indent="  ")
    lines += selection_lines(part, packed)
    lines += _cautions(part)
    lines.append(_made_in(part))
    return tuple(lines)


def _cautions(part: Part) -> list[str]:
    lines: list[str] = []
    for caution in part.family.cautions:
        if caution.severity != "note":
            lines += textwrap.wrap(f"Caution: {caution.text}", _WIDTH, subsequent_indent="  ")
    return lines


def _made_in(part: Part) -> str:
    return f"Made in {sum(each.seconds for each in part.times):.1f} s."


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
    lines = [f"Body: bears on {reading.contact_area_cm2:.0f} cm2"]
    centres = reading.load_centres
    if centres:
        depths = ", ".join(f"{centre.depth_mm:.1f}" for centre in centres[:4])
        lines[0] += f", hardest at {len(centres)} place{'s' if len(centres) > 1 else ''} ({depths} mm deep)"
    if reading.spacing_mm is not None:
        lines[0] += f", {reading.spacing_mm:.1f} mm apart"
        if reading.measured_spacing_mm is not None:
            lines[0] += f" (by hand {reading.measured_spacing_mm:.0f})"
    lines[0] += "."
    return lines


def _notes(part: Part) -> list[str]:
    """Return the notes that fit on the screen: what was found before what was mended."""
    notes: list[str] = []
    for scan in (part.base, part.impression):
        # What the check lengths have to say comes first: every other number rests on the scale.
        notes += scan.fit.notes if scan is not None and scan.fit is not None and scan.fit.names else ()
    # A firmness that cannot be reached says more than how many pieces a zone has.
    for stage in (part.alignment, part.reading, part.pad, part.firmness, part.zones, part.regions):
        notes += stage.notes if stage is not None else ()
    notes += [*part.notes, *part.base.notes, *(part.impression.notes if part.impression else ())]
    unique = list(dict.fromkeys(notes))
    lines = []
    for note in unique[:_MOST_NOTES]:
        lines += textwrap.wrap(f"Note: {note}", _WIDTH, subsequent_indent="  ")
    if len(unique) > _MOST_NOTES:
        number = part.job.part.number
        lines.append(f'({len(unique) - _MOST_NOTES} more in {number}.run.json, under the "notes" of each stage.)')
    return lines
