"""The printed solid of a pad with folded walls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ...base.mesh import Float, TriMesh, joined
from ...base.notes import to_look_at
from ...base.progress import Progress, Steps
from ...geometry.frames import inverse_rigid
from ...geometry.solids import Solid
from ..folds.layout import FoldLayout
from ..folds.standing import standing_lean_mm
from ..pad.pad import BuiltPad
from .core_mesh import core_mesh, side_mesh
from .openings import NO_OPENINGS, Openings, opening_meshes, plan_openings
from .outlets import outlet_meshes
from .roof import level_roof
from .row_ends import foot_lines, wall_sheets
from .spaces import spaces_between
from .walls import WallPlace, WallSheet, strip_mesh

_OPENING_MM = (3.5, 3.0)
"""Width and height of an opening through a wall's foot: spanned flat like the roof between walls."""

_SPARES_MM = 1.0  # a wall wider than two beads can spare what the side's cut takes of its outer face: a quarter of one
_SMOOTH_MM = 0.005
"""The core's faces are moved by no more than this to save triangles: four times as much would roughen a roof that is
all but level, and where such a roof lies at the middle of a layer, that layer would have slits along its gaps."""


@dataclass(frozen=True, eq=False)
class FoldedSolid:
    """The pad as it is printed."""

    mesh: TriMesh  # closed, part frame, mm
    volume_cm3: float
    walls: int  # rows and rings
    steepest_deg: float  # true angle of a wall's face from upright, skins and bends counted in
    filled_mm3: float  # of hollows that no opening reaches
    openings: Openings
    notes: tuple[str, ...] = field(default=())


def wall_place(layout: FoldLayout, slope_deg: Float) -> WallPlace:
    """Return what walls of a wished slope, (nx, ny) degrees from upright, are made from: floor, lean, roof."""
    heads = spaces_between(layout.columns, [wall.points for wall in layout.walls], layout.width_mm)
    return WallPlace.of(layout.columns, standing_lean_mm(layout, slope_deg), level_roof(layout, heads))


def build_shape(pad: BuiltPad, layout: FoldLayout, slope_deg: Float) -> Steps[FoldedSolid]:
    """Build the solid with walls of a slope, (nx, ny) degrees from upright over the layout's raster.

    Raises SolidError when no closed solid comes out.
    """
    yield Progress(0.0, "raising the walls")
    columns = layout.columns
    place = wall_place(layout, slope_deg)
    strips: dict[str, list[TriMesh]] = {}
    sheets = wall_sheets(layout, place)
    for wall, sheet in zip(layout.walls, sheets, strict=True):
        if sheet is not None:
            strips.setdefault(wall.kind, []).append(strip_mesh(sheet, layout.width_mm))
    walls = {kind: Solid.of(joined(some), f"walls ({kind}s)") for kind, some in strips.items()}
    yield Progress(0.2, "hollowing the core")
    is_sealed = layout.wishes.voids == "sealed"
    sealed = (layout.border, layout.width_mm) if is_sealed else None
    core = Solid.of(core_mesh(columns, place.roof, sealed), "core").simplified(_SMOOTH_MM)
    void = core.less(list(walls.values()))
    yield Progress(0.5, "cutting the voids out of the pad")
    outer = Solid.of(pad.mesh.transformed(layout.to_plane), "pad")
    opened = NO_OPENINGS if is_sealed else _openings(layout, place)
    cuts = (
        [] if is_sealed else _cuts(layout, walls.get("ring") if layout.width_mm < _SPARES_MM else None, sheets, opened)
    )
    part = outer.less([void, *cuts])
    yield Progress(0.8, "measuring the solid")
    made, filled = _one_piece(part, is_sealed)
    mesh = made.mesh().transformed(inverse_rigid(layout.to_plane))
    yield Progress(1.0, "solid done")
    stand = [sheet for sheet in sheets if sheet is not None]
    return FoldedSolid(
        mesh,
        mesh.volume / 1000.0,
        len(stand),
        max(float(sheet.lean_deg.max()) for sheet in stand),
        filled,
        opened,
        _notes(filled, mesh.volume),
    )


def _notes(filled_mm3: float, volume_mm3: float) -> tuple[str, ...]:
    if filled_mm3 < 0.01 * volume_mm3:
        return ()
    return (
        to_look_at(f"Hollows of {filled_mm3 / 1000.0:.1f} cm3 that no opening reaches were filled: it is firm there."),
    )


def _openings(layout: FoldLayout, place: WallPlace) -> Openings:
    feet = foot_lines(layout)
    spaces = spaces_between(layout.columns, [line for line in feet if line is not None], layout.width_mm)
    return plan_openings(spaces, layout, place, feet, _wide(layout), _OPENING_MM[1])


def _cuts(layout: FoldLayout, rings: Solid | None, sheets: Sequence[WallSheet | None], opened: Openings) -> list[Solid]:
    """Return what opens the pad to the air: its side, and openings through walls' feet.

    The side's border follows the outermost ring only roughly: narrow `rings`, if given, stay as wide as they are.
    """
    found = []
    side = side_mesh(layout)
    if side is not None:
        found.append(Solid.of(side, "side").less([] if rings is None else [rings]))
    blocks = opening_meshes(opened.openings, layout.walls, sheets)
    if blocks:
        found.append(Solid.of(joined(blocks), "openings"))
    # One by one: two outlets may cross.
    grooves = outlet_meshes(list(opened.outlets), layout, _wide(layout))
    return [*found, *(Solid.of(each, "outlets") for each in grooves)]


def _wide(layout: FoldLayout) -> float:
    return min(_OPENING_MM[0], layout.wishes.longest_bridge_mm)


def _one_piece(part: Solid, is_sealed: bool) -> tuple[Solid, float]:
    """Return the largest piece of a solid, its shut hollows filled unless they are to be shut, and how much is filled.

    A hollow that no opening reaches lies in the narrow end between two walls that meet; air in it would be a spring.
    """
    if is_sealed:
        return part, 0.0
    pieces = part.pieces()
    return pieces[0], -sum(piece.volume_mm3 for piece in pieces if piece.volume_mm3 < 0.0)
