"""The part as files, in memory; `packing.bundle` puts them on disk."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from ..base.mesh import Float
from ..base.progress import Progress, Steps
from ..base.resources import version
from ..stages.material.region_settings import RegionSettings
from ..stages.packing.sidecar import TOOL, run_time_utc, stl_name, threemf_name, write_sidecar
from ..stages.packing.stl import write_stl
from ..stages.packing.threemf import PartSheet, write_threemf
from ..stages.packing.thumbnail import firmness_color, thumbnail_png
from ..stages.printing.print_plan import PrintPlan
from ..stages.regions.bodies import Mirror, RegionBody
from .laid_out import laid_out
from .parts import MadePart
from .selection import Selection
from .settings_document import document_parts


@dataclass(frozen=True, eq=False)
class Packed:
    """What was packed, for the evidence and the summary.

    Attributes
    ----------
    bodies : tuple of RegionBody
    settings : mapping of region id to RegionSettings
    to_bed : (4, 4) float
    mirror : Mirror or None
    plan : PrintPlan
    notes : tuple of str
    wished : mapping of region id to float
        The firmness level asked for; a body's own is that of its zone as printed.
    is_tuned : bool
    volume_cm3 : float
        Of what is written: the sum of regions that touch, their union where they overlap.
    selection : Selection or None
        None where all regions were packed.
    """

    bodies: tuple[RegionBody, ...]
    settings: Mapping[str, RegionSettings]
    to_bed: Float
    mirror: Mirror | None
    plan: PrintPlan
    notes: tuple[str, ...]
    wished: Mapping[str, float]
    is_tuned: bool
    volume_cm3: float
    selection: Selection | None = None


def pack_files(part: MadePart, only: Collection[str] | None = None) -> Steps[tuple[dict[str, bytes], Packed]]:
    """Return the part's files by name, and what they hold.

    Parameters
    ----------
    part : MadePart
    only : collection of region id, optional
        Pack these alone. They keep their places and shapes; names, numbers and sums are the selection's own.

    Raises
    ------
    InputError
        When there is no region of an id in `only`.
    ExportError
        When a region would not print as a solid or the settings document has faults.
    """
    yield Progress(0.0, "planning the print")
    laid = laid_out(part, only)
    part, job, bodies = laid.part, laid.part.job, laid.bodies
    number = job.part.number
    created = run_time_utc()
    files: dict[str, bytes] = {}
    if job.output.stl:
        for done, body in enumerate(bodies):
            yield Progress(0.2 + 0.2 * done / len(bodies), f"writing {body.name} as STL")
            files[stl_name(number, body.id)] = write_stl(body, number, laid.stl_from_part)
    yield Progress(0.4, "writing the settings")
    parts = document_parts(laid, created, files)
    sidecar = write_sidecar(parts)
    card_colors = [level.display_color for level in part.family.levels]
    colors = [firmness_color(body.firmness_level, card_colors) for body in bodies]
    sheet = PartSheet(job.part.name, number, part.material.name, created, f"{TOOL} {version()}", job.part.note)
    yield Progress(0.5, "drawing the picture")
    press = None if part.pad is None else part.pad.press_direction
    picture = thumbnail_png(bodies, press, colors=colors) if job.output.thumbnail else None
    yield Progress(0.6, "writing the 3MF")
    files[threemf_name(number)] = write_threemf(
        bodies,
        sheet,
        sidecar=sidecar,
        to_bed=laid.to_bed,
        thumbnail=picture,
        colors=colors if job.output.color_by_level else None,
        wished=laid.wished,
    )
    files[f"{number}.settings.json"] = sidecar
    notes = (*(note for body in bodies for note in body.notes), *(laid.mirror.notes if laid.mirror else ()))
    volume = parts.part.volume_cm3 or sum(body.mesh.volume for body in bodies) / 1000.0
    return files, Packed(
        bodies,
        laid.settings,
        laid.to_bed,
        laid.mirror,
        laid.plan,
        notes,
        laid.wished,
        parts.is_tuned,
        volume,
        laid.selection,
    )
