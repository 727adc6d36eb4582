"""Picking that is going on: what is to be clicked next, what was clicked, and how the scans look meanwhile."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import bpy
from mathutils import Matrix, Vector

from .. import state

_ON = {"pad": "pad", "mat_picture": "mat's picture"}  # what is no scan
_APART = 0.1  # between scans side by side, in widths
current: list[Session] = []  # none or one; the overlay and the panels read it


@dataclass(frozen=True)
class PickedPlace:
    """A place on a scan."""

    scan: str  # "base", "impression", "pad" or "mat_picture"
    numbers: list[float]  # (3,), in the scan's own numbers; on the pad in the part frame, mm; on the picture in cells
    is_vertex: bool  # it is one of the scan's vertices


@dataclass(frozen=True)
class Click:
    """A click that is wanted: on which scan, in words for the person, and a short name for the mark."""

    scan: str
    words: str
    mark: str

    @property
    def on(self) -> str:
        """Return what is to be clicked on, in words."""
        return _ON.get(self.scan, f"{self.scan} scan")

    @property
    def snaps(self) -> bool:
        """Return whether a vertex of it may be meant."""
        return self.scan not in _ON


@dataclass
class Session:
    """Clicks in turn."""

    clicks: tuple[Click, ...]  # what makes one length or pair
    is_repeated: bool  # after the last click the first comes again
    thing: str  # "length", "pair", "run" or "place"
    first: int = 1  # number of the first one made
    most: int | None = None  # how many may be made, where they are repeated
    places: list[PickedPlace] = field(default_factory=list)  # what was clicked
    hover: PickedPlace | None = None  # what a click would take now
    # Clicks take the nearest vertex; with Ctrl held, the place itself. Else the other way round.
    is_snapping: bool = False

    @property
    def wanted(self) -> Click | None:
        """Return the click that comes next, or None when all are done."""
        most = self.most if self.is_repeated else 1
        if most is not None and len(self.places) >= most * len(self.clicks):
            return None
        return self.clicks[len(self.places) % len(self.clicks)]

    @property
    def is_on_two(self) -> bool:
        """Return whether places on two scans, or on one and a picture, are clicked in turn."""
        return len({click.scan for click in self.clicks}) > 1

    @property
    def finished(self) -> list[tuple[PickedPlace, ...]]:
        """Return the places of each length or pair that is whole."""
        count = len(self.clicks)
        return [tuple(self.places[i : i + count]) for i in range(0, len(self.places) - count + 1, count)]

    def number_of(self, index: int) -> int:
        """Return the number of the length or pair that a place belongs to."""
        return self.first + index // len(self.clicks)

    def take(self, place: PickedPlace) -> None:
        """Add a place."""
        self.places.append(place)
        self.hover = None

    def take_back(self) -> bool:
        """Drop the last place; False when there is none."""
        self.hover = None
        return bool(self.places) and self.places.pop() is not None

    def line(self, warning: str = "") -> str:
        """Return what the status bar says."""
        wanted = self.wanted
        if wanted is None:
            return ""
        number = f"{self.thing.capitalize()} {self.number_of(len(self.places))}: " if self.is_repeated else ""
        turned = "the place itself" if self.is_snapping else "the nearest vertex"
        said = f"{warning}{number}{wanted.words}   |   "
        said += "" if not wanted.snaps else f"Ctrl: {turned}   |   "
        said += "Right-Click: take back"
        if self.is_repeated:
            count = len(self.finished)
            kept = f"{count} {self.thing}" if count == 1 else f"{count} {self.thing}s"
            return f"{said}   |   Enter: keep {kept}   |   Esc: keep none"
        return f"{said}   |   Esc: stop"


class Looks:
    """How the part's objects look, to be set back exactly."""

    def __init__(self, context: bpy.types.Context) -> None:
        part = context.scene.padwright
        made = [obj for obj in state.made(part) if obj != part.walls]  # lines: they cover nothing
        ours = [
            part.base,
            part.impression,
            part.body,
            part.mat_picture,
            *made,
            *state.objects_in(context.scene, "Regions"),
        ]
        layer = context.view_layer.objects
        self._basis: tuple[str, Matrix] | None = None  # of the second of two, while it lies beside the first
        self._before = {
            obj.name: (obj.display_type, obj.hide_get()) for obj in ours if obj is not None and obj.name in layer
        }

    def only(self, context: bpy.types.Context, scan: bpy.types.Object) -> None:
        """Show one scan as a surface and all else of the part as boxes."""
        for name in self._before:
            obj = context.view_layer.objects.get(name)
            if obj is None:
                continue
            kind = "TEXTURED" if obj == scan else "BOUNDS"
            if obj.display_type != kind:
                obj.display_type = kind
            if obj == scan and obj.hide_get():
                obj.hide_set(False)
        context.view_layer.update()

    def both(self, context: bpy.types.Context, still: bpy.types.Object, moved: bpy.types.Object) -> None:
        """Show two as surfaces, side by side where one would lie before the other, and all else as boxes."""
        self.only(context, still)
        moved.display_type = "TEXTURED"
        moved.hide_set(False)
        context.view_layer.update()
        if self._basis is None:
            self._basis = (moved.name, moved.matrix_basis.copy())
            _put_beside(context, moved, still)

    def put_back(self, context: bpy.types.Context) -> None:
        """Set back how all looked."""
        for name, (kind, is_hidden) in self._before.items():
            obj = context.view_layer.objects.get(name)
            if obj is None:
                continue
            if obj.display_type != kind:
                obj.display_type = kind
            if obj.hide_get() != is_hidden:
                obj.hide_set(is_hidden)
        if self._basis is not None:
            name, basis = self._basis
            obj = context.view_layer.objects.get(name)
            if obj is not None:
                obj.matrix_basis = basis
            self._basis = None
        context.view_layer.update()


def _put_beside(context: bpy.types.Context, moved: bpy.types.Object, still: bpy.types.Object) -> None:
    """Move an object to the right in the view where it and another one lie over each other there."""
    import numpy as np

    from ..view import viewports

    axes = np.array(viewports.right_and_up(context))
    one, other = (
        np.array([obj.matrix_world @ Vector(corner) for corner in obj.bound_box]) @ axes.T for obj in (moved, still)
    )
    if (one.min(axis=0) > other.max(axis=0)).any() or (one.max(axis=0) < other.min(axis=0)).any():
        return
    gap = _APART * max(np.ptp(one[:, 0]), np.ptp(other[:, 0]))
    away = Vector(axes[0] * (other[:, 0].max() + gap - one[:, 0].min()))
    moved.matrix_world = Matrix.Translation(away) @ moved.matrix_world
    context.view_layer.update()


def length_clicks(scan: str) -> tuple[Click, ...]:
    """Return the clicks of a check length."""
    return (
        Click(scan, f"Click one end of the length on the {scan} scan", "From"),
        Click(scan, f"Click its other end on the {scan} scan", "To"),
    )


def mat_clicks(scan: str) -> tuple[Click, ...]:
    """Return the clicks of a place of a mat: its cell in the picture, and where that lay on a scan."""
    return (
        Click("mat_picture", "click a cell in the mat's picture", "Cell"),
        Click(scan, f"click where that cell lay on the {scan} scan", "Lay"),
    )


RUN_CLICKS = (
    Click("pad", "Click where a row begins on the pad", "From"),
    Click("pad", "Click where it leads to; walls lean to the right of that way", "To"),
)
SORE_CLICKS = (Click("pad", "Click where it hurts on the pad", "Sore"),)
PAIR_CLICKS = (
    Click("base", "click a place on the base scan that the impression shows too", "Base"),
    Click("impression", "click the same place on the impression scan", "Impression"),
)


def stop(_: Any = None) -> None:
    """Forget picking; also called when another file is loaded."""
    current.clear()
