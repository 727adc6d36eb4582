"""What a person should know about a load check beside its numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.mesh import Bool
from ...base.notes import to_look_at
from ..material.curves import CurveBand, constrained_ratio
from .bulging_layers import COLUMN_LIMIT, Bounds
from .contact_pieces import ContactPiece
from .load_case import ContactPatch, LoadCase

IMPRINT_MM = 0.05
"""A pad that lies within this of the imprint is the imprint: below what a scan shows. Our choice."""

HELPED_FROM = 1.05
"""How much stiffer the pad around a narrow contact must make it to be told. Our choice."""

SPARED_SHARE = 0.01
"""Share of the patch from which it is said that the pad lies too deep to bear. Our choice."""

HELD_SHARE = 0.5
"""Share of the imprint's edge that must bear for it to be said that the contact could not grow. Our choice."""


def contact_notes(
    case: LoadCase,
    patch: ContactPatch,
    bands: Sequence[CurveBand],
    ratios: Sequence[Bounds],
    cells: Sequence[float | None],
    names: Sequence[str],
    pieces: Sequence[ContactPiece],
    *,
    margins: tuple[float, float],
    gone_mm2: Sequence[float],
    is_loaded: Bool,
    stiffer: Sequence[float],
) -> tuple[str, ...]:
    """Return the notes on one load check.

    Bands, ratios, cells and names have one entry a zone, and so has `stiffer`: pressure over strain, over the modulus
    of its band, 0 where it bears nothing. Margins are the bottoming margin expected and the least within the spread;
    `gone_mm2` is the area pressed to nothing: expected first, then within the spread. `is_loaded`, (n,), marks the
    points that bear.
    """
    notes = [_body(case, patch)]
    notes += _touching(patch, is_loaded)
    if case.point_mm is None and patch.press_direction is not None:
        where = "contact patch" if patch.clay_kpa is None else "pressure on the clay or the mat"
        notes.append(f"No load point was given: the force acts at the middle of the {where}.")
    notes += _narrow(pieces)
    for number, name in enumerate(names):
        is_zone = patch.zone == number
        area = float(patch.area_mm2[is_zone].sum())
        if area > 0.0:
            thickness = float(patch.thickness_mm[is_zone] @ patch.area_mm2[is_zone]) / area
            notes += _few_cells(name, cells[number], thickness) + _bulging(name, bands[number], ratios[number])
    said = _range(stiffer, names)
    if said:
        notes.append(said)
    notes += _bottoming(margins, gone_mm2)
    for band in bands:
        notes += [note for note in band.notes if note not in notes]
    return tuple(notes)


def _body(case: LoadCase, patch: ContactPatch) -> str:
    flesh = case.flesh
    if flesh is None:
        return (
            "The body is taken as rigid. Real flesh gives more than most pads and evens pressure out: the real peak "
            "lies between the mean and the one given, and zones differ less. Low and high do not hold that; use them "
            "to compare one version with the next."
        )
    low, high = (factor * flesh.thickness_mm for factor in flesh.thickness_factors)
    known = f"{low:.3g} to {high:.3g} mm" if low < high else f"{low:.3g} mm, as given,"
    clay = (
        " The imprint is the shape of flesh under load: how the clay pressed was not measured, so low and high go from "
        "even all over to heaped up where the clay was thin."
        if patch.clay_kpa is not None and np.ptp(patch.clay_kpa, axis=0).any()
        else ""
    )
    if patch.mat_ways is not None:
        clay = " How it bore was measured by the mat; low and high hold the mat's own error."
    return (
        f"The body gives: {known} of flesh lie between bone and pad, alike all over, though over a bone there is less. "
        f"Nothing spreads sideways in it, so a narrow groove bears less than is told.{clay}"
    )


def _narrow(pieces: Sequence[ContactPiece]) -> list[str]:
    return [
        to_look_at(
            f"The contact at ({', '.join(f'{value:.0f}' for value in piece.center_mm)}) mm is {piece.width_mm:.0f} mm "
            f"wide on a pad {piece.thickness_mm:.0f} mm thick: the pad around it helps to carry{_ending(piece)}. It "
            f"counts as {piece.stiffer.value:.1f} times as stiff as what lies below it alone "
            f"({piece.stiffer.low:.1f} to {piece.stiffer.high:.1f}); low and high hold that."
        )
        for piece in pieces
        if piece.stiffer.value > HELPED_FROM
    ]


def _ending(piece: ContactPiece) -> str:
    share = 100.0 * piece.open_share
    return f", but not along {share:.0f} % of its outline, where the pad ends" if share >= 10.0 else ""


def _few_cells(name: str, cell: float | None, thickness: float) -> list[str]:
    if cell is None or cell * 2.0 <= thickness:
        return []
    return [
        to_look_at(
            f"The pad holds only {thickness / cell:.1f} cells of {cell:.0f} mm through its thickness in "
            f'"{name}": below two, single walls are felt and the pressure there is an average.'
        )
    ]


def _bulging(name: str, band: CurveBand, ratio: Bounds) -> list[str]:
    if band.value.poisson <= COLUMN_LIMIT:
        return []
    column = float(constrained_ratio(band.value.poisson))
    return [
        to_look_at(
            f'"{name}" is solid and gives way only by bulging: it is between {ratio.low:.1f} and {ratio.high:.1f} '
            f"times as stiff as a free block, by how its sides are held ({column:.1f} if it could not bulge at all). "
            "The bounds hold that."
        )
    ]


def _bottoming(margins: tuple[float, float], gone_mm2: Sequence[float]) -> list[str]:
    expected, least = margins
    if gone_mm2[0] > 0.0:
        return [
            to_look_at(
                f"Over {gone_mm2[0]:.2g} mm2 the pad is so thin that it is pressed to nothing, as at a rim; the "
                "bottoming margin is that place's."
            )
        ]
    if max(gone_mm2) > 0.0:
        return [to_look_at("If the material is as soft as it may be, the pad is pressed to nothing somewhere.")]
    if least < 0.0 <= expected:
        return [to_look_at("If the material is as soft as it may be, the pad bottoms out at its worst place.")]
    return []


def _touching(patch: ContactPatch, is_loaded: Bool) -> list[str]:
    """Return what of the patch bears, and where the pad lies too deep to."""
    area, is_covered = patch.area_mm2, patch.is_covered
    whole = float(area[is_covered].sum())
    grown = float(area[is_loaded & ~is_covered].sum())
    said = []
    if grown > SPARED_SHARE * whole:
        said.append(
            f"Beyond the {whole / 100.0:.0f} cm2 of the imprint the body comes to bear on {grown / 100.0:.0f} cm2, by "
            "its scan."
        )
    elif is_covered.all() and float(area[patch.gaps < IMPRINT_MM].sum()) > 0.5 * whole:
        said.append(
            "The imprint is the body's shape under the load it made it with, so the contact area hardly changes with "
            f"load; {100.0 * float(area[is_loaded].sum()) / whole:.0f} % of the patch bears."
        )
    edge = patch.edge
    if is_covered.all() and len(edge) and is_loaded[edge].mean() > HELD_SHARE:
        said.append(
            f"Over {100.0 * float(is_loaded[edge].mean()):.0f} % of the imprint's edge the body still bears. Beyond it "
            "its shape is not known, so no load is put there: a wider imprint or a scan of the body (body.scan) tells."
        )
    spared = float(area[~is_loaded & is_covered & (patch.gaps >= IMPRINT_MM)].sum())
    if spared > SPARED_SHARE * whole:
        said.append(
            to_look_at(
                f"Over {spared / 100.0:.1f} of the {whole / 100.0:.0f} cm2 that the body covers the pad lies deeper "
                "than the body sinks (a groove, a rounded edge, or beside a place that was made thicker): nothing "
                "bears there."
            )
        )
    return said


def _range(stiffer: Sequence[float], names: Sequence[str]) -> str:
    """Return what a level's modulus has to do with the stiffness under this load."""
    far = [(ratio, name) for ratio, name in zip(stiffer, names, strict=True) if ratio > 0.0]
    if not far or max(far)[0] < 1.25:
        return ""
    least, most = min(far)[0], max(far)[0]
    times = f"{most:.1f}" if f"{least:.1f}" == f"{most:.1f}" else f"{least:.1f} to {most:.1f}"
    return (
        f"Under this load the zones are {times} times as stiff as their figures: those are a free block's, and in a "
        "wide pad the fill cannot spread. The load check reckons with that."
    )
