"""`trial` and `revise`: note what the wearer says of a print, and propose the next revision from it."""

from __future__ import annotations

import argparse
import datetime
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..core.base.errors import InputError, PadwrightError
from ..core.base.progress import drain
from ..core.job.schema import Job
from .options import add_command, folder, write_out
from .progress import wanted_bar
from .say import program


def add_trial_commands(commands: Any) -> None:
    """Add `trial` and `revise` to the command line; each sets `body`, which returns lines for the person."""
    trial = add_command(
        commands,
        "trial",
        "add a form for what the wearer says of a print",
        "job.toml  # fill in what it adds to <number>.trials.toml, beside the job",
        "job-2.toml  # of the second revision; it also asks how that compares",
    )
    trial.add_argument("job", metavar="JOB", help="the job file of the print that was worn")
    trial.set_defaults(body=_trial)
    revise = add_command(
        commands,
        "revise",
        "propose the next revision from the trials noted beside a job",
        "job.toml  # what to change where, and why",
        "job.toml --write job-2.toml  # and its job, to run",
        "job.toml --onto new.toml --write job-2.toml  # new.toml: of compare",
    )
    revise.add_argument("job", metavar="JOB", help="the job file of the print that was worn last")
    revise.add_argument("--write", metavar="FILE", help="job file of the next revision to write; never overwrites one")
    revise.add_argument(
        "--onto", metavar="FILE", help="with --write: take all else from this job, e.g. one that `compare` corrected"
    )
    revise.add_argument(
        "--printed",
        metavar="DIR",
        type=folder,
        help="folder with the files of this revision (default: where `run` puts them)",
    )
    revise.add_argument(
        "--progress",
        action=argparse.BooleanOptionalAction,
        help="show how far the work is, or do not (default: on a terminal)",
    )
    revise.set_defaults(body=_revise, verbose=False)


def _job_of(path: Path) -> Job:
    from ..core.job.read import read_job
    from ..core.stages.scans.known_formats import scan_kinds

    return read_job(path, (), scan_kinds())


def _base_of(path: Path, worn: Job) -> Job:
    """Return another job of the same part and zones, to write a revision onto."""
    base = _job_of(path)
    same = [(job.part.number, [zone.name for zone in job.zones]) for job in (base, worn)]
    if same[0] != same[1]:
        raise InputError(
            f'"{path}" is not of part {worn.part.number} with the zones {", ".join(same[1][1])}.',
            hint="Name a job file of the same part, e.g. the one that compare wrote.",
        )
    return base


def _trial(args: argparse.Namespace) -> list[str]:
    from ..core.job.read import tell_place
    from ..core.run.trial_notes import add_form, places_name

    path = Path(args.job)
    job = _job_of(path)
    try:
        notes, line = add_form(job, path.parent, datetime.date.today())
    except PadwrightError as error:
        raise tell_place(error, job) from None
    zones = ", ".join(f'"{zone.name}"' for zone in job.zones)
    return [
        f"{notes.path}, from line {line}: a form for revision {job.part.revision}, to fill in with any text editor.",
        'For each zone write how it feels, "too firm", "right" or "too soft", between the quotes; what you cannot tell '
        "stays empty.",
        f"Zones: {zones}. Where they lie: {places_name(job.part.number)}, among the files of the run.",
        "Answer after a day of wear; on three or four days, each with its own form, tells far more than one.",
        f"Then: {program()} revise {path}",
    ]


def _revise(args: argparse.Namespace) -> list[str]:
    from ..core.job.read import tell_place
    from ..core.run.history import printed_folder
    from ..core.run.revise import propose, revised_text, taken_words
    from ..core.stages.trials.words import proposal_lines

    path = Path(args.job)
    job = _job_of(path)
    write = None if args.write is None else Path(args.write)
    if write is not None and write.exists():
        raise InputError(f'"{write}" is there already and is left as it is.', hint="Give another --write.")
    if args.onto is not None and write is None:
        raise InputError("--onto is for --write.", hint="Say which file to write.")
    base = path if args.onto is None else Path(args.onto)
    if write is not None and write.resolve().parent != base.resolve().parent:
        raise InputError(
            f'"{write}" would lie in another folder than {base.name}, which names its scans from its own.',
            hint=f"Write it beside: --write {base.with_name(write.name)}",
        )
    base_job = job if base == path else _base_of(base, job)
    printed = printed_folder(job, path.parent) if args.printed is None else Path(args.printed)
    bar = wanted_bar(args)
    try:
        proposal = drain(propose(job, path.parent, datetime.date.today(), printed=printed), bar.show if bar else None)
    except PadwrightError as error:
        raise tell_place(error, job) from None
    finally:
        if bar:
            bar.end()
    if base_job.part.previous is not None and base != path:  # it is the next revision already
        notes = tuple(each for each in proposal.notes if each != taken_words(base_job.part.revision))
        proposal = replace(proposal, next_revision=base_job.part.revision, notes=notes)
    lines = proposal_lines(proposal)
    if write is None:
        return [*lines, *([f"To write its job: revise {path} --write FILE"] if proposal.is_change else [])]
    if not proposal.is_change:
        return [*lines, f"Nothing changes, so {write} was not written."]
    text = base.read_bytes().decode("utf-8-sig")
    made = revised_text(text, base_job, proposal, printed, write.parent, base.name)
    write_out(write, made.encode())
    return [*lines, f"Wrote {write}. Make it with: {program()} run {write}"]
