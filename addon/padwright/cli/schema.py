"""`schema`: the keys of a job as a JSON Schema, for editors."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from .options import add_command, write_out


def add_schema_command(commands: Any) -> None:
    """Add `schema` to the command line."""
    schema = add_command(
        commands,
        "schema",
        "write the keys of a job as a JSON Schema, for editors that check and complete TOML",
        "--out job.schema.json  # the editor takes it from there",
        "# print it",
    )
    schema.add_argument("--out", metavar="FILE", help="the file to write; never overwrites one (default: print it)")
    schema.set_defaults(body=_schema)


def _schema(args: argparse.Namespace) -> list[str]:
    from ..core.job.json_schema import job_schema

    text = json.dumps(job_schema(), indent=1)
    if args.out is None:
        return [text]
    path = Path(args.out)
    write_out(path, f"{text}\n".encode())
    return [
        f"Wrote {path}. Editors whose TOML support knows such a line find it by the first line of a job beside it:",
        f"#:schema {path.name}",
    ]
