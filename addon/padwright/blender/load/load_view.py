"""Load results as values on the pad: which attribute holds what, and the one scale for before and after tuning."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from ...core.base.errors import InputError
from ...core.base.mesh import Float
from ...core.base.scales import scale_top
from .. import attributes
from ..regions import level_look
from ..view import value_colors
from ..zones import painting
from .properties_load import BEFORE, GIVE, PRESSURE, STRAIN, VALUES


def attribute(key: str, case: int) -> str:
    """Return the name of the attribute that holds a value under a load case, by the case's number from 0."""
    plain = {PRESSURE: attributes.PRESSURE, STRAIN: attributes.STRAIN}.get(key, f"padwright_{key}")
    return plain if case == 0 or key == BEFORE else f"{plain}_{case + 1}"


def write(part: Any, result: Any) -> None:
    """Put pressure, strain and give used of every load case on the pad, and the pressure before tuning."""
    from scipy.spatial import cKDTree

    firmness = result.firmness
    vertices = result.pad.mesh.vertices
    painting.check_pad(part, len(vertices))
    mesh = part.pad.data
    patch = firmness.patch
    _, place = cKDTree(vertices).query(patch.position)  # the patch's points are vertices of the pad

    def put(name: str, values: Float) -> None:
        shown = np.zeros(len(vertices))
        shown[place] = values
        attributes.write(mesh, name, shown)

    clear(part)
    limit = np.array([firmness.chosen[int(n)].curve.value.densification for n in patch.zone])
    for number, (_, load) in enumerate(firmness.loads):
        put(attribute(PRESSURE, number), load.pressure_kpa)
        put(attribute(STRAIN, number), load.strain)
        put(attribute(GIVE, number), load.strain / limit)
    if firmness.beside is not None:
        put(attributes.MAT_OFF, firmness.beside.difference_kpa)
    if firmness.tuning is not None and firmness.tuning.before is not None:
        put(attribute(BEFORE, 0), firmness.tuning.before.pressure_kpa)


def write_stiffness(part: Any, result: Any) -> None:
    """Put what the zones ask of folded walls, and what they reach, on the pad; where it is solid the firmest of all."""
    from ...core.stages.load.fold_places import kpa_everywhere

    folded = result.firmness.folded
    for name in (attributes.WISHED, attributes.REACHED):
        old = part.pad.data.attributes.get(name)
        if old is not None:
            part.pad.data.attributes.remove(old)
    if folded is None:
        return
    vertices = result.pad.mesh.vertices
    painting.check_pad(part, len(vertices))
    cell = folded.layout.index(vertices)
    for name, raster in ((attributes.WISHED, folded.field.wished_kpa), (attributes.REACHED, folded.field.reached_kpa)):
        kpa = kpa_everywhere(folded.layout, raster).ravel()[cell]
        attributes.write(part.pad.data, name, np.minimum(kpa, raster.max()))


def clear(part: Any) -> None:
    """Take the load's values off the pad."""
    stems = tuple(attribute(key, 0) for key in VALUES)
    names = [each.name for each in part.pad.data.attributes]
    for name in names:
        if name in stems or name.rstrip("0123456789").rstrip("_") in stems:
            part.pad.data.attributes.remove(part.pad.data.attributes[name])


def ends(part: Any, key: str) -> tuple[Float, dict[str, Any]]:
    """Return a value at every vertex of the pad and the ends of its scale: one for before and after tuning.

    Raises InputError when the load check has not left it.
    """
    title, _, _, factor = VALUES[key]
    case = part.found.case_index
    values = attributes.read(part.pad.data, attribute(key, case))
    if values is None:
        raise InputError(
            f"There is no {title.lower()} to show.",
            hint="Choose an aim and check the load." if key == BEFORE else "Check the load first.",
        )
    values = values * factor
    most = scale_top(values)
    if key in (PRESSURE, BEFORE) and case == 0:
        for other in (PRESSURE, BEFORE):
            there = attributes.read(part.pad.data, attribute(other, 0))
            most = most if there is None else max(most, scale_top(there))
    return values, {"low": 0.0, "high": 100.0 if key == GIVE else most}


def show(context: bpy.types.Context, key: str) -> str:
    """Color the pad by a value of the load and return in words what the colors mean."""
    part = context.scene.padwright
    values, scale = ends(part, key)
    title, _, unit, _ = VALUES[key]
    if len(part.found.cases) > 1 and key != BEFORE:
        title = f"{title}, {part.found.cases[part.found.case_index].name}"
    return value_colors.show(context, part.pad, values, title=title, unit=unit, **scale)


def shown_key(part: Any) -> str | None:
    """Return which value of the load is shown as colors, or None."""
    if not part.view.is_colored:
        return None
    title = part.view.title.split(",")[0]
    return next((key for key, (name, *_) in VALUES.items() if name == title), None)


def show_again(context: bpy.types.Context, part: Any, key: str) -> None:
    """Color the pad anew when it shows a value that has changed; that before tuning may be gone."""
    is_there = attributes.read(part.pad.data, attribute(key, part.found.case_index)) is not None
    show(context, key if is_there else PRESSURE)


def write_settings(part: Any, result: Any) -> None:
    """Put into the rows of the regions what they will be printed with."""
    by_id = {} if result.regions is None else {each.id: each for each in result.regions.regions}
    for row in part.found.regions:
        region = by_id.get(row.region)
        chosen = None if region is None else result.firmness.chosen.get(region.zone)
        if region is None or chosen is None:
            continue
        band = result.firmness.curves[region.id]
        kpa = band.modulus_kpa
        row.kpa = f"{kpa.value:.0f} ({kpa.low:.0f} to {kpa.high:.0f}) kPa"
        row.settings, row.binding = chosen.settings.in_words(), chosen.binding or ""
        row.level = result.family.printed_level(region.firmness_level, chosen.reached_kpa)
        row.level_name = result.family.level_name(row.level)
        if row.obj is not None:
            level_look.dress(row.obj, result.family, row.level)
