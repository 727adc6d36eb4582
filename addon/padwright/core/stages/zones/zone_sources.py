"""Where a zone may come from: load centers, imprint depth, outlines, weights, or what is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...base.text import counted
from ...geometry.through import BodySide
from ..reading.impression_reading import ImpressionReading
from .outlines import distance_inside_projected, share_inside_drawn_line


@dataclass(frozen=True, eq=False)
class SourcePlace:
    """What a source may look at."""

    body: BodySide
    reading: ImpressionReading | None
    impression: TriMesh | None  # the aligned impression, part frame, mm
    edge_mm: float  # mean edge length of the body side


class ZoneSource(Protocol):
    """Says how much each vertex of the body side belongs to a zone: each kind of source below is one."""

    def share(self, place: SourcePlace) -> Float:
        """Return (b,) float between 0 (outside) and 1 (inside).

        Raises InputError when there is nothing to say it by, or no such thing on this part.
        """


def softened(inside_mm: Float, edge_mm: float) -> Float:
    """Turn a signed distance (positive inside) into a share; a ramp of two edges keeps the border between vertices."""
    return np.clip(0.5 + 0.5 * inside_mm / edge_mm, 0.0, 1.0)


@dataclass(frozen=True)
class LoadCenters:
    """The surroundings of every load center."""

    radius_mm: float  # across the press direction; straight through space for wrap-around parts
    names: tuple[str, ...] = ()  # only the load centers of these names; all where there is none

    def share(self, place: SourcePlace) -> Float:
        """Refuse a radius that is not above 0 mm, and a load center that is not there."""
        if not self.radius_mm > 0:
            raise InputError(f"The radius around load centers must be above 0 mm; got {self.radius_mm}.")
        if place.reading is None:
            raise InputError(
                "Without an impression there are no load centers, and a zone (the part family's own?) asks for them.",
                hint='Give zones of your own: an outline, weights, or one with the source "rest" for the whole pad.',
            )
        found = list(place.reading.load_centers)
        if not found:
            raise _no_centers(place.reading)
        for name in self.names:
            if all(center.name != name for center in found):
                raise InputError(
                    f'A zone asks for the load center "{name}", but none of that name was found and is used.',
                    hint="Look at the notes on load centers, or leave the name out.",
                )
        centers = [center.position_mm for center in found if not self.names or center.name in self.names]
        tree = cKDTree(place.body.flat(np.asarray(centers, dtype=np.float64).reshape(-1, 3)))
        distance, _ = tree.query(place.body.flat(place.body.mesh.vertices))
        return softened(self.radius_mm - distance, place.edge_mm)


def _no_centers(reading: ImpressionReading) -> InputError:
    """Return why there is no load center to lay a zone around, and what to do about it."""
    found = len(reading.other_load_centers)
    other = "give the zone an outline or a band of imprint depth"
    if found:
        return InputError(
            f"A zone asks for load centers, but of the {counted(found, 'load center')} found none is used.",
            hint=f"Take use = false away under [[impression.load_centers]], or {other}.",
        )
    if not reading.is_contact.any():
        deepest = float(np.nan_to_num(reading.imprint_depth).max(initial=0.0))
        return InputError(
            f"A zone asks for load centers, but no place counts as pressed: the deepest imprint is {deepest:.1f} mm.",
            hint=f"Give a smaller impression.contact_depth_mm than that, press the clay deeper, or {other}.",
        )
    return InputError(
        "A zone asks for load centers, but none stands out where the body pressed.",
        hint=f"{other[0].upper()}{other[1:]}, or scan finer if the scan is coarse.",
    )


@dataclass(frozen=True)
class DepthBand:
    """Where the imprint is between two depths."""

    # Both: `from_mm` belongs to the band, `to_mm` does not.
    from_mm: float
    to_mm: float = float("inf")

    def share(self, place: SourcePlace) -> Float:
        """Take that of the nearest vertex of the impression; refuse an empty band, and a part without a reading."""
        if not self.from_mm < self.to_mm:
            raise InputError(f"A band of imprint depth from {self.from_mm} to {self.to_mm} mm is empty.")
        if place.reading is None or place.impression is None:
            raise InputError("A zone asks for imprint depth, but there is no impression.")
        found = _depths(place)
        return ((found >= self.from_mm) & (found < self.to_mm)).astype(np.float64)

    def reach(self, place: SourcePlace) -> tuple[float, float]:
        """Return the least and the greatest imprint depth on the pad, mm: what a band must lie between."""
        found = _depths(place)
        return float(found.min()), float(found.max())


def _depths(place: SourcePlace) -> Float:
    """Return the imprint depth at each vertex of the body side: that of the nearest vertex of the impression, mm."""
    assert place.reading is not None and place.impression is not None
    depth = np.asarray(place.reading.imprint_depth, dtype=np.float64)
    near = _nearest(place.impression.vertices[np.isfinite(depth)], place.body.mesh.vertices)
    return np.asarray(depth[np.isfinite(depth)][near])


@dataclass(frozen=True, eq=False)
class Outline:
    """What a closed line of points surrounds; moved along the press direction, or laid on a wrap-around surface."""

    points: Float  # (p, 3) float, mm, on or near the body side, in order; the last joins the first

    def share(self, place: SourcePlace) -> Float:
        """Refuse fewer than three points and, on a wrap-around part, a line that divides nothing."""
        points = np.asarray(self.points, dtype=np.float64).reshape(-1, 3)
        if len(points) > 1 and np.allclose(points[0], points[-1]):
            points = points[:-1]
        if len(points) < 3:
            raise InputError(f"An outline needs at least 3 points; got {len(points)}.")
        if place.body.press_direction is None:
            return share_inside_drawn_line(place.body.mesh, points, place.edge_mm)
        return softened(distance_inside_projected(place.body, points, 2.0 * place.edge_mm), place.edge_mm)


_HARDLY = 0.02
"""Share of the body side below which weights that lie elsewhere are said to; our choice."""


@dataclass(frozen=True, eq=False)
class Weights:
    """Weights handed in at places of the part frame; carried over by the nearest place, never by order."""

    positions: Float  # (p, 3) float, mm
    weights: Float  # (p,) float, 0 to 1; a vertex belongs where it is 0.5 or more
    reach_mm: float = 5.0  # a vertex farther than this from every place has no weight

    def share(self, place: SourcePlace) -> Float:
        """Refuse arrays that differ in length or are empty, weights not between 0 and 1, and places elsewhere."""
        positions = np.asarray(self.positions, dtype=np.float64).reshape(-1, 3)
        weights = np.asarray(self.weights, dtype=np.float64).ravel()
        if len(positions) != len(weights) or len(weights) == 0:
            raise InputError(f"{counted(len(weights), 'weight')} for {counted(len(positions), 'place')}.")
        if not ((weights >= 0) & (weights <= 1)).all():
            raise InputError(f"Weights must lie between 0 and 1; got {weights.min()} to {weights.max()}.")
        vertices = place.body.mesh.vertices
        distance, near = cKDTree(positions).query(vertices)
        share = np.where(distance <= self.reach_mm, weights[near], 0.0)
        painted = positions[weights >= 0.5]
        if len(painted) and (share >= 0.5).mean() < _HARDLY:
            away = float(np.median(cKDTree(vertices).query(painted)[0]))
            if away > self.reach_mm:
                raise InputError(
                    f"The weights of 0.5 and more lie {away:.0f} mm from the pad's body side (median), and they reach "
                    f"{self.reach_mm:g} mm.",
                    hint="Give places on the body side, in the part frame and in mm.",
                )
        return share


@dataclass(frozen=True)
class Rest:
    """Everything that no zone before it took."""

    def share(self, place: SourcePlace) -> Float:
        """Return 1 for each vertex."""
        return np.ones(len(place.body.mesh.vertices))


def _nearest(positions: Float, points: Float) -> NDArray[np.int64]:
    if len(positions) == 0:
        raise InputError("The impression has no imprint depth anywhere.")
    return np.asarray(cKDTree(positions).query(points)[1])
