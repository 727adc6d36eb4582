"""What was noted of a part's prints stands in its report, and its places are a file of the run."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from html import unescape
from typing import Any

import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run import places, summary_load
from padwright.core.run.pipeline import RunResult, run_job
from support.flat_pads import flat_tables

NOTES = """
[[trial]]
revision = "1"
date = 2025-06-02
hours_worn = 0.5
zones = [{ zone = "middle", feels = "too soft" }, { zone = "rest", feels = "right" }]

[[trial]]
revision = "1"
date = 2025-06-03
hours_worn = 1.5
zones = [{ zone = "middle", feels = "too firm" }]
pain = 3
pain_point = [13.0, 7.0, 0.0]
slipped = "<forward>"
photos = ["a.jpg"]

[[trial]]
revision = "1"
date = 2025-06-04
hours_worn = 2.0
zones = [{ zone = "middle", feels = "right" }]
"""


@pytest.fixture(scope="module")
def work() -> Iterator[Counter[str]]:
    """How often costly work was done while notes were made into a report, by its name."""
    done: Counter[str] = Counter()

    def counted(whole: Callable[..., Any]) -> Callable[..., Any]:
        def count(*args: Any, **named: Any) -> Any:
            done[whole.__name__] += 1
            return whole(*args, **named)

        return count

    with pytest.MonkeyPatch.context() as patch:
        for module, whole in (
            (places, places.place_grid),
            (places, places.place_pixels),
            (summary_load, summary_load.after_one_block),
        ):
            patch.setattr(module, whole.__name__, counted(whole))
        yield done


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, work: Counter[str]) -> RunResult:
    folder = tmp_path_factory.mktemp("wearer")
    tables = flat_tables(folder, (120.0, 90.0, 20.0), (0.0, 0.0, 0.0), output={})
    (folder / "FLAT-1.trials.toml").write_text(NOTES, "utf-8")
    return drain(run_job(job_from_tables(tables), folder))


def chapter(made: RunResult) -> str:
    page = made.files["FLAT-1.report.html"].decode()
    found = re.search(r'<section id="wearer".*?</section>', page, re.DOTALL)
    assert found
    return found.group()


def test_the_report_counts_answers_after_a_day_of_wear(made: RunResult) -> None:
    words = unescape(re.sub(r"<[^>]+>", " ", chapter(made)))
    assert re.search(r"middle\s+1 of 2 too firm, 1 right", words)
    assert re.search(r"rest\s+first impressions alone", words)
    assert "Revision 1: worn 3 times, 4 h" in words
    assert "slipped: <forward>" in words and "<forward>" not in chapter(made) and "Photos: a.jpg" in words


def test_where_it_hurt_is_told_by_its_cell_and_marked_on_the_picture(made: RunResult) -> None:
    svg = made.files["FLAT-1.places.svg"].decode()
    told = re.search(r"pain 3 of 10 at ([A-Z]\d+)", chapter(made))
    assert told and "pain 3 of 10, revision 1, 2025-06-03" in chapter(made)
    x, y = (float(each) for each in re.search(r'<circle cx="([\d.]+)" cy="([\d.]+)"', chapter(made)).groups())
    units = float(re.search(r'viewBox="\S+ \S+ ([\d.]+)', svg).group(1)) / float(
        re.search(r'width="([\d.]+)mm', svg).group(1)
    )
    step = units * float(re.search(r"cells of ([\d.]+) mm", svg).group(1))
    assert told.group(1) == f"{chr(ord('A') + int(x // step))}{int(y // step) + 1}"


def test_the_places_and_the_first_block_are_worked_out_once_for_all_that_tells_of_them(
    made: RunResult, work: Counter[str]
) -> None:
    assert "FLAT-1.places.svg" in made.files and "<circle" in chapter(made)  # both pictures are there
    assert "One printed block" in " ".join(made.summary) and b"One printed block" in made.files["FLAT-1.report.html"]
    assert (work["place_grid"], work["place_pixels"]) == (1, 1)
    assert work["after_one_block"] <= 1  # 0 where an earlier run of this process planned it for the same filament


def test_notes_with_a_fault_stop_a_run_before_any_work(tmp_path) -> None:
    tables = flat_tables(tmp_path, (120.0, 90.0, 20.0), (0.0, 0.0, 0.0), output={})
    (tmp_path / "FLAT-1.trials.toml").write_text(NOTES.replace("2025-06-04", "2999-06-04"), "utf-8")
    with pytest.raises(InputError, match=r"FLAT-1\.trials\.toml:\d+: trial\[3\]\.date: 2999-06-04 lies ahead"):
        drain(run_job(job_from_tables(tables), tmp_path))
