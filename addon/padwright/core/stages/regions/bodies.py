"""Regions made ready for files: rounded once, degenerate triangles taken out, checked."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ...base.cached import cached_property
from ...base.errors import ExportError
from ...base.mesh import Float, Int, TriMesh, all_paired, directed_edges
from ...base.notes import on_change
from ...base.text import counted, direction_words, placed
from .collapse import is_flat, without_degenerate
from .regions import Region

COUNTS_PER_MM = 10_000
"""Coordinates are written in steps of 1e-4 mm: a thousandth of a usual bead, and the rounding stays under 5e-5 mm."""

FARTHEST_MM = 1.0e5
"""Coordinates beyond 100 m are refused: integer cross products of 1e-4 mm counts stay exact in 64 bits below it."""

Counts = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class RegionBody:
    """One region as it stands in the files."""

    id: str
    name: str
    firmness_level: float
    counts: Counts  # (n, 3) int64, coordinates in the part frame, in steps of 1e-4 mm
    faces: Int  # (m, 3) int32
    notes: tuple[str, ...] = ()

    @cached_property
    def mesh(self) -> TriMesh:
        """The body as a mesh in mm; each coordinate is the double nearest to its decimal text."""
        return TriMesh(self.counts / COUNTS_PER_MM, self.faces)

    @cached_property
    def mesh_sha256(self) -> str:
        """SHA-256 over the coordinates (int64 counts of 1e-4 mm, little endian), then the corners (uint32)."""
        digest = hashlib.sha256(np.ascontiguousarray(self.counts, "<i8").tobytes())
        digest.update(np.ascontiguousarray(self.faces, "<u4").tobytes())
        return digest.hexdigest()


@dataclass(frozen=True)
class Mirror:
    """The regions of the part for the other side."""

    regions: tuple[Region, ...]  # as given, each with its mesh mirrored and its faces turned
    plane_normal: Float  # (3,) float, unit normal of the mirror plane; the plane contains the press direction
    plane_point_mm: Float  # (3,) float, a point on the plane: the middle of the part's bounds
    notes: tuple[str, ...]

    def of(self, mesh: TriMesh) -> TriMesh:
        """Return a mesh of the part mirrored like the regions, to the same bits."""
        return _mirrored_mesh(mesh, self.plane_normal, self.plane_point_mm)


def rounded_counts(vertices: Float) -> Counts:
    """Return coordinates as whole steps of 1e-4 mm, (n, 3) int64; the only place where they are rounded.

    Equal coordinates give equal counts, so a face that two regions share stays the same in both.

    Raises ExportError when a coordinate is not a number or lies beyond 100 m.
    """
    vertices = np.asarray(vertices, dtype=np.float64)
    is_good = np.isfinite(vertices) & (np.abs(vertices) < FARTHEST_MM)
    if not is_good.all():
        row = int(np.flatnonzero(~is_good.all(axis=1))[0])
        raise ExportError(
            f"Vertex {row} lies at {tuple(vertices[row].tolist())} mm; files hold up to {FARTHEST_MM:.0f} mm.",
            hint="Check the unit and the scale of the scans.",
        )
    return np.rint(vertices * COUNTS_PER_MM).astype(np.int64)


def rounded_mesh(mesh: TriMesh) -> TriMesh:
    """Return a mesh with its coordinates on the grid of the files."""
    return replace(mesh, vertices=rounded_counts(mesh.vertices) / COUNTS_PER_MM)


def pack_bodies(regions: Sequence[Region]) -> tuple[RegionBody, ...]:
    """Round the regions, take out the triangles that rounding made degenerate, and check what is left.

    Raises ExportError when there is no region, two share an id, or a rounded body is open, badly turned, inside out or
    degenerate.

    `regions`: closed meshes in the part frame, mm.
    """
    if not regions:
        raise ExportError("There is no region to write.")
    ids = [region.id for region in regions]
    if len(set(ids)) != len(ids):
        twice = next(i for i in ids if ids.count(i) > 1)
        raise ExportError(f'Two regions have the id "{twice}".', hint="Give the zones different names.")
    return tuple(_packed(region) for region in regions)


def _packed(region: Region) -> RegionBody:
    counts = rounded_counts(region.mesh.vertices)
    faces = without_degenerate(counts, region.mesh.faces)
    used = np.zeros(len(counts), dtype=bool)
    used[faces.ravel()] = True
    renumber = np.cumsum(used, dtype=np.int32) - 1
    dropped = len(region.mesh.faces) - len(faces)
    notes = (
        (f"{region.name}: taken out, for being thinner than 0.0001 mm: {counted(dropped, 'triangle')}.",)
        if dropped
        else ()
    )
    body = RegionBody(region.id, region.name, float(region.firmness_level), counts[used], renumber[faces], notes)
    check_body(body)
    return body


def check_body(body: RegionBody) -> None:
    """Refuse a body that a file must not hold (3MF Core 1.4.0, section 4.1).

    Raises ExportError when it has under 4 triangles, a triangle without area, an edge that is not on exactly two
    triangles turned alike, or no positive volume. The message has the count and the first place.
    """
    faces, counts = body.faces.astype(np.int64), body.counts
    what = f'Region "{body.name}"'
    if len(faces) < 4:
        raise ExportError(
            f"{what} has {counted(len(faces), 'triangle')}; a solid has at least 4.", hint="Make its zone larger."
        )
    flat = np.flatnonzero(is_flat(counts, faces))
    if len(flat):
        raise ExportError(
            f"{what} has {counted(len(flat), 'triangle')} without area, the first at "
            f"{_place(counts[faces[flat[0], 0]])}.",
            hint="Smooth or remesh the part there.",
            faces=flat,
        )
    if not all_paired(faces, len(counts)):
        edges = directed_edges(faces)
        forward, backward = (edges[:, one] * len(counts) + edges[:, other] for one, other in ((0, 1), (1, 0)))
        values, number = np.unique(forward, return_counts=True)
        is_bad = ~np.isin(forward, backward) | np.isin(forward, values[number > 1])
        place = _place(counts[edges[is_bad][0, 0]])
        raise ExportError(
            f"{what} is not closed: {counted(int(is_bad.sum()), 'edge is', 'edges are')} not on two triangles turned "
            f"alike, the first at {place}.",
            hint="Close the part there, or turn its faces.",
            faces=np.unique(np.flatnonzero(is_bad) % len(faces)),
        )
    if body.mesh.volume <= 0.0:
        raise ExportError(f"{what} has the volume {body.mesh.volume:.3f} mm3.", hint="Turn its faces over.")


def _place(count: Counts) -> str:
    return f"{placed(count / COUNTS_PER_MM, 1)} mm"


def mirrored(regions: Sequence[Region], press_direction: Float | None) -> Mirror:
    """Return the regions of the part for the other side, such as the right insole from the left.

    The plane goes through the middle of the bounds and contains the press direction, so the part is still pressed the
    same way. Its normal is the axis of the part frame farthest from the press direction (x before y before z), made
    square to it; for a wrap-around part without a press direction it is x. Any other such plane gives the same part
    turned about the press direction.

    `press_direction`, (3,) float or None: unit vector from the body into the part.
    """
    press = np.zeros(3) if press_direction is None else np.asarray(press_direction, dtype=np.float64)
    normal = np.zeros(3)
    # Rounded, so that a tie between two axes does not fall to the last bit of the press direction.
    axis = int(np.argmin(np.round(np.abs(press), 6)))
    normal[axis] = 1.0
    normal -= (normal @ press) * press
    normal /= np.linalg.norm(normal)
    bounds = np.stack([region.mesh.bounds for region in regions])
    middle = 0.5 * (bounds[:, 0].min(axis=0) + bounds[:, 1].max(axis=0))
    other = tuple(replace(region, mesh=_mirrored_mesh(region.mesh, normal, middle)) for region in regions)
    return Mirror(
        other,
        normal,
        middle,
        (
            on_change(
                f"The part is mirrored, for the other side: across the plane with normal {direction_words(normal)} "
                "through its middle."
            ),
        ),
    )


def _mirrored_mesh(mesh: TriMesh, normal: Float, middle: Float) -> TriMesh:
    """Mirror by column sums: unlike a matrix product they give a vertex the same bits in whichever mesh it is."""
    x, y, z = (mesh.vertices[:, axis] - middle[axis] for axis in range(3))
    height = 2.0 * (x * normal[0] + y * normal[1] + z * normal[2])
    moved = np.stack([mesh.vertices[:, axis] - height * normal[axis] for axis in range(3)], axis=1)
    return replace(mesh, vertices=moved, faces=mesh.faces[:, ::-1])
