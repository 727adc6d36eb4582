"""What a run says to the person, in one screen."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path

from ..base.notes import Weight, heaviest_first, sentences, weight_of, weight_words
from ..base.text import counted, figure
from ..stages.body.pressed import PressedBody
from ..stages.report.side_by_side import SideBySide
from .packing import Packed
from .parts import MadePart
from .summary_load import firmness_paragraphs, selection_lines
from .summary_notes import acting_notes, notes_of
from .summary_room import WIDTH, Paragraph, fitted, growing, wrapped

_MOST_LINES, _REGIONS_WITHIN = 30, 6  # for so many regions; one line more for each further
_ORDER = {Weight.ACT: 1, Weight.CHANGED: 4, Weight.LOOK: 8, Weight.BACKGROUND: 9}
_FACTS = 7
"""Order in which the lines grow where there is room; `summary_load` has that of its own."""


def run_summary(
    part: MadePart, packed: Packed, compared: SideBySide | None = None, *, in_full: bool = False
) -> tuple[str, ...]:
    """Return the lines: what was made, what changed since the revision before, how it is printed, what to watch.

    In full, every note whole and all that the load check says. Otherwise, with the lines that name the files, at most
    30 lines for up to 6 regions and one more for each further. Told in any case are the part, the regions with their
    settings, the load and the print in a sentence, the cautions and what must be acted on before printing; that alone,
    as of many such notes, may take more lines.
    """
    title = Paragraph((wrapped(_title(part)),))
    facts = [growing([line], _FACTS, "scans", least=least) for line, least in _facts(part, packed)]
    since = [] if compared is None else [growing(compared.in_short, _FACTS, "the revision before")]
    body = [title, *since, *facts, *firmness_paragraphs(part, packed, in_full=in_full)]
    notes = heaviest_first([*acting_notes(part, packed), *notes_of(part)])
    told = [_note(note) for note in notes]
    cautions = _cautions(part)
    if in_full:
        return tuple([*_lines([*body, *told], None), *cautions])
    most = _MOST_LINES + max(0, len(packed.bodies) - _REGIONS_WITHIN)
    room = most - len(cautions) - len(files_lines(Path("x" * WIDTH), _named(part, packed)))
    paragraphs = [*body, *told]
    for kept in itertools.count():  # lines to say what is left: the fewer there are, the less is left
        taken = fitted(paragraphs, room - kept)
        left = _left_lines(paragraphs, taken, len(body), notes)
        if len(left) <= kept:
            break
    return tuple([*_lines(paragraphs, room - kept), *left, *cautions])


def files_lines(folder: Path, names: Sequence[str], *, in_full: bool = False) -> tuple[str, ...]:
    """Return where the files are: the one to open by name, the others by what follows its number, or all in full.

    A folder whose name is longer than a line is not cut.
    """
    if in_full:
        return wrapped(f"Written to {folder}: {', '.join(names)}")
    shapes = sum(name.endswith(".stl") for name in names)
    others = [name for name in names if not name.endswith(".stl")]
    model = next((name for name in others if name.endswith(".3mf")), "")
    number = model.removesuffix(".3mf").removesuffix(".project")
    shown = [name if name == model else name.removeprefix(number) if number else name for name in others]
    together = "; load them together" if shapes > 1 else ""
    stl = [f"{counted(shapes, 'STL')} (on the bed{together})"] if shapes else []
    told = ", ".join([*shown, *stl])
    in_one = f"Written to {folder}: {told}"
    return (in_one,) if len(in_one) <= WIDTH else (f"Written to {folder}:", *wrapped(f"  {told}"))


def selection_summary(part: MadePart, packed: Packed) -> tuple[str, ...]:
    """Return the lines for a selection of the part's regions: which they are, how firm, what they take to print."""
    assert packed.selection is not None
    lines = [*wrapped(_title(part)), *wrapped(packed.selection.sentence), *selection_lines(part, packed)]
    for note in heaviest_first([*acting_notes(part, packed), *part.notes]):
        lines += _note(note).versions[-1]
    return tuple([*lines, *_cautions(part)])


def _named(part: MadePart, packed: Packed) -> list[str]:
    """Return the names of the files that a run writes, for the room they take."""
    number, output = part.job.part.number, part.job.output
    shapes = [f"{body.id}.stl" for body in packed.bodies] if output.stl else []
    pages = [*(["sheet.html"] if output.sheet else []), *(["report.html", "places.svg"] if output.report else [])]
    cut = ["cutaway.png"] if part.folded is not None else []
    return [f"{number}.{end}" for end in ("project.3mf", "settings.json", *cut, *pages, "run.json", *shapes)]


def _lines(paragraphs: Sequence[Paragraph], room: int | None) -> list[str]:
    taken = fitted(paragraphs, room)
    return [line for each, version in zip(paragraphs, taken, strict=True) for line in each.versions[version]]


def _is_told(paragraph: Paragraph, version: int) -> bool:
    return paragraph.is_whole and version == len(paragraph.versions) - 1


def _left_lines(
    paragraphs: Sequence[Paragraph], taken: Sequence[int], bodies: int, notes: Sequence[str]
) -> tuple[str, ...]:
    """Return what is left to the run in full: how many notes of each weight, and what else there is more of."""
    cut = [not _is_told(each, version) for each, version in zip(paragraphs, taken, strict=True)]
    about = dict.fromkeys(each.about for each, is_cut in zip(paragraphs, cut, strict=True) if is_cut and each.about)
    left = [weight_of(note) for note, is_cut in zip(notes, cut[bodies:], strict=True) if is_cut]
    left = [weight for weight in left if weight is not Weight.ACT]  # told above, if not to the end
    parts: list[str] = []
    if left:
        counts = [f"{left.count(weight)} {weight_words(weight)}" for weight in dict.fromkeys(left)]
        parts.append(f"{counted(len(left), 'more note')} ({', '.join(counts)})")
    if about:
        parts.append(f"more on {', '.join(about)}")
    return wrapped(f"(With -v: {', '.join(parts)}.)") if parts else ()


def _note(note: str) -> Paragraph:
    """Return a note as it is told: what must be acted on by its first sentence at least, others whole or not at all."""
    weight = weight_of(note)
    if weight is not Weight.ACT:
        return Paragraph(((), wrapped(f"Note: {note}")), _ORDER[weight])
    said = sentences(f"Before you print: {note}")
    shorter = [wrapped(f"{' '.join(said[:count])} (-v: more)") for count in range(1, len(said))]
    return Paragraph((*shorter, wrapped(" ".join(said))), _ORDER[weight])


def _title(part: MadePart) -> str:
    words = part.job.part
    side = "; mirrored: this is the part for the other side" if words.mirror else ""
    seconds = sum(each.seconds for each in part.times)
    return f"{words.name} ({words.number}, {part.family.name}{side}), made in {seconds:.1f} s"


def _cautions(part: MadePart) -> list[str]:
    """Return all that the family's card has, a line each; settings.json and the run document have the whole texts."""
    return [f"Caution: {caution.brief}" for caution in part.family.cautions]


def _facts(part: MadePart, packed: Packed) -> list[tuple[str, int]]:
    """Return the lines on scans, body and pad, each with 1 where it is told in any case."""
    # Without a scan of clay everything rests on how the body was pressed: it is never left to the run in full.
    always = (size_words(part), *clay_words(part))
    others = (*agreement_words(part), *body_words(part), *pad_words(part, packed), *fit_words(part))
    return [*((line, 1) for line in always), *((line, 0) for line in others)]


def agreement_words(part: MadePart) -> list[str]:
    """Return how well the scans agree; nothing without an impression."""
    pose = part.alignment
    if pose is None:
        return []
    return [
        f"Scans: laid on each other they agree to {pose.rms_mm:.2f} mm where both show the bare base "
        f"({100 * pose.overlap:.0f} % of the scan with clay)."
    ]


def pad_words(part: MadePart, packed: Packed) -> list[str]:
    """Return how large and how thick the pad is."""
    pad = part.pad
    if pad is None:
        return []
    line = f"Pad: {figure(packed.volume_cm3, 1)} cm3 over {figure(pad.footprint_cm2)} cm2"
    if pad.least_thickness_mm is not None:
        line += f", at least {pad.least_thickness_mm:.1f} mm thick"
        if pad.rim_thickness_mm is not None:
            line += f" ({pad.rim_thickness_mm:.1f} mm within its rounded rim)"
    return [f"{line}."]


def fit_words(part: MadePart) -> list[str]:
    """Return how the pad lies on the base."""
    gaps_mm = None if part.pad is None else part.pad.base_gap_mm
    if gaps_mm is None:
        return []
    low, high = (round(each, 2) + 0.0 for each in (gaps_mm[0], gaps_mm[-1]))  # a gap of nothing has no minus
    return [
        f"Fit: between pad and scanned base are {low:.2f} to {high:.2f} mm at nine places in ten "
        f"({part.job.pad.fit_gap_mm:g} asked)."
    ]


def size_words(part: MadePart) -> str:
    """Return what the check lengths say of the base scan's size."""
    fit = part.base.fit
    if fit is None or not fit.names:
        return "Size: no check length was given, so the part is as large as the scan says; nothing checks that."
    length = max(part.base.after.size)
    half = fit.half_width_mm(length)
    error = f", now right to {half:.2f} mm over its {length:.0f} mm" if half is not None else ""
    off = 100.0 * (1.0 / part.base.factor - 1.0)
    if abs(off) < 0.005:
        return f"Size: the base scan's own size is right{error.replace(', now right', '')}."
    return f"Size: the base scan was {abs(off):.2f} % too {'large' if off > 0.0 else 'small'}; it was corrected{error}."


def clay_words(part: MadePart) -> list[str]:
    """Return how a scan of the body was pressed into virtual clay; nothing where clay was scanned."""
    pressed = part.find(PressedBody)
    if pressed is None or pressed.clay is None:
        return []
    clay = pressed.clay
    strength, contact = clay.numbers["strength_kpa"], clay.numbers["contact_cm2"]
    between = f"{figure(contact.low)} to {figure(contact.high)}"
    return [
        f"Virtual clay: {figure(clay.found.force_n)} N press the body {clay.found.deepest_mm:.1f} mm into "
        f"{clay.thickness_mm:g} mm, on {figure(contact.value)} cm2 ({between}), in "
        f"clay of {figure(strength.value, 1)} kPa; the imprint is known to {figure(clay.shape_plus_minus_mm, 1)} mm."
    ]


def body_words(part: MadePart) -> list[str]:
    """Return what the body left in the clay; nothing without an impression."""
    reading = part.reading
    if reading is None:
        return []
    line = f"Body: it pressed {figure(reading.contact_area_cm2)} cm2 of the clay"
    centers = reading.load_centers
    if centers:
        depths = ", ".join(f"{center.depth_mm:.1f}" for center in centers)
        line += f", deepest at {counted(len(centers), 'place')} ({depths} mm)"
    # Of more than two places it would not be said between which.
    if reading.spacing_mm is not None and (len(centers) == 2 or reading.measured_spacing_mm is not None):
        line += f", {reading.spacing_mm:.1f} mm apart"
        if reading.measured_spacing_mm is not None:
            line += f" (by hand {reading.measured_spacing_mm:.0f})"
    return [f"{line}."]
