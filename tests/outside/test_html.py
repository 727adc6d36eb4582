"""The pages that a run writes are HTML as the standard has it, and stand alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.support.flat_pads import flat_tables
from tests.support.html_pages import page_faults

from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.pipeline import run_job

GOOD = (
    '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>T</title></head>'
    '<body><h1>H</h1><p id="a">A</p></body></html>'
)


@pytest.fixture(scope="module")
def pages(tmp_path_factory) -> dict[str, bytes]:
    """Return the pages of a pad of a person who writes signs that HTML reads."""
    folder: Path = tmp_path_factory.mktemp("pages")
    tables = flat_tables(folder, (90.0, 70.0, 12.0), (3.0, -7.0, 1.0), load={"force_n": 90.0}, output={})
    tables["part"] |= {"name": "<b>A & B</b>", "note": "\"'</script><img src=x onerror=alert(1)>"}
    files = drain(run_job(job_from_tables(tables), folder)).files
    return {name: data for name, data in files.items() if name.endswith(".html")}


def test_pages_are_valid_and_stand_alone(pages):
    assert any(name.endswith(".report.html") for name in pages)
    assert {name: page_faults(data) for name, data in pages.items()} == {name: [] for name in pages}


def test_what_a_person_wrote_is_shown_as_written(pages):
    for data in pages.values():
        assert b"<b>A" not in data and b"<img src=x" not in data
        assert b"&lt;b&gt;A &amp; B" in data


def test_a_good_page_has_no_faults():
    assert page_faults(GOOD.encode()) == []


@pytest.mark.parametrize(
    ("good", "planted"),
    [
        ("<p id", "<p><div>x</div></p><p id"),
        ("</p>", "</p></section>"),
        ("<p id", '<p id="a">B</p><p id'),
        ("<p id", '<a href="#b">B</a><p id'),
        ("<p id", '<img src="data:image/png;base64,AA"><p id'),
        ("<p id", '<script src="https://example.org/x.js"></script><p id'),
        ("<p id", '<p onclick="x()">B</p><p id'),
        ("<p id", "<select><option>1</option></select><p id"),
        ("<p id", "<button></button><p id"),
        ("<p id", "<canvas></canvas><p id"),
        ("<p id", "<h3>B</h3><p id"),
        ("<p id", "<style>p { color: red; }</style><p id"),
        ("</head>", "<style>p { background: url(x.png); }</style></head>"),
        (' lang="en"', ""),
        ("<title>T</title>", ""),
        ("<!DOCTYPE html>", ""),
    ],
)
def test_a_planted_fault_is_found(good, planted):
    assert page_faults(GOOD.replace(good, planted, 1).encode())
