"""The steps of the tour for folded walls: the same pad made soft by its shape, and what is seen inside it."""

from __future__ import annotations

from mathutils import Vector

from window_hands import Hands, Waits
from window_scene import look_from, part, pixel, places, result, seat_axes, work


def choose_folds(hands: Hands) -> Waits:
    """Choose folded walls, and lay them out."""
    yield from hands.open_panel("Load")
    yield from hands.choose("goal", 1)
    yield from hands.open_panel("Fill")
    yield from hands.choose("fill_kind", 2)
    assert part().fill_kind == "folds"
    yield from work(hands, "padwright.lay_out_walls")
    assert "walls of" in result("folds"), result("folds")
    assert part().walls.visible_get()
    yield from look_from(hands, right=0.3, rear=-0.6, up=1.0)
    yield from hands.picture("folds-lines")


def direction(hands: Hands) -> Waits:
    """Point out on the pad which way rows run, lay them out so, and take it back."""
    yield from look_from(hands, right=0.0, rear=-0.2, up=1.0)
    yield from hands.press("padwright.pick_run", wait=0.6)
    right, rear, up = seat_axes()
    spots = places(part().pad)
    middle = Vector(spots.mean(axis=0)) + 0.05 * up
    for step in (-0.05, 0.05):
        yield from hands.move(*pixel(hands, middle + step * (right + 0.6 * rear)))
        yield 0.4
        yield from hands.picture("folds-direction-picking", most_looks=2)
        yield from hands.tap("LEFTMOUSE", wait=0.5)
    assert part().rows_run == "given"
    way = part().base.matrix_world.to_quaternion() @ Vector(part().run_vector)
    assert way.dot((right + 0.6 * rear).normalized()) > 0.95, way
    yield from work(hands, "padwright.lay_out_walls")
    yield from hands.picture("folds-direction")
    yield from hands.choose("rows_run", 1)
    yield from work(hands, "padwright.lay_out_walls")


def make_shape(hands: Hands) -> Waits:
    """Check the load on the walls, and make the shape."""
    yield from hands.open_panel("Load")
    yield from work(hands, "padwright.check_load")
    yield from hands.picture("folds-load")
    yield from hands.open_panel("Shape")
    yield from work(hands, "padwright.make_shape")
    assert result("shape").startswith("The shape has "), result("shape")
    assert not any(row.obj is not None and row.obj.visible_get() for row in part().found.regions)
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("folds-shape")
    assert [row.name for row in part().found.takes][:3] == ["Mass", "Filament", "Print Time"]


def stiffness(hands: Hands) -> Waits:
    """Color the pad by what is wished and what is reached."""
    yield from look_from(hands, right=0.2, rear=-0.7, up=1.0)
    for what in ("wished", "reached"):
        yield from work(hands, f"padwright.show_values(values='{what}')")
        assert f"{what.title()} Stiffness" in part().legend, part().legend
        yield from hands.picture(f"folds-{what}")
    yield from hands.press("padwright.clear_colors", wait=0.8)
    assert part().solid.visible_get()


def cutaway(hands: Hands) -> Waits:
    """Cut a copy open, and move the cut by its slider."""
    faces = len(part().solid.data.polygons)
    yield from hands.press("padwright.show_inside(what='cutaway')", wait=1.2)
    assert part().inside.visible_get()
    assert not part().solid.visible_get()
    normal = part().solid.matrix_world.to_3x3() @ Vector(part().view.cut_normal)
    up = part().solid.matrix_world.to_3x3() @ Vector(part().view.up)
    yield from look_along(hands, normal, up)
    yield from hands.picture("folds-cutaway")
    before = part().view.cut_share
    yield from hands.fill("cut_share", f"{before - 20:.0f}")
    yield 0.8
    assert abs(part().view.cut_share - (before - 20)) < 1.0
    yield from hands.picture("folds-cutaway-moved")
    assert len(part().solid.data.polygons) == faces


def layers(hands: Hands) -> Waits:
    """Show one layer, and another by the slider."""
    yield from hands.press("padwright.show_inside(what='layer')", wait=1.0)
    first = part().view.layer_said
    yield from look_from(hands, right=0.0, rear=-0.2, up=1.0)
    yield from hands.picture("folds-layer")
    yield from hands.fill("layer_share", "25")
    yield 0.8
    assert part().view.layer_said not in ("", first), part().view.layer_said
    yield from hands.picture("folds-layer-lower")
    yield from hands.press("padwright.show_inside(what='whole')", wait=0.8)
    assert part().solid.visible_get()


def takes(hands: Hands) -> Waits:
    """See what the print takes, in the panel Export."""
    yield from hands.open_panel("Export")
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("folds-export")


def look_along(hands: Hands, toward: Vector, up: Vector) -> Waits:
    """Look at what is visible from before a cut, a little from above."""
    back = (toward + 0.6 * up).normalized()
    right, rear, over = seat_axes()
    yield from look_from(hands, right=back.dot(right), rear=back.dot(rear), up=back.dot(over), fill=0.8)


STEPS = (
    ("choose folded walls", choose_folds),
    ("direction of rows", direction),
    ("make the shape", make_shape),
    ("stiffness as colors", stiffness),
    ("cutaway", cutaway),
    ("layers", layers),
    ("what the print takes", takes),
)
