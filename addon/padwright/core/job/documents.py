"""The job: everything about one part, in one TOML file (docs/job.md). This module is the door to it."""

from __future__ import annotations

from .load_tables import Cap, Case, Load, Target
from .read import blame_key, job_from_tables, later_notes, parse_job, read_job, tell_place
from .schema import (
    SCHEMA,
    Alignment,
    Base,
    Between,
    Blend,
    Body,
    CheckLength,
    Datum,
    Impression,
    Job,
    Material,
    Output,
    Pad,
    Pair,
    Part,
    Place,
    Printer,
    Regions,
    Relief,
    Zone,
)
from .write import new_job, write_job

__all__ = [
    "SCHEMA",
    "Alignment",
    "Base",
    "Between",
    "Blend",
    "Body",
    "Cap",
    "Case",
    "CheckLength",
    "Datum",
    "Impression",
    "Job",
    "Load",
    "Material",
    "Output",
    "Pad",
    "Pair",
    "Part",
    "Place",
    "Printer",
    "Regions",
    "Relief",
    "Target",
    "Zone",
    "blame_key",
    "job_from_tables",
    "later_notes",
    "new_job",
    "parse_job",
    "read_job",
    "tell_place",
    "write_job",
]
