"""From the scene to a job and its folder."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..core.base.errors import InputError
from ..core.base.slugs import slug
from ..core.job.files import gather_files
from ..core.job.overrides import Setting
from ..core.job.read import job_from_tables
from ..core.job.renames import JOB, renewed
from ..core.job.schema import Job
from ..core.stages.scans.formats.write_ply import write_ply
from . import bridge, job_words
from .alignment import poses
from .body import body_in_job
from .bridge import SCANS, as_typed, unit_mm
from .job_places import OPTIONAL, PLAIN, sub_table
from .mats import mat_in_job
from .pad import drawn_in_job
from .properties import OWN_CARD
from .reading import centers
from .scans import textures
from .zones import painting

_OURS = "saved from a scene by Padwright"
MARK_FIELDS = ("gap_mm", "filled", "least_cm2")
BY_SOURCE = {
    "load_centers": ("radius_mm",),
    "imprint_depth": ("from_mm", "to_mm"),
    "pressed_foil": ("from_dark_pct", "to_dark_pct"),
    "rest": (),
}


def hex_color(color: Any) -> str:
    """Return an sRGB color as a job writes it."""
    return "#" + "".join(f"{round(255.0 * min(max(each, 0.0), 1.0)):02x}" for each in color)


def work_folder() -> Path:
    """Return the folder where the scene's scans lie as files while the modeller runs."""
    folder = Path(bpy.app.tempdir) / "padwright"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def target_folder(chosen: str) -> Path:
    """Return the folder that was chosen, or one beside the saved scene.

    Raises InputError when there is none.
    """
    chosen = chosen.strip()
    if chosen.startswith("//") and not bpy.data.filepath:
        chosen = ""
    elif not chosen and bpy.data.filepath:
        chosen = "//out"
    if not chosen:
        raise InputError("There is no folder to write to.", hint="Choose a folder, or save the scene first.")
    folder = Path(bpy.path.abspath(chosen))
    if not folder.is_absolute():  # it would be one of wherever the modeller was started
        raise InputError(
            f'The folder "{chosen}" does not say where it is.',
            hint='Choose it, or begin with "//" for beside the scene.',
        )
    return folder


def read_scene(
    context: bpy.types.Context,
    folder: Path,
    *,
    with_zones: bool = True,
    with_outlines: bool = True,
    settings: Sequence[Setting] = (),
) -> Job:
    """Write the scene's files into a folder of our own and return the job that makes the part from them.

    Raises InputError when something is missing or wrong; the message says what.

    Parameters
    ----------
    with_zones : bool
        False leaves paint unread: reading it takes time, and no stage before the zones asks for it.
    with_outlines : bool
        False leaves footprint and reliefs unread: what is wrong with them stops no stage before the pad.
    settings : sequence of Setting
        Keys of the job set beside the scene.
    """
    tables, files = scene_files(context, with_zones=with_zones, with_outlines=with_outlines)
    return _checked_job(context, tables, files, folder, settings=settings)


def read_job_and_files(context: bpy.types.Context) -> tuple[Job, dict[str, bytes]]:
    """Return the job that makes the scene's part, and every file it names."""
    tables, files = scene_files(context)
    return _checked_job(context, tables, files, work_folder()), files


def _checked_job(
    context: bpy.types.Context,
    tables: dict[str, Any],
    files: dict[str, bytes],
    folder: Path,
    first_zone: int = 0,
    settings: Sequence[Setting] = (),
) -> Job:
    for name, data in files.items():
        (folder / name).write_bytes(data)
    said = None if settings else job_words.in_panel_words(context.scene.padwright, first_zone)
    return job_from_tables(tables, name="scene", folder=folder, said=said, settings=settings)


def scene_files(
    context: bpy.types.Context,
    *,
    with_zones: bool = True,
    with_outlines: bool = True,
    with_pictures: bool | None = None,
) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Return the scene's part as a job's tables, and every file they name: scans, painted zones, files from outside.

    The pictures of the impression's texture lie beside it where zones do, unless said otherwise.

    Raises InputError when something is missing, or a file cannot be read.
    """
    part = context.scene.padwright
    if not part.number.strip():
        raise InputError("The part has no number.", hint='Type one in the field "Number" of the panel Part.')
    context.view_layer.update()
    files: dict[str, bytes] = {}
    for scan in SCANS:
        obj = getattr(part, scan)
        if obj is not None:
            numbers = bridge.scan_numbers(obj, context, unit_mm(part, scan))
            laid = None
            if scan == "impression" and (with_zones if with_pictures is None else with_pictures):
                laid = textures.pictures_of(obj, context, scan_name(part, scan).removesuffix(".ply"))
            if laid is not None:
                files |= laid[1]
            on = None if laid is None else laid[0]
            files[scan_name(part, scan)] = write_ply(numbers, comment=_OURS, pictures=on)
    tables = scene_tables(part)
    drawn_in_job.add_tables(context, tables, files, with_outlines=with_outlines)
    if with_zones:
        tables["zones"] = _zone_tables(context, files)
    else:  # whatever names zones must go with them
        tables["target"]["relieve"] = []
        tables["target"]["goal"] = "levels"
        tables.get("blend", {}).pop("between", None)
    return tables, files | gather_files(tables, files)


def scan_name(part: Any, scan: str) -> str:
    """Return the name of the file that one of the part's scans is saved as."""
    shown = "body" if scan == "impression" and part.shows_body else scan
    return f"{slug(part.number)}.{shown}.ply"


def scene_tables(part: Any) -> dict[str, Any]:
    """Return the part's properties as a job's tables, without its zones."""
    if part.base is None:
        raise InputError("There is no base scan.", hint="Import one, or choose an object as the base scan.")
    # A scene saved by an earlier version keeps the job's keys of that time.
    tables: dict[str, Any] = renewed(json.loads(part.kept) if part.kept else {}, {}, JOB).tables
    tables["schema"] = 1
    # A scene gives every key a value: the person's own are those that an opened job gave, and those changed.
    tables.setdefault("given", [])
    sub_table(tables, ("base",))["scan"] = scan_name(part, "base")
    if part.impression is None:
        tables.pop("impression", None)
    elif part.shows_body:
        body_in_job.add_scan(part, tables, scan_name(part, "impression"))
    else:
        tables.setdefault("impression", {}).update(scan=scan_name(part, "impression"), unit=part.impression_unit)
    for name, path in {**PLAIN, **OPTIONAL}.items():
        if path[0] == "impression" and part.impression is None:
            continue
        value = as_typed(getattr(part, name))
        table = sub_table(tables, path[:-1])
        table.pop(path[-1], None)
        if name in PLAIN or value > 0:
            table[path[-1]] = value
    press = as_typed(part.press_vector) if part.press == "given" else part.press
    sub_table(tables, ("body",))["press_direction"] = press
    fill = sub_table(tables, ("fill",))
    fill.pop("direction", None)
    if part.rows_run == "given":
        fill["direction"] = as_typed(part.run_vector)
    if part.material != OWN_CARD:
        sub_table(tables, ("material",))["card"] = part.material
    for scan in SCANS[: 1 if part.impression is None else 2]:
        owner = "body" if scan == "impression" and part.shows_body else scan
        tables[owner]["check_lengths"] = [_length_table(each) for each in part.lengths if each.scan == scan]
    if part.impression is not None:
        tables["impression"].pop("load_centers", None)
        found = centers.tables(part)
        if found:
            tables["impression"]["load_centers"] = found
        tables["impression"].pop("scale", None)
        if not part.shows_body and not tables["impression"]["check_lengths"]:
            tables["impression"]["scale"] = part.impression_scale
    mat_in_job.add_table(part, tables)
    tables["target"]["relieve"] = [zone.name for zone in part.zones if zone.is_relieved]
    pairs = [pair for pair in part.pairs if pair.has_base and pair.has_impression]
    if part.shows_body and part.impression is not None:
        tables["body"]["pairs"] = body_in_job.pairs(part, pairs)
    elif pairs:
        points = [{"base": as_typed(pair.base), "impression": as_typed(pair.impression)} for pair in pairs]
        tables["alignment"] = {"pairs": points}
    elif poses.taken(part):
        tables["alignment"] = {"pose": poses.taken(part)}
    return tables


def _length_table(length: Any) -> dict[str, Any]:
    return {
        "name": length.name,
        "measured_mm": as_typed(length.measured_mm),
        "plus_minus_mm": as_typed(length.plus_minus_mm),
        "from": as_typed(length.start),
        "to": as_typed(length.end),
    }


def _zone_tables(context: bpy.types.Context, files: dict[str, bytes]) -> list[dict[str, Any]]:
    """Return the zones as tables; what is painted is added to the files, one a zone, in the part frame, mm."""
    part = context.scene.padwright
    shares = painting.painted(part)
    tables = []
    for number, zone in enumerate(part.zones):
        if number not in shares:
            tables.append(_data_table(context, zone))
            continue
        place = bridge.read_mesh(part.pad).vertices * bridge.mm_per_scene_unit(context.scene)
        file = f"{slug(part.number)}.zone-{number + 1}.npz"
        packed = io.BytesIO()
        np.savez(packed, positions=place, weights=shares[number])
        files[file] = packed.getvalue()
        tables.append({**_firmness(zone), "source": "weights", "file": file})
    return tables


def _firmness(zone: Any) -> dict[str, Any]:
    """Return a zone's name and how firm it is to be; a job says nothing of a zone that is as stiff as its level."""
    times = as_typed(zone.stiffness_times)
    table = {"name": zone.name, "level": as_typed(zone.level)}
    return table if times == 1.0 else {**table, "stiffness_times": times}


def _data_table(context: bpy.types.Context, zone: Any) -> dict[str, Any]:
    """Return the table of a zone that is not painted."""
    table = _firmness(zone)
    if zone.source == "paint":
        raise InputError(f'Zone "{zone.name}" is to be painted and is not.', hint="Paint it, or take it from data.")
    if zone.source == "color_marks":
        marks = {"color": zone.color_name or hex_color(zone.color), "color_tolerance": as_typed(zone.tolerance)}
        return {**table, "source": zone.source, **marks, **{key: as_typed(getattr(zone, key)) for key in MARK_FIELDS}}
    if zone.source == "outline":
        return {**table, **drawn_in_job.zone_table(context, zone)}
    if zone.source == "pressure_grid":
        ends = {key: as_typed(getattr(zone, key)) for key in ("from_kpa", "to_kpa")}
        return {**table, "source": zone.source, **{key: value for key, value in ends.items() if value > 0.0}}
    if zone.source == "kept":
        return {**json.loads(zone.kept), **table}
    return {**table, "source": zone.source, **{key: as_typed(getattr(zone, key)) for key in BY_SOURCE[zone.source]}}


def read_with_zone(context: bpy.types.Context, folder: Path, number: int | None) -> Job:
    """Return the scene's job with one zone only, made from its data and not from its paint; None: with none of ours.

    Raises InputError when something is missing or wrong.
    """
    tables, files = scene_files(context, with_zones=False, with_pictures=number is not None)
    if number is not None:
        tables["zones"] = [_data_table(context, context.scene.padwright.zones[number])]
    return _checked_job(context, tables, files, folder, number or 0)
