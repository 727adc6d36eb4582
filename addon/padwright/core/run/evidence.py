"""The evidence of a run: for every stage its numbers, notes and seconds, ready for JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..base.estimate import told
from ..base.files import without_user
from ..base.plain import picked, plain
from ..base.resources import version
from ..job.files import named_files
from ..job.schema import Job
from ..job.write import job_tables
from ..stages.packing.sidecar import TOOL
from ..stages.printing.evidence import print_evidence
from ..stages.report.side_by_side import SideBySide
from .packing import Packed
from .parts import MadePart
from .stages import STAGES
from .summary_notes import acting_notes

_PRINT_SUMS = ("mass_g", "filament_m", "time_h", "flow_limit_h", "cost", "regions", "notes")


def run_evidence(
    part: MadePart,
    packed: Packed,
    history: Sequence[Mapping[str, Any]] = (),
    compared: SideBySide | None = None,
) -> dict[str, Any]:
    """Return everything the run found out, as plain data; lengths are mm in the part frame unless a name says else.

    `history` has what is kept of the revisions before, oldest first; `compared` is this one beside the last of them.
    """
    document: dict[str, Any] = {
        "tool": {"name": TOOL, "version": version()},
        "part": {
            **picked(part.job.part, "name", "number", "revision"),
            "previous": None if part.job.part.previous is None else without_user(part.job.part.previous),
            "family": part.family.id,
            "base_to_part": part.to_part,
            "to_bed": packed.to_bed,
            "bed_scale": packed.bed_scale,
            "mirrored": packed.mirror is not None,
        },
        "job": _job_record(part.job),
        "history": list(history),
        "since_previous": None if compared is None else compared.as_json(),
        "set_on_command_line": list(part.job.set_outside),
        "before_printing": acting_notes(part, packed),
        "notes": list(part.notes),
        "cautions": [picked(each, "code", "severity", "brief", "text", "source") for each in part.family.cautions],
    }
    for stage in STAGES:
        document |= stage.function(stage.evidence)(part)
    document["pad"]["volume_cm3"] = packed.volume_cm3
    document["regions"] = [
        {
            **picked(body, "id", "name", "firmness_level"),
            "wished_level": packed.wished[body.id],
            "tuned": packed.is_tuned,
            "level_name": part.family.level_name(body.firmness_level),
            "volume_cm3": body.mesh.volume / 1000.0,
            "triangles": len(body.faces),
            "closed": body.mesh.is_closed,
            "settings": packed.settings[body.id].as_json(),
        }
        for body in packed.bodies
    ]
    document["print"] = print_evidence(packed.plan)
    document["stages"] = list(part.times)
    result = plain(document, told)
    assert isinstance(result, dict)
    return result


def _job_record(job: Job) -> dict[str, Any]:
    """Return the job as it was resolved, with every key; of an absolute path only the last step."""
    tables = job_tables(job)
    for table, key in [*named_files(tables), *named_files(tables, kind="folder")]:
        table[key] = without_user(table[key])
    return tables


def selection_evidence(part: MadePart, packed: Packed) -> dict[str, Any]:
    """Return what holds for a selection of the part's regions; the evidence of the whole part is not repeated."""
    assert packed.selection is not None
    whole = run_evidence(part, packed)
    return {
        "tool": whole["tool"],
        "selection": packed.selection.as_json(),
        **{name: whole[name] for name in ("part", "set_on_command_line", "regions")},
        "contacts": [
            each for each in whole["region_cut"]["contacts"] if set(each["between"]) <= set(packed.selection.ids)
        ],
        "print": {name: whole["print"][name] for name in _PRINT_SUMS},
        **{name: whole[name] for name in ("before_printing", "notes", "cautions", "stages")},
    }
