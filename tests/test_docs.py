"""The documentation holds together: links lead somewhere, the index names every page, cited pages exist."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
LINK = re.compile(r"\]\((?!https?://|mailto:|#)([^)#\s]+)")
CITED = re.compile(r"docs/[\w./-]+\.md")


def test_links_lead_somewhere() -> None:
    links = [(page, link) for page in PAGES for link in LINK.findall(page.read_text("utf-8"))]
    assert len(links) > 50
    assert [(page.name, link) for page, link in links if not (page.parent / link).exists()] == []


def test_the_index_names_every_page() -> None:
    index = ROOT / "docs" / "README.md"
    linked = {(index.parent / link).resolve() for link in LINK.findall(index.read_text("utf-8"))}
    assert [page.name for page in sorted((ROOT / "docs").rglob("*.md")) if page != index and page not in linked] == []


def test_pages_cited_in_code_exist() -> None:
    cited = {
        (path.relative_to(ROOT).as_posix(), page)
        for folder in ("addon", "scripts", "shared")
        for path in [*(ROOT / folder).rglob("*.py"), *(ROOT / folder).rglob("*.toml")]
        for page in CITED.findall(path.read_text("utf-8"))
    }
    assert sorted((path, page) for path, page in cited if not (ROOT / page).exists()) == []
