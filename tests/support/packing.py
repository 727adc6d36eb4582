"""A small part of two touching blocks, with everything the packing stage wants to know about it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.packing.sidecar import TOOL, stl_name, threemf_name, write_sidecar
from padwright.core.stages.packing.sidecar_parts import (
    ContactRecord,
    InputFile,
    MaterialRecord,
    PartRecord,
    Provenance,
    ScaleRecord,
    SidecarParts,
)
from padwright.core.stages.packing.stl import write_stl
from padwright.core.stages.packing.threemf import PartSheet, to_bed_matrix, write_threemf
from padwright.core.stages.packing.thumbnail import firmness_color, thumbnail_png
from padwright.core.stages.printing.level_settings import settings_for_level
from padwright.core.stages.regions.bodies import pack_bodies

TURN = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
NAMES = ("Heel", 'Bögen "links" & <rechts>')


@dataclass(frozen=True)
class Region:
    id: str
    name: str
    firmness_level: float
    mesh: TriMesh


@dataclass(frozen=True)
class Level:
    level: int
    name: str
    target_modulus_kpa: float
    solid_share_pct: float
    display_color: str = "#86C5A4"
    bead_width_mm: float = 0.5
    layer_thickness_mm: float = 0.2
    fill_structure: str = "gyroid"
    contour_count: int = 2
    body_side_layer_count: int = 3
    base_side_layer_count: int = 3
    max_speed_mm_s: float = 30.0


LEVELS = (
    Level(1, "relief", 25.0, 8.0, "#F3DFA8", contour_count=1),
    Level(2, "soft", 60.0, 12.0, "#86C5A4", contour_count=1),
    Level(3, "medium", 150.0, 20.0, "#3A8FA8"),
    Level(4, "firm", 400.0, 35.0, "#43407F", contour_count=3, max_speed_mm_s=40.0),
)


@dataclass(frozen=True)
class Printer:
    nozzle_mm: float = 0.4
    bead_width_mm: float | None = None
    layer_thickness_mm: float | None = None
    max_speed_mm_s: float | None = None


@dataclass(frozen=True)
class Material:
    id: str = "tpu_85a"
    max_volume_flow_mm3_s: float = 3.5
    nozzle_temperature_degc: float | None = 225.0
    bed_temperature_degc: float | None = None


@dataclass(frozen=True)
class Caution:
    code: str
    severity: str
    text: str
    source: str = "common practice, no source"


def block(low: tuple[float, float, float], high: tuple[float, float, float], cells: int = 1) -> TriMesh:
    """Return a closed box whose six sides are grids of `cells` squares a side."""
    steps = np.linspace(0.0, 1.0, cells + 1)
    points: list[np.ndarray] = []
    faces: list[np.ndarray] = []
    u, v = (grid.ravel() for grid in np.meshgrid(steps, steps, indexing="ij"))
    index = np.arange((cells + 1) ** 2).reshape(cells + 1, -1)
    a, b, c, d = (part.ravel() for part in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
    square = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    for axis in range(3):
        for end in (0.0, 1.0):
            side = np.zeros((len(u), 3))
            side[:, axis], side[:, (axis + 1) % 3], side[:, (axis + 2) % 3] = end, u, v
            faces.append((square if end else square[:, ::-1]) + sum(len(part) for part in points))
            points.append(side)
    unique, label = np.unique(np.concatenate(points), axis=0, return_inverse=True)
    low_, high_ = np.array(low), np.array(high)
    return TriMesh(low_ + unique * (high_ - low_), label.reshape(-1)[np.concatenate(faces)])


def regions(cells: int = 3) -> list[Region]:
    return [
        Region("heel", NAMES[0], 4.0, block((-10.0, -20.12345, 3.0), (30.0, 20.0, 12.0), cells)),
        Region("arch", NAMES[1], 2.5, block((30.0, -20.12345, 3.0), (50.0, 20.0, 12.0), cells)),
    ]


def sidecar_parts(cells: int = 3) -> SidecarParts:
    bodies = pack_bodies(regions(cells))
    return SidecarParts(
        part=PartRecord(
            "Seat pad, left",
            "PAD-1",
            "2",
            np.array([0.0, 0.0, -1.0]),
            to_bed_matrix(bodies, TURN, margin_mm=5.0),
            family="seat_pad",
            description="for the tests",
        ),
        bodies=bodies,
        settings={body.id: settings_for_level(body.firmness_level, LEVELS, Printer(), Material()) for body in bodies},
        levels=LEVELS,
        material=MaterialRecord(
            "tpu_85a", "TPU 85A", "TPU", "85A", 1.2, {"value": 14e3, "low": 7e3, "high": 21e3, "basis": "literature"}
        ),
        provenance=Provenance(
            "0.1.0",
            "2026-01-31T12:34:56Z",
            (InputFile("base_scan", "scans/base.ply", "0" * 64, 1234, "m", 5000),),
            ScaleRecord(0.99, 0.0005, "k1", "check_lengths", (("screws", 200.0, 0.1, 202.02),)),
            ScaleRecord(0.99, 0.0005, "k1", "as_base"),
            {"rms_mm": 0.21, "p95_mm": 0.4, "overlap": 0.3},
            0,
        ),
        cautions=(Caution("SKIN", "caution", "Look at the skin after the first half hour."),),
        contacts=(ContactRecord("heel", "arch", 3.61),),
    )


def changed(parts: SidecarParts, **part_values: object) -> SidecarParts:
    """Return the parts with other values in the part record."""
    return replace(parts, part=replace(parts.part, **part_values))


def level_colors(parts: SidecarParts) -> list[str]:
    colors: Sequence[str] = [level.display_color for level in parts.levels]
    return [firmness_color(body.firmness_level, colors) for body in parts.bodies]


def pack_files(parts: SidecarParts, *, stl: bool = True, color_by_firmness: bool = False) -> dict[str, bytes]:
    number = parts.part.number
    files: dict[str, bytes] = {}
    if stl:
        files = {stl_name(number, body.id): write_stl(body, number, parts.part.to_bed) for body in parts.bodies}
        digests = {body.id: hashlib.sha256(files[stl_name(number, body.id)]).hexdigest() for body in parts.bodies}
        parts = replace(parts, stl_sha256=digests)
    sidecar = write_sidecar(parts)
    colors = level_colors(parts)
    picture = thumbnail_png(parts.bodies, parts.part.press_direction, colors=colors)
    sheet = PartSheet(
        title=parts.part.name,
        part_number=number,
        material=parts.material.name,
        created_utc=parts.provenance.created_utc,
        application=f"{TOOL} {parts.provenance.version}",
        description=parts.part.description,
    )
    package = write_threemf(
        parts.bodies,
        sheet,
        sidecar=sidecar,
        to_bed=parts.part.to_bed,
        thumbnail=picture,
        colors=colors if color_by_firmness else None,
    )
    return {threemf_name(number): package, f"{number}.settings.json": sidecar, **files}
