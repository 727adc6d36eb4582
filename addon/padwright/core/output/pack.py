"""All files of a part as bytes: one STL a region, the settings document, the picture, and the 3MF that holds them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace

from .sidecar import TOOL, stl_name, threemf_name, write_sidecar
from .sidecar_parts import SidecarParts
from .stl import write_stl
from .threemf import PartSheet, write_threemf
from .thumbnail import firmness_color, thumbnail_png


def level_colors(parts: SidecarParts) -> list[str]:
    """Return the colour of each body from the levels of the family card."""
    colors: Sequence[str] = [level.display_color for level in parts.levels]
    return [firmness_color(body.firmness_level, colors) for body in parts.bodies]


def pack_files(parts: SidecarParts, *, stl: bool = True, color_by_firmness: bool = False) -> dict[str, bytes]:
    """Return name and bytes of every file of a part, but for the run document.

    Parameters
    ----------
    parts : SidecarParts
        `stl_sha256` is filled in here.
    stl : bool
        Write an STL a region too.
    color_by_firmness : bool
        Give each firmness level a base material of its own in the 3MF. Viewers then show the zones; programs that
        map base materials to filaments may take them for several filaments.

    Raises
    ------
    ExportError
        From the writers: settings that break a rule, an orientation that is not rigid.
    """
    number = parts.part.number
    files: dict[str, bytes] = {}
    if stl:
        files = {stl_name(number, body.id): write_stl(body, number) for body in parts.bodies}
        digests = {body.id: hashlib.sha256(files[stl_name(number, body.id)]).hexdigest() for body in parts.bodies}
        parts = replace(parts, stl_sha256=digests)
    sidecar = write_sidecar(parts)
    colors = level_colors(parts)
    picture = thumbnail_png(parts.bodies, parts.part.press_direction, colors=colors)
    sheet = PartSheet(
        title=parts.part.name,
        part_number=number,
        material=parts.material.name,
        created_utc=parts.provenance.created_utc,
        application=f"{TOOL} {parts.provenance.version}",
        description=parts.part.description,
    )
    package = write_threemf(
        parts.bodies,
        sheet,
        sidecar=sidecar,
        to_bed=parts.part.to_bed,
        thumbnail=picture,
        colors=colors if color_by_firmness else None,
    )
    return {threemf_name(number): package, f"{number}.settings.json": sidecar, **files}
