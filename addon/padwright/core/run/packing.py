"""The part as files, in memory; `packing.bundle` puts them on disk."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from ..base.files import InputFile
from ..base.progress import Progress, Steps
from ..base.resources import version
from ..base.together import at_the_side
from ..stages.packing.sidecar import TOOL, run_time_utc, stl_name, threemf_name, write_sidecar
from ..stages.packing.stl import write_stl
from ..stages.packing.threemf import PartSheet, write_threemf
from ..stages.packing.thumbnail import firmness_color, thumbnail_png
from .cutaway import part_cutaway
from .laid_out import LaidOut, lay_out, to_pack
from .parts import MadePart
from .settings_document import document_parts


@dataclass(frozen=True, eq=False)
class Packed(LaidOut):
    """What was packed, for the evidence and the summary."""

    notes: tuple[str, ...]
    is_tuned: bool
    # Of the outer shape, filled: the sum of regions that touch, their union where they overlap.
    volume_cm3: float
    created: str  # the time that stands in the files, UTC
    picture: bytes | None  # of the part in the colors of its firmness, PNG; None where the job wants none


def pack_files(
    part: MadePart, only: Collection[str] | None = None, beside: Sequence[InputFile] = ()
) -> Steps[tuple[dict[str, bytes], Packed]]:
    """Return the part's files by name, and what they hold; `beside` are the files read besides those of the stages.

    With region ids as `only` these alone are packed. They keep their places and shapes; names, numbers and sums are
    the selection's own.

    Raises InputError when there is no region of an id in `only`; ExportError when a region would not print as a solid
    or the settings document has faults.
    """
    yield Progress(0.0, "planning the print")
    part, chosen = to_pack(part, only)
    job, bodies = part.job, chosen.bodies
    number = job.part.number
    created = run_time_utc()
    colors = [firmness_color(body.firmness_level) for body in bodies]

    def draw() -> tuple[bytes | None, bytes | None]:
        press = None if part.pad is None else part.pad.press_direction
        picture = thumbnail_png(bodies, press, colors=colors) if job.output.thumbnail else None
        return picture, part_cutaway(part, chosen.mirror)

    with at_the_side(draw) as pictures:
        laid = lay_out(part, chosen)
        files: dict[str, bytes] = {}
        if job.output.stl:
            for done, body in enumerate(bodies):
                yield Progress(0.2 + 0.2 * done / len(bodies), f"writing {body.name} as STL")
                files[stl_name(number, body.id)] = write_stl(body, number, laid.stl_from_part, laid.bed_scale)
        yield Progress(0.4, "writing the settings")
        parts = document_parts(part, laid, created, files, beside)
        sidecar = write_sidecar(parts)
        yield Progress(0.5, "drawing the pictures")
        picture, opened = pictures()
    sheet = PartSheet(job.part.name, number, part.material.name, created, f"{TOOL} {version()}", job.part.note)
    yield Progress(0.6, "writing the 3MF")
    files[threemf_name(number)] = write_threemf(
        bodies,
        sheet,
        sidecar=sidecar,
        to_bed=laid.to_bed,
        bed_scale=laid.bed_scale,
        thumbnail=picture,
        colors=colors if job.output.color_by_level else None,
        wished=laid.wished,
    )
    files[f"{number}.settings.json"] = sidecar
    if opened is not None:
        files[f"{number}.cutaway.png"] = opened
    notes = (*(note for body in bodies for note in body.notes), *(laid.mirror.notes if laid.mirror else ()))
    volume = parts.part.volume_cm3 or sum(body.mesh.volume for body in bodies) / 1000.0
    if part.folded is not None and part.pad is not None:
        volume = laid.outside.volume / 1000.0
    return files, Packed(
        **vars(laid),
        notes=notes,
        is_tuned=parts.is_tuned,
        volume_cm3=volume,
        created=created,
        picture=picture,
    )
