"""What it is: the part, its zones, how thick it is where."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt

from ...base.mesh import Int
from ...base.ramps import FIRMNESS
from ...stages.packing.thumbnail import firmness_color
from ...stages.report.field_picture import marked_png, swatches
from ...stages.report.marks import PlaceMark, marked_picture
from ...stages.report.page import Section, figure, paragraph, side_by_side
from ...stages.report.plan_view import SeenMesh
from ..summary import pad_words
from ..zone_colors import zone_color
from .pictures import thickness_figures
from .source import ReportSource

_MOST_NUMBERS = 40  # more would lie on each other


def what_section(source: ReportSource) -> Section:
    """Return what was made, its zones and its thickness."""
    body = "".join(paragraph(each) for each in pad_words(source.part, source.packed))
    body += side_by_side([*zone_figures(source), *thickness_figures(source)])
    return Section("what", "What it is", body)


def zone_figures(source: ReportSource) -> list[str]:
    """Return where each region lies, by its number in the table of settings, and how firm it is."""
    part, packed = source.part, source.packed
    assert part.regions is not None
    if part.folded is not None:
        return _zones_of_walls(source)
    owner = source.region_of_face
    levels = {body.id: body.firmness_level for body in packed.bodies}
    colors = np.array([_rgb(firmness_color(levels[each.id])) for each in part.regions.regions])
    key = f'<div class="key">{swatches(_level_words(source))}</div>'
    found = []
    for words, seen in source.region_views:
        png = marked_png(seen, colors[owner], owner)
        shown = marked_picture(
            png, seen.view, f"Regions, {words}", _numbers(seen, owner), is_mirrored=source.is_mirrored
        )
        caption = f"The regions, {words}, numbered as in the table of settings; the firmer, the darker."
        found.append(figure(shown, caption, key))
    return found


def _zones_of_walls(source: ReportSource) -> list[str]:
    """Return where each zone lies in a part of folded walls, which is one region."""
    part = source.part
    assert part.zones is not None and part.pad is not None
    label = part.zones.label[part.pad.mesh.faces[:, 0]]
    rows = [(zone_color(part, number), zone.name) for number, zone in enumerate(part.zones.zones)]
    colors = np.array([_rgb(color) for color, _ in rows])
    present = np.unique(label)
    key = f'<div class="key">{swatches([rows[number] for number in present])}</div>'
    found = []
    for words, seen in source.pad_views:
        png = marked_png(seen, colors[label], label)
        shown = marked_picture(png, seen.view, f"Zones, {words}", is_mirrored=source.is_mirrored)
        found.append(
            figure(shown, f"The zones, {words}; the firmer, the darker. Between them walls change by and by.", key)
        )
    return found


def _level_words(source: ReportSource) -> list[tuple[str, str]]:
    levels = source.part.family.levels
    named = [f"{each.name}, {each.target_modulus_kpa:g} kPa" for each in levels]
    return list(zip(FIRMNESS, named, strict=True))


def _numbers(seen: SeenMesh, owner: Int) -> list[PlaceMark]:
    """Return the number of each region that is seen, where it is widest; of very many those of the largest."""
    shown = np.full(seen.is_hit.shape, -1, dtype=np.int64)
    shown[seen.is_hit] = owner[seen.face]
    small = shown[::4, ::4]
    counts = np.bincount(small[small >= 0], minlength=int(owner.max()) + 1)
    marks = []
    for each in np.argsort(-counts, kind="stable")[:_MOST_NUMBERS]:
        if counts[each] == 0:
            continue
        inside = np.pad(small == each, 1)
        depth = distance_transform_edt(inside)[1:-1, 1:-1]
        row, column = np.unravel_index(int(depth.argmax()), depth.shape)
        place = seen.view.place_at(np.array([4.0 * column + 0.5, 4.0 * row + 0.5]))
        marks.append(PlaceMark(place, str(each + 1), is_ringed=False))
    return marks


def _rgb(color: str) -> list[float]:
    return [int(color[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
