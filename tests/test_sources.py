"""The list of sources against what code, cards and docs name, and against the marks they carry."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
LIST = ROOT / "docs" / "sources.md"
TEXTS = sorted(
    path
    for folder, kinds in (
        ("addon", "py"),
        ("addon", "js"),
        ("shared", "toml"),
        ("docs", "md"),
        ("tests", "py"),
        ("scripts", "py"),
    )
    for path in (ROOT / folder).rglob(f"*.{kinds}")
    if path not in (LIST, Path(__file__).resolve())
)
DOI = re.compile(r"10\.\d{4,5}/[^\s,;:*\"'`\]|]+")
NAMED = re.compile(r"\b((?:[A-Z][\w']+(?:, | & | et al\.,? ?))*[A-Z][a-z]\w+),? \(?((?:18|19|20)\d\d)\b")
NO_AUTHOR = (
    "Anthropometric Survey",
    "Standard",
    "Schema",
    "Extension",
    "Specification",
    "Copyright",
    "MIT",
    "Padwright",
)


def dois(text: str) -> set[str]:
    """Return the DOIs in a text; a closing bracket belongs to one only where it opened in it."""
    found = set()
    for each in DOI.findall(text):
        each = each.rstrip(".")
        while each.endswith(")") and each.count(")") > each.count("("):
            each = each[:-1].rstrip(".")
        found.add(each)
    return found


def test_every_doi_stands_in_the_list_and_the_list_names_no_other() -> None:
    used = set().union(*(dois(path.read_text("utf-8")) for path in TEXTS))
    listed = dois(LIST.read_text("utf-8"))
    assert used - listed == set(), "used, not listed"
    assert listed - used == set(), "listed, not used"


def test_every_author_with_a_year_stands_in_the_list() -> None:
    listed = re.sub(r"\s+", " ", LIST.read_text("utf-8"))
    missing = set()
    for path in TEXTS:
        text = re.sub(r"\s*\n[ \t]*(?:#|\"|')*\s*", " ", path.read_text("utf-8"))
        for names, year in NAMED.findall(text):
            first = re.split(r", | & | et al", names)[0]
            is_citation = "&" in names or "et al" in names
            if is_citation and not re.search(rf"\b{first}\b[^|;]*\b{year}\b", listed):
                missing.add((path.relative_to(ROOT).as_posix(), f"{names} {year}"))
    assert missing == set()


def test_nothing_is_quoted_from_memory() -> None:
    said = [path.name for path in TEXTS if re.search(r"[,;(] ?from memory[).,;:]", path.read_text("utf-8"))]
    assert said == []


def test_what_says_abstract_or_not_read_says_so_in_the_list_too() -> None:
    """A mark beside a source in a card or in the pressures is the list's own."""
    rows = [line for line in LIST.read_text("utf-8").splitlines() if line.startswith("|")]
    for path in TEXTS:
        if path.suffix == ".toml" or path.name == "pressure_lines.py":
            text = re.sub(r"\"\n\s*[\"']", "", path.read_text("utf-8"))
            for doi, mark in re.findall(
                r"doi (10\.\d{4,5}/[^\s;,()]+)[^\"]{0,12}\((abstract|tables|read|cited, not read)", text
            ):
                row = next(each for each in rows if doi.rstrip(",") in each)
                assert mark in row, (path.name, doi, mark)
