"""The documentation holds together: links lead somewhere, the index names every page, cited pages exist."""

from __future__ import annotations

import json
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from padwright.core.job.material_cards import load_material
from padwright.core.run.summary import body_words
from padwright.core.stages.printing.orientation import BASE_SIDE_DOWN, Orientation
from padwright.core.stages.printing.print_record import print_record
from padwright.core.stages.printing.support_words import support_words

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
LINK = re.compile(r"\]\((?!https?://|mailto:|#)([^)#\s]+)")
CITED = re.compile(r"docs/[\w./-]+\.md")


def test_links_lead_somewhere() -> None:
    links = [(page, link) for page in PAGES for link in LINK.findall(page.read_text("utf-8"))]
    assert len(links) > 50
    assert [(page.name, link) for page, link in links if not (page.parent / link).exists()] == []


PLACE = re.compile(r"\]\((?!https?://|mailto:)([^)#\s]*)#([^)\s]+)\)")


def places(text: str) -> set[str]:
    """Return the anchors that a page's heads make: small letters, spaces as dashes, no other signs."""
    heads = re.findall(r"^#+ +(.+)$", re.sub(r"```.*?```", "", text, flags=re.S), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


def test_links_into_a_page_lead_to_a_head_of_it() -> None:
    links = [(page, *link) for page in PAGES for link in PLACE.findall(page.read_text("utf-8"))]
    assert len(links) > 15
    at = {page: places(page.read_text("utf-8")) for page in PAGES}
    lost = [
        (page.name, to, head)
        for page, to, head in links
        if head not in at[(page.parent / to).resolve() if to else page]
    ]
    assert lost == []
    assert places("# 5. A & B: `look`, and so\n```\n# none\n```\n") == {"5-a--b-look-and-so"}


def test_the_index_names_every_page() -> None:
    index = ROOT / "docs" / "README.md"
    linked = {(index.parent / link).resolve() for link in LINK.findall(index.read_text("utf-8"))}
    assert [page.name for page in sorted((ROOT / "docs").rglob("*.md")) if page != index and page not in linked] == []


def headless_rows(text: str) -> list[int]:
    """Return the lines where rows of a table begin without a head: a blank line above cut them off from it."""
    lines = re.sub(r"^ *```.*?^ *```", lambda code: "\n" * code[0].count("\n"), text, flags=re.M | re.S).split("\n")
    return [
        number
        for number, (before, line, after) in enumerate(zip(["", *lines], lines, [*lines[1:], ""], strict=False), 1)
        if line.lstrip().startswith("|")
        and not before.lstrip().startswith("|")
        and not re.fullmatch(r" *\|[-| :]+", after)
    ]


def test_no_table_is_cut_in_two() -> None:
    assert [(page.name, rows) for page in PAGES if (rows := headless_rows(page.read_text("utf-8")))] == []
    assert headless_rows("| a |\n|---|\n| 1 |\n\n| 2 |\n") == [5]


def test_pages_cited_in_code_exist() -> None:
    cited = {
        (path.relative_to(ROOT).as_posix(), page)
        for folder in ("addon", "scripts", "shared")
        for path in [*(ROOT / folder).rglob("*.py"), *(ROOT / folder).rglob("*.toml")]
        for page in CITED.findall(path.read_text("utf-8"))
    }
    assert sorted((path, page) for path, page in cited if not (ROOT / page).exists()) == []


SAID = re.compile(r"^\| ([*](?![*])[^|]*[*][^|]*) \|", re.MULTILINE)

EXPLAINING = {f"0{stage}" for stage in range(1, 10)} | {"11"}
"""Stages whose page has a table of messages."""


def unsaid(text: str, code: str) -> list[str]:
    """Return what the tables of messages on a page quote (*in italics*, with ... for what differs) and no code says."""
    quoted = [each for row in SAID.findall(text) for each in re.findall(r"\*([^*]+)\*", row)]
    parts = [part.strip(" ,.") for each in quoted for part in each.split("...")]
    return [part for part in parts if part and part not in code]


def test_messages_that_pages_explain_are_said() -> None:
    source = "".join(path.read_text("utf-8") for path in (ROOT / "addon" / "padwright" / "core").rglob("*.py"))
    # A sentence goes on in the next piece of text.
    joined = re.sub(r"""["']\s*\n\s*f?["']""", "", source).replace("\\'", "'")
    pages = {page.name: page.read_text("utf-8") for page in (ROOT / "docs").glob("[0-9]*.md")}
    explaining = {name: len(SAID.findall(text)) for name, text in pages.items()}
    assert {name[:2] for name, rows in explaining.items() if rows >= 5} >= EXPLAINING
    assert {name: told for name, text in pages.items() if (told := unsaid(text, joined))} == {}
    assert unsaid("| *No clay was lost* | look |", joined) == ["No clay was lost"]
    assert explaining["10-regions.md"] >= 2


def in_the_modeller(text: str) -> list[str]:
    """Return the fields (*in italics*) and buttons (**bold**) in third columns of tables, which are the modeller's."""
    rows = [[cell.strip() for cell in row.strip("|").split("|")] for row in re.findall(r"^\|.*\|$", text, re.MULTILINE)]
    return [name for row in rows if len(row) == 3 for name in re.findall(r"\*+([^*]+)\*+", row[2])]


def test_fields_and_buttons_that_pages_name_are_there() -> None:
    code = "".join(path.read_text("utf-8") for path in (ROOT / "addon" / "padwright" / "blender").rglob("*.py"))
    texts = {page.name: page.read_text("utf-8") for page in (ROOT / "docs").glob("[0-9]*.md")}
    named = [(page, name) for page, text in texts.items() for name in in_the_modeller(text)]
    assert len(named) > 25
    assert [(page, name) for page, name in named if name not in code] == []
    assert in_the_modeller("| a | `b` | *Fit Gap*, **Build Pad** |\n") == ["Fit Gap", "Build Pad"]


def test_the_line_of_the_summary_that_a_page_shows_is_that_of_today() -> None:
    depths = [SimpleNamespace(depth_mm=depth) for depth in (20.68, 20.65)]
    reading = SimpleNamespace(
        contact_area_cm2=245.39, load_centers=depths, spacing_mm=117.39, measured_spacing_mm=118.0
    )
    (line,) = body_words(SimpleNamespace(reading=reading))
    assert f"\n{line}\n" in (ROOT / "docs" / "04-read-the-impression.md").read_text("utf-8")


def test_the_words_on_the_print_that_a_page_shows_are_those_of_today() -> None:
    page = (ROOT / "docs" / "12-pack.md").read_text("utf-8")
    size = np.array([260.834765, 217.559669, 38.3498462])  # the demo's, as docs/models/print.md has its supports
    way = Orientation(np.eye(3), BASE_SIDE_DOWN, size, True, True, 394.66, 0.0, 402.88, 4.94, 9.22)
    plan: Any = SimpleNamespace(orientation=way, notes=support_words(way))
    bed = (300.0, 300.0, 300.0)
    words = print_record(plan, bed, is_bed_given=True, stl_count=4, card=load_material("tpu_85a"))["in_words"]
    shown = re.findall(r'^   "(.*)",?$', page, re.MULTILINE)
    assert shown == words and len(words) == 5


def test_the_settings_that_a_page_tells_to_type_are_all_there_are() -> None:
    page = (ROOT / "docs" / "12-pack.md").read_text("utf-8")
    table = page[page.index("| in `settings` |") :].split("\n\n")[0]
    rows = "".join(line.split("|")[1] for line in table.splitlines() if line.count("|") > 2)
    told = set(re.findall(r"`([a-zA-Z_]+)`", rows)) - {"settings"}
    schema = json.loads((ROOT / "shared" / "schemas" / "settings.schema.json").read_text("utf-8"))
    there = set(schema["$defs"]["settings"]["properties"])
    # Nothing to type: the filament and its flow, the nozzle (set for the whole part), a cell that is never written yet.
    assert there - told == {"material_id", "nozzle_diameter_mm", "max_volume_flow_mm3_s", "fill_cell_mm"}
    assert told <= there
