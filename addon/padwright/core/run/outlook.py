"""What a run will do, told before it: from the job and the heads of its scans, without reading a scan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ..base.errors import InputError, PadwrightError, ScanError
from ..base.text import counted
from ..job.cards import Family, load_family
from ..job.material_cards import is_shared_material, material_of
from ..job.read import blame_key, key_notes
from ..job.schema import Base, Impression, Job
from ..stages.load.job_loads import is_loaded, missing_load
from ..stages.packing.ids import commit_name
from ..stages.packing.sidecar import stl_name, threemf_name
from ..stages.scans.file_head import ScanHead, read_scan_head
from ..stages.scans.scale import choose_unit
from ..stages.stage import Step
from ..stages.zones.colored import files_beside
from ..stages.zones.zones import level_words
from .beside import read_beside
from .pipeline import PACKING, check_job
from .stages import STAGES
from .trial_notes import places_name

_WIDTH = 110
_MOST_NAMED, _MOST_LINES = 6, 23


@dataclass(frozen=True)
class Outlook:
    """What a run will do."""

    lines: tuple[str, ...]  # for a person
    faults: tuple[PadwrightError, ...]  # what the run would stop at, in the order in which it would meet it


def outlook(job: Job, folder: Path, out: Path) -> Outlook:
    """Return what a run of a job will do; its files are named from `folder`, where only the heads of scans are read.

    Where a zone asks for colors, the impression scan is read for the names of the files that they come from.
    """
    family = load_family(job.part.family)
    faults: list[PadwrightError] = []
    for ask in (check_job, read_beside):
        try:
            ask(job, folder)
        except PadwrightError as error:
            faults.append(error)
    lines = [f"Job: {job.part.name} ({job.part.number}, {family.name}{', mirrored' if job.part.mirror else ''})."]
    for name in ("base", "impression"):
        given = getattr(job, name)
        if given is None:
            lines.append("Impression scan: none; the pad is cut from pad.envelope.")
            continue
        if given.scan is None:
            lines.append(
                f"Impression scan: none; the body scan, {job.body.scan}, is pressed into virtual clay, "
                f"{given.clay_thickness_mm:g} mm thick."
            )
            continue
        try:
            lines.append(_scan_line(name, given, folder))
        except PadwrightError as error:
            lines.append(f"{name.capitalize()} scan: {given.scan}: cannot be used as it is.")
            faults.append(error)
    faults += _missing_colors(job, folder)
    lines += [*_card_lines(job, family, folder), _zone_line(job), *_stage_lines(job), _files_line(job, out)]
    wrapped = [line for each in lines for line in _wrapped(each)]
    notes = [_wrapped(f"Note: {note}") for note in key_notes(job)]
    while notes and len(wrapped) + sum(map(len, notes)) > _MOST_LINES:
        notes.pop()
    return Outlook((*wrapped, *(line for note in notes for line in note)), tuple(faults))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, subsequent_indent="  ")


def why_not(step: Step, job: Job) -> str:
    """Return why a run of a job leaves out a step, or finds nothing to do in it; "" where it does its work."""
    if not step.is_wanted(job):
        return f'target.goal is "{job.target.goal}"'
    if step.title in ("align", "read the impression") and job.impression is None:
        return "there is no impression scan"
    if step.title == "align" and job.impression is not None and job.impression.scan is None:
        return "there is no impression scan to lay on the base"
    if step.title == "press the body into clay" and job.body.scan is None:
        return "there is no scan of the body"
    if step.title == "check the load" and not is_loaded(job):
        return f"no load is given; {missing_load(job)}"
    return ""


def _scan_line(name: str, given: Base | Impression, folder: Path) -> str:
    what = f"{name} scan"
    with blame_key(name, "scan", of=ScanError):
        head = read_scan_head(folder / str(given.scan), str(given.scan), what)
    with blame_key(name, "unit"):
        unit, notes = choose_unit(head.file_unit, given.unit, what)
    told = [str(given.scan), head.file_format.upper() or "a format that only a run will tell", *_size_words(head)]
    said_by = "as the job says" if given.unit else "as its format states"
    line = f"{what.capitalize()}: {', '.join(told)}; read in {unit}, {said_by}; {_scale_words(given)}."
    return " ".join([line, *notes])


def _missing_colors(job: Job, folder: Path) -> Iterator[PadwrightError]:
    """Yield a fault for each file that the impression scan's colors come from and that is not there."""
    for path in files_beside(job, folder):
        if not path.is_file():
            fault = ScanError(
                f'The file beside the scan "{path.name}" is not there, and a zone asks for the scan\'s colors.',
                hint="Copy the scan's material file and pictures into the folder of the scan, or save the scan as GLB.",
            )
            fault.key = ("impression", "scan")
            yield fault


def _size_words(head: ScanHead) -> Iterator[str]:
    size = head.size_bytes
    yield f"{size / 1e6:.1f} MB" if size >= 100_000 else f"{size / 1e3:.1f} kB"
    if head.vertices is not None:
        yield counted(head.vertices, "vertex", "vertices")
    if head.faces is not None:
        yield counted(head.faces, "face")
    elif head.vertices is None:
        yield "its head states no counts"


def _scale_words(given: Base | Impression) -> str:
    if given.check_lengths:
        return f"corrected by {counted(len(given.check_lengths), 'check length')}"
    if isinstance(given, Impression) and given.scale != "as file":
        return "corrected as the base scan"
    return "its own size is trusted, there is no check length"


def _card_lines(job: Job, family: Family, folder: Path) -> Iterator[str]:
    try:
        card = material_of(job.material, folder)
    except InputError:  # told as a fault
        return
    kind = "ships with Padwright" if is_shared_material(job.material.card) else "a card file of your own"
    pressed, of = card.pressed(job.fill.kind), " of folded walls" if job.fill.kind == "folds" else ""
    known = f"calibrated by printed blocks{of}" if pressed else f"not calibrated by printed blocks{of}"
    if pressed and pressed.doubts:
        table = "fold_calibration" if of else "calibration"
        known += f", {counted(len(pressed.doubts), 'thing')} in doubt: see [{table}] doubts in it"
    printer = f"nozzle {job.printer.nozzle_mm:g} mm, bed {' x '.join(f'{side:g}' for side in job.printer.bed_mm)} mm"
    yield f"Material: {card.name} ({job.material.card}, {kind}, {known}); {printer}. Other defaults: card {family.id}."


def _zone_line(job: Job) -> str:
    zones = [f"{zone.name} ({zone.source}, {level_words(zone)})" for zone in job.zones[:_MOST_NAMED]]
    more = len(job.zones) - len(zones)
    return f"Zones: {', '.join(zones)}{f' and {more} more' if more else ''}."


def _stage_lines(job: Job) -> list[str]:
    # A stage with nothing to do for such a job is not told: no one asked for it.
    stages = [stage for stage in STAGES if not stage.rests(job)]
    steps = [(step.title, why_not(step, job)) for stage in stages for step in stage.steps]
    how = {"align": _alignment_words(job), "tune": f'target.goal is "{job.target.goal}"'}
    done = [f"{title} ({how[title]})" if title in how else title for title, reason in steps if not reason]
    left = [f"{title}: {reason}" for title, reason in steps if reason]
    lines = [f"It will: {'; '.join([*done, PACKING])}."]
    return [*lines, f"It will not: {'; '.join(left)}."] if left else lines


def _alignment_words(job: Job) -> str:
    if job.alignment.pairs:
        return f"by {counted(len(job.alignment.pairs), 'pair')} of points"
    return "by itself" if job.alignment.pose is None else f"by itself, taking pose {job.alignment.pose}"


def _files_line(job: Job, out: Path) -> str:
    number = job.part.number
    commit = commit_name(number, is_selection=False)
    files = [threemf_name(number), f"{number}.settings.json", commit]
    if job.fill.kind == "folds" and job.body.press_direction != "inward":
        files.append(f"{number}.cutaway.png")
    if job.output.sheet:
        files.append(f"{number}.sheet.html")
    if job.output.report:
        files.append(f"{number}.report.html")
        if job.body.press_direction != "inward":
            files.append(places_name(number))
    if job.output.stl:
        files.append(f"{stl_name(number, '<region>')} for each region")
    again = "; those of the last run there are replaced" if (out / commit).is_file() else ""
    return f"Files: {', '.join(files)}, in {out}{again}."
