"""A zone's painted shares on a pad: mirrored, smoothed, or begun from what data gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...geometry.smoothing import smoothed
from ...geometry.through import BodySide, PadShape, body_side
from ..reading.impression_reading import ImpressionReading
from ..reading.left_right import SidePlane, mirrored
from .zone_sources import Rest, SourcePlace, ZoneSource

WAYS = ("fuller", "positive", "negative", "apart")
"""Which side is kept: the one with more of the zone, the one the plane's normal points to, the other; or the whole
zone mirrored, to lie apart from what it was made from."""

_REACH_EDGES = 2.0  # a mirrored place farther than this off the body side is off the pad


@dataclass(frozen=True, eq=False)
class Mirrored:
    """Shares after mirroring."""

    share: Float  # (n,) float, of every pad vertex, 0 to 1
    is_from_positive: bool | None  # which side was kept; None where the whole zone was mirrored
    changed_cm2: float  # area of the body side that joined or left the zone
    off_cm2: float  # area of the zone that has no counterpart, because its mirrored place is off the pad


def mirrored_share(pad: PadShape, share: Float, plane: SidePlane, way: str = "fuller") -> Mirrored:
    """Return a zone's shares mirrored in a plane.

    A vertex takes the share that is found at its mirrored place: of the four nearest vertices of the body side by
    inverse squared distance (Shepard 1968, doi 10.1145/800186.810616), seen along the press direction, because one side
    may lie deeper. The kept side stays as it is to the last digit.

    Raises InputError when the way is not known, the shares are of another pad, or the zone is empty where it is to be
    taken from.

    Parameters
    ----------
    share : (n,) float
        Of every pad vertex, 0 to 1; only what the body side has counts.
    plane : SidePlane
        Mid-plane, part frame, mm.
    way : str
        One of `WAYS`.
    """
    if way not in WAYS:
        raise InputError(f'The way to mirror "{way}" is not known.', hint=f"Use one of {', '.join(WAYS)}.")
    body, own = _on_body(pad, share)
    mesh = body.mesh
    flat = body.flat(mesh.vertices)
    there = body.flat(mirrored(mesh.vertices, plane))
    gap, mate = cKDTree(flat).query(there, k=min(4, len(flat)))
    weight = 1.0 / np.maximum(gap, 1e-6) ** 2
    found = (weight * own[mate]).sum(axis=1) / weight.sum(axis=1)
    is_off = gap[:, 0] > _REACH_EDGES * float(mesh.edge_lengths.mean())
    found[is_off] = 0.0
    away = (mesh.vertices - plane.point) @ plane.normal
    area = mesh.vertex_areas
    amount = [float((area * own)[away >= 0].sum()), float((area * own)[away < 0].sum())]
    is_positive: bool | None = {"positive": True, "negative": False, "apart": None}.get(way, amount[0] >= amount[1])
    if (sum(amount) if is_positive is None else amount[0 if is_positive else 1]) <= 0.0:
        raise InputError(
            "The zone has nothing on the side to mirror from.", hint="Paint it there, or mirror from the other side."
        )
    result = found
    if is_positive is not None:
        result = np.where((away >= 0) == is_positive, own, found)
    is_source = np.ones(len(away), dtype=bool) if is_positive is None else (away >= 0) == is_positive
    return Mirrored(
        _on_pad(body, result),
        is_positive,
        float(area[(result >= 0.5) != (own >= 0.5)].sum()) / 100.0,
        float(area[is_source & is_off & (own >= 0.5)].sum()) / 100.0,
    )


def smoothed_share(pad: PadShape, share: Float, length_mm: float) -> Float:
    """Return a zone's shares, (n,), smoothed over the body side as `smoothing.smoothed` does.

    Raises InputError when the shares are of another pad, or the length is negative.
    """
    body, own = _on_body(pad, share)
    return _on_pad(body, np.clip(smoothed(body.mesh, own, length_mm), 0.0, 1.0))


def source_share(
    pad: PadShape, reading: ImpressionReading | None, source: ZoneSource, impression: TriMesh | None
) -> Float:
    """Return the share of every pad vertex, (n,), that one source gives by itself, whatever other zones claim.

    Raises InputError as the source does; when it is "rest", which is what others leave; when it gives nothing.
    """
    if isinstance(source, Rest):
        raise InputError("The rest is what other zones leave.", hint="Plan the zones first.")
    body = body_side(pad)
    share = source.share(SourcePlace(body, reading, impression, float(body.mesh.edge_lengths.mean())))
    if not (share >= 0.5).any():
        raise InputError("The data gives nothing on the pad's body side.", hint="Check what the zone is made from.")
    return _on_pad(body, share)


def _on_body(pad: PadShape, share: Float) -> tuple[BodySide, Float]:
    values = np.asarray(share, dtype=np.float64)
    if values.shape != (len(pad.mesh.vertices),):
        raise InputError(
            f"The paint has {len(values)} values and the pad {len(pad.mesh.vertices)} vertices.",
            hint="Build the pad again; the paint is carried over.",
        )
    body = body_side(pad)
    return body, values[body.index]


def _on_pad(body: BodySide, values: Float) -> Float:
    """Return the body side's values on the whole pad; on the body side they stay to the last digit."""
    return np.clip(body.on_pad(values), 0.0, 1.0)
