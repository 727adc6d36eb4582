"""What a comparison with the print found, in lines for a person."""

from __future__ import annotations

from ..base.estimate import Estimate
from ..base.text import placed
from ..job.toml_lines import show_path
from ..job.toml_values import toml_value
from ..stages.compare.records import Comparison, Shrinkage


def scale_words(found: Comparison) -> str:
    """Return what the scan's own scale is and rests on."""
    scale = found.scale
    if scale.standard_error is None:
        return "The scan's own scale is not known; it was sized to fit."
    off = 100.0 * (1.0 / scale.factor - 1.0)
    size = "as large as it should" if abs(off) < 0.005 else f"{abs(off):.2f} % too {'large' if off > 0 else 'small'}"
    return f"The scan itself is {size} (standard error {100.0 * scale.standard_error:.2f} %), by {scale.basis}."


def shrinkage_words(one: Shrinkage) -> str:
    """Return how much smaller the print is along one direction, with its bounds."""
    if not one.is_measured:
        return f"not measured: the scan hardly shows it (standard error {one.standard_error_pct:.1f} %)"
    if one.shrinkage_pct is not None:
        return _size_words(one.shrinkage_pct, "")
    if one.against_mean_pct is None:
        return "not measured"
    return _size_words(one.against_mean_pct, " than the mean of the directions")


def _size_words(smaller: Estimate, than: str) -> str:
    """Return a difference in words; bounds have the sign of the word before them, below 0 for its contrary."""
    if smaller.value >= 0.0:
        return f"{smaller.value:.2f} % smaller{than} ({smaller.low + 0.0:.2f} to {smaller.high + 0.0:.2f})"
    return f"{-smaller.value:.2f} % larger{than} ({0.0 - smaller.high:.2f} to {0.0 - smaller.low:.2f})"


def distance_words(found: Comparison) -> str:
    """Return how far the print is off as a whole, and once size and bend are taken out."""
    off, left = found.percentiles_mm, found.left_mm
    return (
        f"95 % of what the scan shows lies within {off['95 of size']:.2f} mm of the part ({off['5']:+.2f} to "
        f"{off['95']:+.2f}; middle {off['50']:+.2f}); with size and bend taken out within {left['95 of size']:.2f} mm."
    )


def result_rows(found: Comparison) -> list[tuple[str, str]]:
    """Return what was looked at, and what was found, in short."""
    rows = [("off by", distance_words(found)), ("scan", scale_words(found))]
    rows += [(f"size along {each.words}", shrinkage_words(each)) for each in found.shrinkage]
    rows.append(("bend", found.bend.note))
    if found.weighing is not None:
        rows.append(("weight", found.weighing.note))
    return rows + [("in doubt", each) for each in found.doubts]


def compare_lines(found: Comparison) -> list[str]:
    """Return the whole comparison as lines."""
    lines = [
        f"Print of {found.number}, revision {found.revision}, by {found.scan_file}: the scan shows "
        f"{100.0 * found.seen_share:.0f} % of the part's outside.",
        distance_words(found),
        scale_words(found),
        "Size of the print, beside what was asked for:",
        *(f"  {each.words}: {shrinkage_words(each)}" for each in found.shrinkage),
        found.bend.note,
    ]
    if found.worst:
        lines.append("Off most (place in the part frame, mm):")
        lines += [
            f"  {each.distance_mm:+.2f} mm over {each.area_cm2:.1f} cm2: {each.words}, {placed(each.position_mm)}"
            f"{'' if each.is_local else '; by size or bend'}"
            for each in found.worst
        ]
    else:
        lines.append("No place is off by more than the print's texture and the scan's noise.")
    if found.weighing is not None:
        lines.append(found.weighing.note)
    if found.corrections:
        lines.append("To correct, in the next revision's job:")
        lines += [f"  {show_path(each.path)} = {toml_value(each.value)}  # {each.why}" for each in found.corrections]
    else:
        lines.append("Nothing to correct by what was measured.")
    lines += [f"In doubt: {each}" for each in found.doubts]
    lines += [f"note: {each}" for each in found.notes]
    return lines
