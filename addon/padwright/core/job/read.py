"""Read a job file: tables into dataclasses, then the rules that hold between keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

from ..base.errors import InputError, PadwrightError
from ..base.files import read_named
from ..base.notes import on_change
from ..base.text import with_article
from .cards import Family, load_family
from .doubtful_values import doubtful_notes, protective_word
from .given_keys import given_keys
from .idle_keys import idle_notes
from .keys import walk_keys
from .load_tables import Target, wrong_direction
from .long_lists import refuse_long_lists
from .mat_rules import check_mat, check_mat_zone
from .material_cards import load_material, material_names
from .mixed_up_files import NOT_KNOWN, ScanKinds, refuse_folder, refuse_no_job, same_scan
from .overrides import Setting, with_settings
from .renames import JOB, renewed
from .schema import FAMILIES, RETIRED, Job, Zone
from .toml_lines import Path, parse_toml, show_path
from .toml_tables import TableReader
from .virtual_clay import check_virtual_clay
from .zone_keys import COMMON_ZONE_KEYS, MARK_DEFAULTS, ZONE_KEYS

_MOST_BYTES = 20_000_000  # a job with weights typed into it is no job; weights have a file of their own

_WHOLE = {
    str(path[-1]): f"{key.low:g}" if key.low is not None and key.low == key.high else ""
    for path, key, _ in walk_keys(Job)
    if key.kind == "integer"
}


def read_job(path: str | FilePath, settings: Sequence[Setting] = (), scans: ScanKinds = NOT_KNOWN) -> Job:
    """Return the job of a file, with keys set from outside; file names in it are relative to its folder.

    Raises InputError when the file can't be read or anything in it is wrong; all faults are told, each with file, line
    and key.
    """
    path = FilePath(path)
    start = "Write one to start from with: python -m padwright new --family seat_pad --out job.toml"
    refuse_folder(path)
    if path.is_file():
        refuse_no_job(b"", path, scans)  # by its name, before a large file is read
    data = read_named(path, "The job file", most_bytes=_MOST_BYTES, hint=start)
    refuse_no_job(data, path, scans)
    return parse_job(data, path.name, path.parent, settings, scans)


def parse_job(
    data: bytes,
    name: str,
    folder: FilePath | None,
    settings: Sequence[Setting] = (),
    scans: ScanKinds = NOT_KNOWN,
) -> Job:
    """Return the job of a TOML text, with keys set from outside; without a folder files it names are not looked for.

    Raises InputError when anything in it is wrong.
    """
    refuse_long_lists(data, name)
    tables, lines = parse_toml(data, name, _WHOLE)
    text = data.decode("utf-8-sig").replace("\r\n", "\n").split("\n")
    return job_from_tables(tables, lines, name=name, folder=folder, settings=settings, text=text, scans=scans)


def job_from_tables(
    tables: Mapping[str, Any],
    lines: Mapping[Path, int] | None = None,
    *,
    name: str = "job",
    folder: FilePath | None = None,
    said: Callable[[Path, str], str] | None = None,
    settings: Sequence[Setting] = (),
    text: Sequence[str] = (),
    scans: ScanKinds = NOT_KNOWN,
) -> Job:
    """Return the job of tables in TOML form, e.g. made by a screen; defaults come from the part family card.

    Raises InputError when anything in them is wrong.

    Parameters
    ----------
    tables, lines, name, folder, text
        The job, where its keys stand, what to call it, where the files it names lie, and the lines of its own file.
    said : callable (path, text) -> str, optional
        How a screen words a fault, from its place and text; else it is told as one of a file.
    settings : sequence of Setting
        Keys set from outside, e.g. on the command line.
    scans : ScanKinds
        To tell which other file was meant for a scan.
    """
    now = renewed(tables, lines or {}, JOB)
    tables, retired = _without_retired(now.tables)
    family = _family_of(tables)
    if settings:
        tables = with_settings(tables, settings, family.zones)
        family = _family_of(tables)
    defaults: dict[Path, Any] = {path: default.value for path, default in family.defaults.items()}
    defaults[("zones",)] = [dict(zone) for zone in family.zones]
    reader = TableReader(name, now.lines, Job, folder=folder, defaults=defaults)
    reader.said, reader.once, reader.text, reader.scans = said, now.once, text, scans
    reader.takes = _keys_of_zone
    reader.outside = frozenset(each.path for each in settings)
    for path, text in now.doubles:
        reader.fault(path, text)
    reader.shared_files = {("material", "card"): material_names()}
    if tables.get("zones") == []:
        del tables["zones"]
    job: Job | None = reader.read(Job, tables)
    if job is not None:
        outside = tuple(dict.fromkeys(each.text for each in settings))
        job = _check_rules(reader, job, tables, family, folder)
        given = given_keys(job, tables, reader.outside)
        job = replace(job, retired=retired, renamed=now.notes, set_outside=outside, given=given, places=reader.places)
    return reader.finish(job)


def _family_of(tables: Mapping[str, Any]) -> Family:
    """Return the family a job names; a wrong one is told with all other faults."""
    part = tables.get("part")
    wanted = part.get("family") if isinstance(part, dict) else None
    return load_family(wanted if wanted in FAMILIES else FAMILIES[0])


def _without_retired(tables: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the tables without the keys of earlier versions, and which those were."""
    left, found = dict(tables), []
    for path in RETIRED:
        owner: Any = left
        for name in path[:-1]:
            inner = owner.get(name)
            if not isinstance(inner, dict):
                break
            owner[name] = owner = dict(inner)
        else:
            if path[-1] in owner:
                del owner[path[-1]]
                found.append(show_path(path))
    return left, tuple(found)


def _check_rules(
    reader: TableReader, job: Job, tables: Mapping[str, Any], family: Family, folder: FilePath | None
) -> Job:
    """Check what holds between keys, and return the job with the defaults that depend on other keys."""
    if family.asks_certified_gear and job.part.certified_gear is not False:
        caution = next(each for each in family.cautions if each.code == "CERTIFIED_GEAR")
        found = "this key is missing; it" if job.part.certified_gear is None else "it is true; it"
        reader.fault(
            ("part", "certified_gear"), f"{found} must be false for {with_article(family.name.lower())}. {caution.text}"
        )
    elif job.part.certified_gear:
        reader.fault(
            ("part", "certified_gear"), "it is true; nothing is made here for certified protective gear, of any family."
        )
    elif job.part.certified_gear is None and protective_word(job):
        reader.fault(
            ("part", "certified_gear"),
            f'this key is missing; the part\'s words say "{protective_word(job)}". Where a standard with its number is '
            "printed inside such gear it is certified, and nothing is made for it here. If none is, write: "
            "certified_gear = false",
        )
    if job.impression is None and job.pad.envelope is None:
        reader.fault(
            ("impression",),
            "this table is missing; give the impression scan, a scan of the body to press into virtual clay, or "
            "pad.envelope instead.",
        )
    check_virtual_clay(reader, job)
    same = same_scan(job, folder, reader.scans)
    if same:
        reader.fault(("impression", "scan"), same)
    if job.impression is not None and job.impression.scale is not None and job.impression.check_lengths:
        reader.fault(("impression", "scale"), "give either scale or check lengths of its own, not both.")
    if job.alignment.pose is not None and job.alignment.pairs:
        reader.fault(("alignment", "pose"), "give either pose or pairs, not both.")
    for scan in ("base", "impression", "body"):
        for index, length in enumerate(getattr(getattr(job, scan), "check_lengths", ())):
            if length.from_point == length.to_point:
                reader.fault((scan, "check_lengths", index, "to"), "it is the same point as from.")
            if length.plus_minus_mm >= length.measured_mm:
                reader.fault((scan, "check_lengths", index, "plus_minus_mm"), "it must be smaller than measured_mm.")
    datum = (job.datum.plane, job.datum.line, job.datum.point)
    if any(part is None for part in datum) and any(part is not None for part in datum):
        reader.fault(("datum",), "give plane, line and point together, or none of them.")
    if job.datum.symmetric and job.datum.plane is not None:
        reader.fault(("datum", "symmetric"), "give either points or symmetric = true, not both.")
    _check_centers(reader, job)
    _check_press(reader, job, family)
    _check_cases(reader, job)
    _check_nozzle(reader, job)
    _check_reliefs(reader, job)
    _check_blends(reader, job)
    check_mat(reader, job)
    if job.material.card and folder is not None:
        _check_material(reader, job, folder)
    return replace(job, zones=_checked_zones(reader, job, tables), target=_checked_target(reader, job, tables))


def _check_centers(reader: TableReader, job: Job) -> None:
    if job.impression is None:
        return
    low, high = job.impression.load_center_count
    if low > high or low % 1 or high % 1:
        reader.fault(("impression", "load_center_count"), "expected two whole numbers, the least and the most.")
    names = [mark.name for mark in job.impression.load_centers if mark.name]
    for name in sorted({name for name in names if names.count(name) > 1}):
        reader.fault(("impression", "load_centers"), f'two load centers are named "{name}"; names must differ.')
    for index, zone in enumerate(job.zones):
        for name in zone.load_centers or ():
            if name not in names:
                reader.fault(("zones", index, "load_centers"), f'[[impression.load_centers]] names no "{name}".')


def _check_press(reader: TableReader, job: Job, family: Family) -> None:
    if job.body.press_direction == "inward" and not family.wraps and job.pad.footprint is not None:
        reader.fault(("pad", "footprint"), 'an outline needs one press direction; body.press_direction is "inward".')
    if job.load.force_n is not None and job.load.body_mass_kg is not None:
        reader.fault(("load", "force_n"), "give either force_n or body_mass_kg, not both.")


def _check_cases(reader: TableReader, job: Job) -> None:
    for index, case in enumerate(job.load.cases):
        if case.share is not None and case.force_n is not None:
            reader.fault(("load", "cases", index, "force_n"), "give either share or force_n, not both.")
        if case.direction is None:
            continue
        wrong = wrong_direction(case.direction, job.body.press_direction)
        if wrong:
            reader.fault(("load", "cases", index, "direction"), wrong)


def _check_nozzle(reader: TableReader, job: Job) -> None:
    """Refuse a nozzle as wide as the filament, which presses nothing: the one was typed for the other."""
    nozzle, filament = job.printer.nozzle_mm, job.printer.filament_diameter_mm
    if nozzle >= filament:
        reader.fault(
            ("printer", "nozzle_mm"),
            f"a nozzle is narrower than the filament of {filament:g} mm that it presses; got {nozzle:g}. Write the "
            "number on the nozzle, most often 0.4, or the filament's in filament_diameter_mm.",
        )


def _check_reliefs(reader: TableReader, job: Job) -> None:
    for index, relief in enumerate(job.pad.reliefs):
        path: Path = ("pad", "reliefs", index)
        if relief.kind == "opening":
            if len(relief.points) < 3:
                reader.fault((*path, "points"), f"an opening needs 3 or more points; got {len(relief.points)}.")
            for name in ("width_mm", "depth_mm"):
                if getattr(relief, name) is not None:
                    reader.fault((*path, name), "an opening goes through the pad; only a channel has it.")
        else:
            for name in ("width_mm", "depth_mm"):
                if getattr(relief, name) is None:
                    reader.fault((*path, name), "this key is missing; a channel must have it.")


def _check_blends(reader: TableReader, job: Job) -> None:
    names = [zone.name for zone in job.zones]
    those = f"The zones are {', '.join(names)}." if names else "The job has no zones."
    for index, between in enumerate(job.blend.between):
        if between.zones[0] == between.zones[1]:
            reader.fault(("blend", "between", index, "zones"), "expected two different zones.")
        for zone in between.zones:
            if zone not in names:
                reader.fault(("blend", "between", index, "zones"), f'there is no zone "{zone}". {those}')
    for zone in job.target.relieve:
        if zone not in names:
            reader.fault(("target", "relieve"), f'there is no zone "{zone}". {those}')
    capped = [cap.zone for cap in job.target.caps]
    for index, zone in enumerate(capped):
        if zone not in names:
            reader.fault(("target", "caps", index, "zone"), f'there is no zone "{zone}". {those}')
        elif zone in capped[:index]:
            reader.fault(("target", "caps", index, "zone"), f'"{zone}" has a most pressure already; give one a zone.')


def _checked_target(reader: TableReader, job: Job, tables: Mapping[str, Any]) -> Target:
    """Check the limits and the target, and return it with its goal: whoever writes a target wants to be tuned."""
    for name in ("solid_share_pct", "contour_counts"):
        low, high = getattr(job.limits, name)
        if low > high:
            reader.fault(("limits", name), f"the least, {low:g}, is above the most, {high:g}.")
    if any(count % 1 for count in job.limits.contour_counts):
        reader.fault(("limits", "contour_counts"), "expected two whole numbers.")
    target = job.target
    given = tables.get("target")
    if given and "goal" not in given:
        target = replace(target, goal="relieve" if target.relieve or target.caps else "even")
    return target


def _check_material(reader: TableReader, job: Job, folder: FilePath) -> None:
    try:
        load_material(job.material.card, folder)
    except InputError as error:
        reader.fault(("material", "card"), error.message)


def _keys_of_zone(table: type, data: Mapping[str, Any]) -> frozenset[str] | None:
    """Return the keys that a zone of this source takes; None of what is no zone, or of a source that is not known."""
    keys = ZONE_KEYS.get(data.get("source", "")) if table is Zone and isinstance(data.get("source"), str) else None
    return None if keys is None else keys[0] | keys[1] | COMMON_ZONE_KEYS


def _checked_zones(reader: TableReader, job: Job, tables: Mapping[str, Any]) -> tuple[Zone, ...]:
    given = tables.get("zones") or [{} for _ in job.zones]
    zones = []
    is_virtual = job.impression is not None and job.impression.scan is None
    for index, (zone, keys) in enumerate(zip(job.zones, given, strict=True)):
        path: Path = ("zones", index)
        must, may = ZONE_KEYS[zone.source]
        for name in sorted(set(keys) - must - may - COMMON_ZONE_KEYS):
            its = ", ".join(sorted(must | may)) or "no keys of its own"
            reader.fault((*path, name), f'a zone with source "{zone.source}" does not take this key; it takes {its}.')
        if keys:
            for name in sorted(must - set(keys)):
                reader.fault((*path, name), f'this key is missing; a zone with source "{zone.source}" must have it.')
        for name in ("mm", "kpa", "pct", "dark_pct"):
            low, high = f"from_{name}", f"to_{name}"
            ends = getattr(zone, low), getattr(zone, high)
            if low in may and ends == (None, None) and zone.source != "pressure_grid":
                reader.fault((*path, low), f"give {low}, {high} or both.")
            if None not in ends and ends[0] >= ends[1]:
                reader.fault((*path, high), f"it must be above {low}.")
        if zone.source == "pressure_grid":
            check_mat_zone(reader, job, index)
        zones.append(_with_defaults(zone, may, "base" if is_virtual else "impression"))
    seen: set[str] = set()
    for index, zone in enumerate(zones):
        if zone.name in seen:
            reader.fault(("zones", index, "name"), f'there are two zones "{zone.name}"; names must differ.')
        seen.add(zone.name)
    for index in [index for index, zone in enumerate(zones) if zone.source == "rest"][1:]:
        reader.fault(("zones", index, "source"), 'only one zone may have source "rest".')
    return tuple(zones)


def _with_defaults(zone: Zone, may: frozenset[str], drawn_on: str) -> Zone:
    if zone.source == "color_marks":
        marks: dict[str, Any] = {key: value for key, value in MARK_DEFAULTS.items() if getattr(zone, key) is None}
        zone = replace(zone, **marks)
    return replace(
        zone,
        radius_mm=zone.radius_mm if "radius_mm" in may else None,
        points_on=(zone.points_on or drawn_on) if "points_on" in may else zone.points_on,
    )


@contextmanager
def blame_key(*key: str | int, of: type[PadwrightError] = InputError) -> Iterator[None]:
    """Let an error of a kind, raised inside, name the job's key it comes from, unless it names one already."""
    try:
        yield
    except of as error:
        error.key = error.key or (*key, *error.within)
        raise


def tell_place(error: PadwrightError, job: Job) -> PadwrightError:
    """Return the error, with file (or --set), line and key before its words where it blames a key of the job."""
    if error.key:
        error.message = f"{job.places.told(error.key)}: {error.message}"
        error.args = (f"{error.message} {error.hint}".rstrip(),)
    return error


def key_notes(job: Job) -> tuple[str, ...]:
    """Return notes of the keys that the job sets and that change nothing, any more or here, and of old names."""
    family = load_family(job.part.family)
    instead = {show_path(path): text for path, text in RETIRED.items()}
    notes = [on_change(f"Read and left out, no longer a key: {name}; {instead[name]}.") for name in job.retired]
    if job.set_outside:
        notes.insert(0, on_change(f"Set on the command line, beside the job file: {'; '.join(job.set_outside)}."))
    return (*doubtful_notes(job, family), *notes, *idle_notes(job), *job.renamed, *family.renamed)
