"""What may stand on the command line, told by its parser: commands, their options, and what each of those takes."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

_ENDS = {"JOB": ".toml", "READINGS": ".csv"}
_FILES = frozenset({"FILE", "CARD"})


@dataclass(frozen=True)
class Taken:
    """What an option or a place takes."""

    kind: str  # "" nothing, "choice", "file", "folder", or "text", which nobody can complete
    choices: tuple[str, ...] = ()
    ends: str = ""  # how the names of the files end that are meant; "" for any
    name: str = ""  # as the help calls it


@dataclass(frozen=True)
class Option:
    """An option under all of its names, e.g. ("-v", "--verbose")."""

    names: tuple[str, ...]
    about: str
    taken: Taken


@dataclass(frozen=True)
class Command:
    """A command, its options and what stands without one; `places` has one entry even where many may be given."""

    name: str
    about: str
    options: tuple[Option, ...]
    places: tuple[Taken, ...]


def commands_of(parser: argparse.ArgumentParser) -> tuple[Command, ...]:
    """Return the commands of a parser, each with what may follow; options without a help are kept from view."""
    found = []
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            abouts = {each.dest: each.help or "" for each in action._choices_actions}
            found += [_command(name, abouts.get(name, ""), inner) for name, inner in action.choices.items()]
    return tuple(found)


def _command(name: str, about: str, parser: argparse.ArgumentParser) -> Command:
    shown = [action for action in parser._actions if action.help != argparse.SUPPRESS]
    options = [
        Option(tuple(action.option_strings), action.help or "", _taken(action))
        for action in shown
        if action.option_strings
    ]
    return Command(name, about, tuple(options), tuple(_taken(each) for each in shown if not each.option_strings))


def _taken(action: argparse.Action) -> Taken:
    if action.nargs == 0 or isinstance(action, argparse.BooleanOptionalAction):
        return Taken("")
    name = action.metavar if isinstance(action.metavar, str) else action.dest
    if action.choices is not None:
        return Taken("choice", tuple(str(choice) for choice in action.choices), name=name)
    if name == "DIR":
        return Taken("folder", name=name)
    if name in _ENDS or name in _FILES:
        return Taken("file", ends=_ENDS.get(name, ""), name=name)
    return Taken("text", name=name)
