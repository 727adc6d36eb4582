"""The help of every command ends with examples, and each of them is taken."""

from __future__ import annotations

import shlex

import pytest

from padwright.cli import main as cli
from padwright.cli.command_words import commands_of

EXAMPLES = [
    (command, line)
    for command, parser in next(iter(cli._parser("padwright", None)._subparsers._group_actions)).choices.items()
    for line in parser.format_help().partition("examples:\n")[2].splitlines()
]


def test_the_help_of_every_command_has_examples():
    commands = [command.name for command in commands_of(cli._parser("padwright", None))]
    assert [command for command in commands if sum(command == each for each, _ in EXAMPLES) < 2] == []


@pytest.mark.parametrize(("command", "line"), EXAMPLES)
def test_an_example_is_taken_and_says_what_for(command, line):
    program, *words = shlex.split(line, comments=True)
    assert (program, words[0]) == ("padwright", command) and cli._parser("padwright", None).parse_args(words)
    assert line.partition("  # ")[2] and len(line) <= 110
