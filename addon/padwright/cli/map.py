"""`map`: the settings of a part in the words of the person's own print program."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ..core.base.errors import InputError
from .options import add_command, write_out


def add_map_command(commands: Any) -> None:
    """Add `map` to the command line."""
    words = add_command(
        commands,
        "map",
        "tell what to type in for each region, in the words of your own print program",
        "--blank --out words.toml  # a blank words map, to fill in once",
        "out/PAD-1.settings.json --words words.toml  # the lines of a part, in your words",
        "out/PAD-1.settings.json  # the same in plain words",
    )
    words.add_argument("settings", metavar="FILE", nargs="?", help="the .settings.json of a run")
    words.add_argument("--words", metavar="FILE", help="your words map, TOML (default: plain words)")
    words.add_argument("--blank", action="store_true", help="write a blank words map instead")
    words.add_argument("--out", metavar="FILE", help="the file to write; never overwrites one (default: print it)")
    words.set_defaults(body=_map)


def _map(args: argparse.Namespace) -> list[str]:
    from ..core.stages.report.blank_map import blank_map
    from ..core.stages.report.document_lines import read_document, told_lines
    from ..core.stages.report.words_map import WordsMap, read_words

    if args.blank == (args.settings is not None):
        raise InputError(
            "Give either a .settings.json or --blank.",
            hint="Try: python -m padwright map --help",
        )
    if args.blank:
        lines = blank_map().splitlines()
    else:
        words = WordsMap() if args.words is None else read_words(Path(args.words))
        lines = told_lines(read_document(Path(args.settings)), words)
    if args.out is None:
        return lines
    path = Path(args.out)
    write_out(path, ("\n".join(lines) + "\n").encode())
    return [f"Wrote {path}."]
