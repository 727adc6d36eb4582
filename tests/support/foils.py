"""Pictures of pressed foils made from a known pressure or imprint: scanned flat, or photographed at a slant."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
from PIL import Image
from scipy import ndimage
from scipy.spatial import cKDTree

from padwright.core.stages.mats.mat_pose import CellMap, plane_of, rigid_map
from padwright.core.stages.mats.pressed_plan import PressedPlan, pressed_plan

Pressure = Callable[[np.ndarray, np.ndarray], np.ndarray]  # mm right and down on the sheet -> 0 to 1
PAPER, DARKEST = 94.0, 30.0  # CIELAB lightness of what bore nothing, and of what bore 1


def gray_of(lightness: np.ndarray) -> np.ndarray:
    """Return sRGB values, 0 to 255, of CIELAB lightness (ISO/CIE 11664-4:2019, IEC 61966-2-1:1999), turned round."""
    root = (np.asarray(lightness) + 16.0) / 116.0
    light = np.where(root > 6.0 / 29.0, root**3, 3.0 * (6.0 / 29.0) ** 2 * (root - 4.0 / 29.0))
    share = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055)
    return 255.0 * np.clip(share, 0.0, 1.0)


def scanned_sheet(
    pressure: Pressure,
    size_mm: tuple[float, float],
    dpi: float,
    *,
    seed: int = 0,
    grain: float = 10.0,
    paper: float = PAPER,
    darkest: float = DARKEST,
) -> np.ndarray:
    """Return a sheet, width and height in mm, as a flat scanner shows it, (rows, columns) gray.

    Grain is the standard deviation of each pixel, of 255, where it is dark; bare paper has a tenth of that.
    """
    pixel = 25.4 / dpi
    columns, rows = (round(each / pixel) for each in size_mm)
    x, y = np.meshgrid((np.arange(columns) + 0.5) * pixel, (np.arange(rows) + 0.5) * pixel)
    share = np.clip(pressure(x, y), 0.0, 1.0)
    noise = np.random.default_rng(seed).standard_normal(share.shape) * grain * (0.1 + np.sqrt(share))
    return np.clip(np.rint(gray_of(paper + (darkest - paper) * share) + noise), 0, 255).astype(np.uint8)


def photographed(
    sheet: np.ndarray, corners: np.ndarray, shape: tuple[int, int], *, table: float = 60.0, seed: int = 0
) -> np.ndarray:
    """Return a sheet as a camera sees it on a table, its corners, (4, 2) pixels, clockwise from its upper left.

    The map from four corners is worked out by least squares of its eight numbers, apart from the product's own.
    """
    high, wide = sheet.shape
    ends = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]]) - 0.5
    rows = [
        row
        for (x, y), (u, v) in zip(corners, ends, strict=True)
        for row in ([x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y])
    ]
    numbers = np.linalg.lstsq(np.array(rows), ends.ravel(), rcond=None)[0]
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(float)
    share = numbers[6] * x + numbers[7] * y + 1.0
    column = (numbers[0] * x + numbers[1] * y + numbers[2]) / share
    row = (numbers[3] * x + numbers[4] * y + numbers[5]) / share
    blurred = ndimage.gaussian_filter(sheet.astype(float), 0.5 * wide / np.ptp(corners[:, 0]))
    seen = ndimage.map_coordinates(blurred, [row, column], order=1, mode="constant", cval=table)
    noise = np.random.default_rng(seed).normal(0.0, 3.0, shape)
    return np.clip(np.rint(seen + noise), 0, 255).astype(np.uint8)


def picture_file(pixels: np.ndarray, kind: str = "PNG", **options: object) -> bytes:
    """Return a picture as a file; `dpi=(across, down)` is stated in it."""
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, kind, **options)
    return file.getvalue()


@dataclass(frozen=True)
class Imprint:
    """Where a body pressed the clay: places of the body side, mm, and how deep, with its plan."""

    vertices: np.ndarray  # (n, 3)
    depth: np.ndarray  # (n,)
    press: np.ndarray  # (3,)
    plan: PressedPlan
    reading: Any  # what the mat's stage takes of a reading


def heaped_imprint(seed: int) -> Imprint:
    """Return an imprint of three heaps that no turn or mirror has: two deep ones apart, a lesser one beside them."""
    rng = np.random.default_rng(seed)
    press = np.array([*rng.normal(0.0, 0.3, 2), -1.0])
    press /= np.linalg.norm(press)
    plane = plane_of(press)
    right, down = np.meshgrid(np.arange(-140.0, 141.0, 2.5), np.arange(-110.0, 111.0, 2.5))
    flat = np.stack([right.ravel(), down.ravel()], axis=1)
    spots = np.array([[-55.0, 0.0], [55.0, 0.0], [0.0, 70.0]]) + rng.normal(0.0, 6.0, (3, 2))
    deep, wide = np.array([18.0, 14.0, 7.0]) * rng.uniform(0.85, 1.15, 3), rng.uniform(20.0, 27.0, 3)
    depth = sum(
        top * np.exp(-((flat - at) ** 2).sum(axis=1) / (2.0 * side**2))
        for top, at, side in zip(deep, spots, wide, strict=True)
    )
    depth = np.maximum(depth - 1.0, 0.0)
    vertices = flat @ plane + np.outer(0.05 * right.ravel(), press)
    reading = SimpleNamespace(
        is_clay=np.ones(len(flat), bool), is_wall=np.zeros(len(flat), bool), imprint_depth=depth, press_direction=press,
        load_centers=[SimpleNamespace(position_mm=at @ plane) for at in spots[:2]],
    )  # fmt: skip
    plan = pressed_plan(reading, vertices, plane)
    assert plan is not None
    return Imprint(vertices, depth, press, plan, reading)


@dataclass(frozen=True)
class TrueFoil:
    """A foil that lay on an imprint."""

    pixels: np.ndarray  # (rows, columns) gray, as a flat scanner shows it
    places: CellMap  # from the plane across the press direction to its pixels
    share: Callable[[np.ndarray], np.ndarray]  # (k, 2) mm of that plane -> how dark it is there, 0 to 1


def foil_over(
    imprint: Imprint,
    *,
    size_mm: tuple[float, float] = (210.0, 297.0),
    dpi: float = 100.0,
    turn_deg: float = 0.0,
    moved_mm: tuple[float, float] = (0.0, 0.0),
    flipped: bool = False,
    seed: int = 0,
    **paper: float,
) -> TrueFoil:
    """Return what a foil shows that lay between a body and its imprint, turned about the imprint's middle.

    Pressure rises with depth, a little faster, and the foil darkens ever less with pressure.
    """
    flat = imprint.vertices @ imprint.plan.plane.T
    near, most = cKDTree(flat), imprint.depth.max()

    def share(places: np.ndarray) -> np.ndarray:
        away, found = near.query(places, k=4)
        weight = 1.0 / (away + 0.1)
        deep = (imprint.depth[found] * weight).sum(axis=1) / weight.sum(axis=1)
        bore = np.where(away[:, 0] < 3.0, np.maximum(deep / most, 0.0) ** 1.3, 0.0)
        return np.asarray((1.0 - np.exp(-1.5 * bore)) / (1.0 - np.exp(-1.5)))

    pixel = 25.4 / dpi
    columns, rows = (round(each / pixel) for each in size_mm)
    middle = 0.5 * np.array([columns - 1.0, rows - 1.0])
    at = np.average(flat, axis=0, weights=imprint.depth) + moved_mm
    places = rigid_map(imprint.plan.plane, (pixel, pixel), np.radians(turn_deg), middle, at, flipped=flipped)
    step = max(1, round(1.0 / pixel))  # the pressure is worked out every millimeter and laid between
    row, column = np.mgrid[0 : rows + step : step, 0 : columns + step : step]
    coarse = share(places.flat_of(np.stack([row.ravel(), column.ravel()], axis=1))).reshape(row.shape)

    def pressure(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return ndimage.map_coordinates(coarse, [(y / pixel - 0.5) / step, (x / pixel - 0.5) / step], order=1)

    return TrueFoil(scanned_sheet(pressure, size_mm, dpi, seed=seed, **paper), places, share)
