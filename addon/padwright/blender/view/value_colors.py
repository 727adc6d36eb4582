"""Values as colors on an object, with what the color bar needs; and the view as it was, afterwards.

`show` and `clear` are for every operator that colors a mesh. What they change is noted in the scene with what it was
before, and `clear` sets back only what nobody has changed since.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

import bpy
import numpy as np

from ...core.base.errors import InputError
from ...core.base.scales import in_words, round_step, round_ticks, shares_between
from .. import bridge, state
from . import color_ramps, shading, viewports

_REGIONS = "Regions"
# Flat light shows the very colors of the bar; dark and bright edges keep the shape readable.
_SHADING = {"type": "SOLID", "color_type": "VERTEX", "light": "FLAT", "show_cavity": True, "cavity_type": "SCREEN"}
# The same light for a scan's own colors: what is picked from the screen is then what the scan has.
_OWN = {"type": "SOLID", "color_type": "TEXTURE", "light": "FLAT", "show_cavity": False}
_PLAIN = {"color_type": "MATERIAL", "light": "STUDIO", "show_cavity": False, "cavity_type": "SCREEN", "type": "SOLID"}


def show(
    context: bpy.types.Context,
    obj: bpy.types.Object,
    values: np.ndarray,
    *,
    title: str,
    unit: str,
    low: float | None = None,
    high: float | None = None,
    ramp: str = "one_way",
    ticks: Sequence[tuple[float, str]] = (),
) -> str:
    """Color an object by one value a vertex, show it alone, set the color bar, and return in words what it means.

    Raises InputError when the object's mesh is linked from another file, or has another number of vertices.

    Parameters
    ----------
    obj : Object
        The pad, the body side, a region or a scan; its own colors stay and come back with `clear`.
    values : (n,) float
        In `unit`.
    title, unit : str
        Short, for the bar: "Pressure", "kPa".
    low, high : float, optional
        Ends of the bar; without them from 0, or the least where it is negative, to the largest.
    ramp : str
        Name in `color_ramps.RAMPS`.
    ticks : sequence of (value, words)
        Instead of round numbers beside the bar.
    """
    part = context.scene.padwright
    if obj.name not in context.view_layer.objects:
        raise InputError(f'"{obj.name}" is not in this view layer.', hint="Link it into the scene again.")
    if obj.data.library is not None:
        raise InputError(f'"{obj.name}" is linked from another file.', hint="Make it local to color it.")
    if len(values) != len(obj.data.vertices):
        raise InputError(f'"{obj.name}" has changed since.', hint="Do the stage that gives these values again.")
    if is_own_on_show(part):
        clear(context)
    low = min(0.0, float(values.min())) if low is None else float(low)
    high = max(float(values.max()), low + 1e-6) if high is None else float(high)
    before = _Before(part)
    bridge.write_colors(obj.data, color_ramps.colors(shares_between(values, low, high), ramp))
    before.colored(obj)
    for each in _others(context):
        before.hide(each, each != obj)
    for each in (part.base, part.impression):
        if each is not None:
            is_box = each != obj and bool(each.modifiers)  # the modeller does not work out those of what is hidden
            before.draw_as(each, "BOUNDS" if is_box else "TEXTURED")
            before.hide(each, each != obj and not is_box)
    before.keep()
    _shade(context, _SHADING)
    view = part.view
    view.title, view.unit, view.ramp, view.low, view.high = title, unit, ramp, low, high
    view.ticks = json.dumps([[float(value), words] for value, words in ticks]) if ticks else ""
    view.is_colored = True
    part.legend = _words(view)
    return part.legend


def show_own(context: bpy.types.Context, obj: bpy.types.Object) -> None:
    """Show an object alone in its own colors, those of a picture or else of its vertices, until `clear`.

    Raises InputError when it is not in this view layer.
    """
    part = context.scene.padwright
    if obj.name not in context.view_layer.objects:
        raise InputError(f'"{obj.name}" is not in this view layer.', hint="Link it into the scene again.")
    if part.view.before:
        clear(context)
    before = _Before(part)
    for each in {*_others(context), part.base, part.impression} - {None, obj}:
        before.hide(each, True)
    before.draw_as(obj, "TEXTURED")
    before.hide(obj, False)
    before.keep()
    _shade(context, _OWN if obj.data.uv_layers else {**_OWN, "color_type": "VERTEX"})


def is_own_on_show(part: Any) -> bool:
    """Say if a scan is shown in its own colors."""
    return bool(part.view.before) and not part.view.is_colored


def clear(context: bpy.types.Context) -> int:
    """Take the colors away and put the view back as it was; return how many objects were set back."""
    part = context.scene.padwright
    count = _Before(part).put_back()
    forget(part)
    colored = [space.shading for space in _spaces(context) if space.shading.color_type in ("VERTEX", "TEXTURE")]
    shading.put_back("values", colored, _PLAIN)
    return count


def forget(part: Any) -> None:
    """Note that no values are shown any more: what was colored has been made anew."""
    part.view.is_colored = False
    part.view.before = ""
    part.legend = ""


def ticks_of(view: Any) -> list[tuple[float, str]]:
    """Return the ticks beside the color bar: share of its height from below, and words."""
    span = view.high - view.low
    if not span > 0.0:
        return []
    if view.ticks:
        return [((value - view.low) / span, words) for value, words in json.loads(view.ticks)]
    step = round_step(span)
    return [((value - view.low) / span, in_words(value, step)) for value in round_ticks(view.low, view.high)]


def _words(view: Any) -> str:
    if view.ramp == "two_way":
        return f"{view.title}: brick below 0, light at 0, dark from {view.high:.3g} {view.unit}"
    if not view.unit:  # the ends have names
        (_, low), *_, (_, high) = ticks_of(view)
        return f"{view.title}: light {low}, dark {high}"
    marked = "brick at the least, " if view.ramp == "least" else ""
    middle = (view.low + view.high) / 2
    return f"{view.title}: {marked}light {view.low:.3g}, middle {middle:.3g}, dark {view.high:.3g} {view.unit}"


def _others(context: bpy.types.Context) -> Iterable[bpy.types.Object]:
    part = context.scene.padwright
    body = [] if part.body is None else [part.body]
    found = [*body, *state.made(part), *state.objects_in(context.scene, _REGIONS)]
    return [each for each in found if each.name in context.view_layer.objects]


def _spaces(context: bpy.types.Context) -> list[Any]:
    space = context.space_data
    if space is not None and space.type == "VIEW_3D":
        return [space]
    return [area.spaces.active for area in viewports.areas(context.screen)]


def _shade(context: bpy.types.Context, wanted: dict[str, Any]) -> None:
    for space in _spaces(context):
        if space.shading.color_type != "VERTEX":
            shading.change("values", space.shading, wanted)
        else:
            shading.assign(space.shading, wanted)


class _Before:
    """What was on show before: name -> [as it was, as it was set]. Kept in the scene, so that undo keeps it right."""

    def __init__(self, part: Any) -> None:
        self._part = part
        kept: dict[str, dict[str, Any]] = json.loads(part.view.before) if part.view.before else {}
        self._hidden, self._drawn = kept.get("hidden", {}), kept.get("drawn", {})
        self._colored: dict[str, int] = kept.get("colored", {})

    def hide(self, obj: bpy.types.Object, is_hidden: bool) -> None:
        self._hidden[obj.name] = [self._hidden.get(obj.name, [obj.hide_get()])[0], is_hidden]
        obj.hide_set(is_hidden)

    def draw_as(self, obj: bpy.types.Object, kind: str) -> None:
        self._drawn[obj.name] = [self._drawn.get(obj.name, [obj.display_type])[0], kind]
        obj.display_type = kind

    def colored(self, obj: bpy.types.Object) -> None:
        self._colored[obj.name] = 1

    def keep(self) -> None:
        self._part.view.before = json.dumps({"hidden": self._hidden, "drawn": self._drawn, "colored": self._colored})

    def put_back(self) -> int:
        found: set[str] = set()
        for name in self._colored:
            obj = bpy.data.objects.get(name)
            if obj is not None and obj.type == "MESH" and obj.data.library is None:
                bridge.drop_colors(obj.data)
                found.add(name)
        for name, (was, is_set) in self._hidden.items():
            obj = bpy.context.view_layer.objects.get(name)
            if obj is not None and obj.hide_get() == is_set:
                obj.hide_set(was)
                found.add(name)
        for name, (was, is_set) in self._drawn.items():
            obj = bpy.data.objects.get(name)
            if obj is not None and obj.display_type == is_set:
                obj.display_type = was
                found.add(name)
        return len(found)
