"""What the pages tell a person to type is what the tool takes: commands, job tables, names of files."""

from __future__ import annotations

import datetime
import re
import shlex
from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from padwright.cli.main import _parser
from padwright.core.base.errors import PadwrightError
from padwright.core.job.read import job_from_tables
from padwright.core.job.toml_lines import parse_toml
from padwright.core.stages.report.setting_words import SETTING_KINDS
from padwright.core.stages.report.words_map import parse_words
from padwright.core.stages.trials.reading import read_trials

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "addon" / "padwright"
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
FENCE = re.compile(r"^ *```(\w*)\n(.*?)^ *```", re.MULTILINE | re.DOTALL)
QUOTED = re.compile(r"`([^`\n]+)`")
COMMANDS = (
    r"run|batch(?= (?:jobs|s3))|check|look|new|schema(?= --)|completion|coupons|calibrate|map|mat|trial(?= job)|revise"
)
MODULE = re.compile(rf"-m padwright (.+)|--command padwright (.+)|^((?:{COMMANDS}) .*)")
IMPORTED = re.compile(r"from bl_ext\.user_default\.padwright\.([\w.]+) import (\w+)")
FILE = re.compile(r"(?:[\w-]+/)*[\w-]+\.py")
MODELLER_ONLY = {"export"}  # its options stand in the modeller's folder, which only the modeller can load
LEAST = """
schema = 1
[part]
name = "Seat pad"
number = "PAD-1"
family = "seat_pad"
[base]
scan = "base.ply"
unit = "mm"
[impression]
scan = "impression.ply"
unit = "mm"
"""
# What a fragment on a page speaks of and leaves to the page's reader to have.
NAMED_ELSEWHERE = """
[[zones]]
name = "tail relief"
level = 1
source = "outline"
points = [[0, 0, 0], [20, 0, 0], [20, 20, 0]]
[[zones]]
name = "rest"
level = 2
source = "rest"
[load]
body_mass_kg = 75
"""


def commands_of(text: str) -> list[str]:
    """Return what stands after `python -m padwright` (or the modeller's `--command padwright`) in a page's code."""
    fenced = [line for _, block in FENCE.findall(text) for line in block.splitlines()]
    found = [MODULE.search(line.strip()) for line in [*fenced, *QUOTED.findall(FENCE.sub("", text))]]
    return [next(filter(None, match.groups())).strip() for match in found if match]


def tables_of(text: str) -> list[str]:
    return [block for language, block in FENCE.findall(text) if language == "toml"]


def merged(least: Mapping[str, Any], more: Mapping[str, Any]) -> dict[str, Any]:
    """Return tables with more keys laid over them; a list of tables takes the place of another."""
    out = deepcopy(dict(least))
    for name, value in more.items():
        old = out.get(name)
        out[name] = merged(old, value) if isinstance(old, dict) and isinstance(value, dict) else value
    return out


def refused_tables(block: str) -> str:
    """Return why a block of TOML is no part of a job, nor of a words map or of noted trials, "" if it is."""
    least, _ = parse_toml(LEAST.encode(), "least")
    named, _ = parse_toml(NAMED_ELSEWHERE.encode(), "named elsewhere")
    try:
        tables, _ = parse_toml(block.encode(), "page")
        if "trial" in tables:
            zones = [each["zone"] for trial in tables["trial"] for each in trial["zones"]]
            read_trials(block.encode(), "page", zones=zones, revisions=("1", "2"), today=datetime.date.today())
            return ""
        if set(tables) & set(SETTING_KINDS):
            parse_words(block.encode(), "page")
            return ""
        job = job_from_tables(merged(merged(least, named if "target" in tables else {}), tables), name="page")
    except PadwrightError as error:
        return error.message
    return "; ".join((*job.renamed, *job.retired))  # a page shows today's keys


def refused_command(command: str) -> str:
    words = shlex.split(command, comments=True)
    words = words[: words.index(">")] if ">" in words else words  # where the shell sends what is printed
    try:
        _parser("padwright", None).parse_args(words)
    except (PadwrightError, SystemExit) as error:
        return f"{command}: {error}"
    return ""


def missing_files(text: str) -> list[str]:
    """Name the Python files in back quotes that are nowhere in the checkout; a path may start at any of its rooms."""
    homes = (ROOT, ROOT / "addon", PACKAGE, PACKAGE / "core", PACKAGE / "core" / "stages")
    names = {name for quoted in QUOTED.findall(text) for name in FILE.findall(quoted) if "<" not in quoted}
    bare = {path.name for folder in ("addon", "scripts", "tests") for path in (ROOT / folder).rglob("*.py")}
    return sorted(name for name in names if name not in bare and not any((home / name).is_file() for home in homes))


def test_commands_on_the_pages_are_taken() -> None:
    found = [(page.name, command) for page in PAGES for command in commands_of(page.read_text("utf-8"))]
    ours = [(page, command) for page, command in found if command.split()[0] not in MODELLER_ONLY]
    assert len(ours) > 12
    assert [(page, told) for page, command in ours if (told := refused_command(command))] == []


def test_tables_on_the_pages_are_parts_of_a_job() -> None:
    blocks = [(page.name, block) for page in PAGES for block in tables_of(page.read_text("utf-8"))]
    assert len(blocks) >= 4
    assert [(page, told) for page, block in blocks if (told := refused_tables(block))] == []


def test_files_named_on_the_pages_exist() -> None:
    assert [(page.name, name) for page in PAGES for name in missing_files(page.read_text("utf-8"))] == []


def test_modules_named_to_the_modeller_exist() -> None:
    found = [(page.name, *each) for page in PAGES for each in IMPORTED.findall(page.read_text("utf-8"))]
    assert found
    places = [PACKAGE.joinpath(*package.split("."), name + ".py") for _, package, name in found]
    assert [str(place) for place in places if not place.is_file()] == []


@pytest.mark.parametrize(
    "block",
    [
        "[pad]\nfit_gap = 0.5\n",
        "[load]\nbody_mass_kg = 75\nshare = -1\n",
        "[pad\n",
        '[[trial]]\nrevision = "1"\ndate = "soon"\nhours_worn = 1\nzones = []\n',
        '[[zones]]\nname = "a"\nsource = "colour_marks"\n',
    ],
)
def test_a_wrong_table_is_seen(block: str) -> None:
    assert refused_tables(block)


BRITISH = re.compile(
    r"\b(\w*(?:colour|neighbour)\w*|\w*met(?:re|res)|cent(?:re|res)|licences?|\w+[lt]isation)\b", re.IGNORECASE
)


def test_pages_are_in_us_spelling() -> None:
    """Old key names and evidence names stand in back quotes, titles of papers in the list of sources."""
    pages = [page for page in PAGES if page.name != "sources.md"]
    texts = {page.name: QUOTED.sub("", FENCE.sub("", page.read_text("utf-8"))) for page in pages}
    assert [(name, word) for name, text in texts.items() for word in BRITISH.findall(text)] == []
    assert BRITISH.findall("the colours of 2 metres, a centre") == ["colours", "metres", "centre"]


@pytest.mark.parametrize("command", ["runs job.toml", "run --to part job.toml", "look", "new --family chair"])
def test_a_wrong_command_is_seen(command: str) -> None:
    assert refused_command(command)
    assert commands_of(f"```\npython -m padwright {command}\n```\n") == [command]


def test_a_missing_file_is_seen() -> None:
    assert missing_files("`core/job/read.py`, `reading/press.py`, `press.py`, `capture/press.py`") == [
        "capture/press.py"
    ]
