"""`completion`: what a shell needs to complete the command line by Tab, written from the command line's own parser."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Callable, Sequence
from typing import Any

from .command_words import Command, Option, Taken, commands_of
from .options import add_command

_NAME = "padwright"


def add_completion_command(commands: Any, parser: argparse.ArgumentParser) -> None:
    """Add `completion` to the command line; what it writes knows all commands that the parser has when it is asked."""
    made = add_command(
        commands,
        "completion",
        "write what a shell needs to complete commands, options and files by Tab",
        "bash  # send it into a file, and source that in ~/.bashrc",
        "zsh  # the same in ~/.zshrc, after compinit",
        "fish  # the same in ~/.config/fish/config.fish",
    )
    made.add_argument("shell", metavar="SHELL", choices=tuple(_SHELLS), help=f"the shell: {', '.join(_SHELLS)}")
    made.set_defaults(body=lambda args: _SHELLS[args.shell](commands_of(parser), _program(parser.prog)))


def _program(typed: str) -> list[str]:
    """Return the words that start the program from any folder."""
    is_python = typed.startswith("python") or typed == _NAME
    return [sys.executable, "-m", _NAME] if is_python else typed.split()


def _bash(commands: Sequence[Command], program: Sequence[str]) -> list[str]:
    lines = [
        "# Completion of padwright for bash.",
        f'type {_NAME} >/dev/null 2>&1 || {_NAME}() {{ {shlex.join(program)} "$@"; }}',
        f"_{_NAME}_files() {{",
        "    compopt -o filenames 2>/dev/null",  # older ones have no compopt, and add no quotes then
        "    local IFS=$'\\n'",
        '    COMPREPLY=($(compgen -d -- "$1"; [ "$2" = / ] || compgen -f -X "!*$2" -- "$1" | while read -r each; do',
        '        [ -d "$each" ] || printf "%s\\n" "$each"; done))',
        "}",
        f"_{_NAME}() {{",
        '    local current="${COMP_WORDS[COMP_CWORD]}" before="${COMP_WORDS[COMP_CWORD-1]}" command="" each',
        '    for each in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do',
        '        [[ $each == -* ]] || { command="$each"; break; }',
        "    done",
        '    case "$command $before" in',
    ]
    for command in commands:
        for option in command.options:
            if option.taken.kind:
                names = " | ".join(f'"{command.name} {name}"' for name in option.names)
                lines.append(f"        {names}) {_bash_taken(option.taken)}; return ;;")
    lines += [
        "    esac",
        '    case "$command" in',
        f'        "") {_bash_words(["--help", "--version", *_names(commands)])} ;;',
    ]
    for command in commands:
        options = _bash_words([name for option in command.options for name in option.names])
        places = _bash_taken(command.places[0]) if command.places else "COMPREPLY=()"
        lines.append(f"        {command.name}) if [[ $current == -* ]]; then {options}; else {places}; fi ;;")
    return [*lines, "    esac", "}", f"complete -F _{_NAME} {_NAME}"]


def _bash_words(words: Sequence[str]) -> str:
    return f'COMPREPLY=($(compgen -W "{" ".join(words)}" -- "$current"))'


def _bash_taken(taken: Taken) -> str:
    if taken.kind == "choice":
        return _bash_words(taken.choices)
    if taken.kind == "folder":
        return f'_{_NAME}_files "$current" /'
    return f'_{_NAME}_files "$current" "{taken.ends}"' if taken.kind == "file" else "COMPREPLY=()"


def _zsh(commands: Sequence[Command], program: Sequence[str]) -> list[str]:
    lines = [
        f"#compdef {_NAME}",
        "# Completion of padwright for zsh.",
        f"(( $+commands[{_NAME}] + $+functions[{_NAME}] + $+aliases[{_NAME}] )) || {_NAME}() {{ {shlex.join(program)} "
        '"$@" }',
        f"_{_NAME}() {{",
        "    local curcontext=$curcontext state line",
        "    local -a words_of=(",
        *(f"        {shlex.quote(f'{command.name}:{command.about}')}" for command in commands),
        "    )",
        "    _arguments -C '--help[say what there is]' '--version[say the version]' '1: :->command' '*:: :->rest'",
        "    case $state in",
        "        command) _describe command words_of ;;",
        "        rest)",
        "            case $line[1] in",
    ]
    for command in commands:
        specs = [_zsh_option(option, name) for option in command.options for name in option.names]
        specs += [f"*:{taken.name}:{_zsh_taken(taken)}" for taken in command.places[:1]]
        lines.append(f"                {command.name}) _arguments {' '.join(shlex.quote(spec) for spec in specs)} ;;")
    return [*lines, "            esac ;;", "    esac", "}", f"compdef _{_NAME} {_NAME}"]


def _zsh_option(option: Option, name: str) -> str:
    about = "".join(f"\\{sign}" if sign in "[]:\\" else sign for sign in option.about)
    return f"*{name}[{about}]" + (f":{option.taken.name}:{_zsh_taken(option.taken)}" if option.taken.kind else "")


def _zsh_taken(taken: Taken) -> str:
    if taken.kind == "choice":
        return f"({' '.join(taken.choices)})"
    if taken.kind == "folder":
        return "_files -/"
    if taken.kind == "file":
        return f'_files -g "*{taken.ends}(-.)"' if taken.ends else "_files"
    return " "


def _fish(commands: Sequence[Command], program: Sequence[str]) -> list[str]:
    alone = f"not __fish_seen_subcommand_from {' '.join(_names(commands))}"
    lines = [
        "# Completion of padwright for fish.",
        f"if not type -q {_NAME}",
        f"    function {_NAME}; {' '.join(_fish_quoted(word) for word in program)} $argv; end",
        "end",
        f"complete -c {_NAME} -f",
        f"complete -c {_NAME} -n {_fish_quoted(alone)} -l help -d {_fish_quoted('say what there is')}",
        f"complete -c {_NAME} -n {_fish_quoted(alone)} -l version -d {_fish_quoted('say the version')}",
    ]
    for command in commands:
        about = _fish_quoted(command.about)
        lines.append(f"complete -c {_NAME} -n {_fish_quoted(alone)} -a {command.name} -d {about}")
    for command in commands:
        start = f"complete -c {_NAME} -n {_fish_quoted(f'__fish_seen_subcommand_from {command.name}')}"
        for option in command.options:
            names = [f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}" for name in option.names]
            taken = f" -r{_fish_taken(option.taken)}" if option.taken.kind else ""
            lines.append(f"{start} {' '.join(names)}{taken} -d {_fish_quoted(option.about)}")
        lines += [f"{start}{_fish_taken(taken)}" for taken in command.places[:1] if taken.kind != "text"]
    return lines


def _fish_taken(taken: Taken) -> str:
    if taken.kind == "choice":
        return f" -a {_fish_quoted(' '.join(taken.choices))}"
    if taken.kind == "folder":
        return " -a '(__fish_complete_directories)'"
    if taken.kind == "file":
        return f" -k -a '(__fish_complete_suffix {taken.ends})'" if taken.ends else " -F"
    return ""


def _fish_quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace("'", "\\'")
    return f"'{escaped}'"


def _names(commands: Sequence[Command]) -> list[str]:
    return [command.name for command in commands]


_SHELLS: dict[str, Callable[[Sequence[Command], Sequence[str]], list[str]]] = {
    "bash": _bash,
    "zsh": _zsh,
    "fish": _fish,
}
