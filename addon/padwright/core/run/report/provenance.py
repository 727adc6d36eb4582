"""Where the numbers come from: the files that went in and came out, the cards and versions they rest on."""

from __future__ import annotations

import hashlib

from ...base.resources import version
from ...stages.packing.sidecar import TOOL
from ...stages.report.page import Section, bullets, facts, heading, paragraph, table
from .source import ReportSource
from .watch import background_notes


def provenance_section(source: ReportSource) -> Section:
    """Return the files with their digests, and what else the same part needs to be made again."""
    part, job = source.part, source.part.job
    rows = [
        ("Made by", f"{TOOL} {version()}, {source.packed.created}"),
        ("Material", f"{part.material.name} ({part.material.id})"),
        ("Family", f"{part.family.name} ({part.family.id})"),
        ("Seed", str(job.seed)),
    ]
    if job.set_outside:
        rows.append(("Set on the command line", "; ".join(job.set_outside)))
    read = (*part.inputs, *source.beside)
    inputs = [(each.file, each.role.replace("_", " "), each.sha256) for each in read]
    outputs = [(name, f"{len(data):,}", hashlib.sha256(data).hexdigest()) for name, data in source.files.items()]
    number = job.part.number
    remarks = background_notes(source)
    return Section(
        "sources",
        "Where the numbers come from",
        facts(rows)
        + (heading("How numbers came about") + bullets(remarks, "quiet") if remarks else "")
        + heading("Made from")
        + table(("File", "What it is", "SHA-256"), inputs, kind="code")
        + heading("Written with this report")
        + table(("File", "Bytes", "SHA-256"), outputs, kind="code")
        + paragraph(f"Every number with how sure it is: {number}.run.json beside this file.", "quiet"),
    )
