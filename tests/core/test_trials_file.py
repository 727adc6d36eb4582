"""The file of trials: what is read, what is refused with line and nearest name, what a form looks like."""

import datetime

import pytest

from padwright.core.base.errors import InputError
from padwright.core.stages.trials.reading import read_trials
from padwright.core.stages.trials.records import Trial, TrialBook, ZoneAnswer
from padwright.core.stages.trials.writing import behind, book_head, trial_form, trial_text, waiting_form

ZONES = ("sit bones", "tail relief", "rest")
TODAY = datetime.date(2026, 11, 29)


def read(text: str, revisions: tuple[str, ...] = ("1", "2")) -> TrialBook:
    return read_trials(text.encode(), "A.trials.toml", zones=ZONES, revisions=revisions, today=TODAY)


def faults(text: str, revisions: tuple[str, ...] = ("1", "2")) -> list[str]:
    with pytest.raises(InputError) as found:
        read(text, revisions)
    return found.value.message.split("\n")


FULL = Trial(
    revision="2",
    date="2026-11-20",
    hours_worn=2.5,
    activity='rowing, "long" piece',
    zones=(ZoneAnswer(zone="sit bones", feels="too firm", than_last="better"), ZoneAnswer(zone="rest", feels="right")),
    pain=3.0,
    pain_at="C4",
    slipped="forward",
    wore="rim",
    photos=("a.jpg",),
    note="ä",
)


def test_a_trial_written_reads_back_equal() -> None:
    plain = Trial(revision="1", date="2026-11-19", hours_worn=1.0)
    book = read(trial_text(plain) + trial_text(FULL))
    assert book.trials == (plain, FULL) and book.lines == (2, 7)


def test_a_form_reads_as_a_trial_that_says_nothing() -> None:
    text = book_head("Pad", "A", "A.places.svg") + trial_form("2", ZONES, "2026-11-29", "1")
    (trial,) = read(text).trials
    assert [each.zone for each in trial.zones] == list(ZONES)
    assert all(each.feels is None and each.than_last is None for each in trial.zones)
    assert (trial.pain, trial.hours_worn, trial.date, trial.pain_at) == (0.0, 0.0, "2026-11-29", "")
    assert waiting_form(text, "2") == text[: text.index("\n[[trial]]")].count("\n") + 2
    assert waiting_form(text, "1") is None
    assert waiting_form(text.replace('feels = ""', 'feels = "right"', 1), "2") is None


def test_the_first_print_is_compared_with_nothing() -> None:
    form = trial_form("1", ZONES, "2026-11-29", None)
    assert "than_last" not in form and read(form).trials[0].revision == "1"
    assert "than_last, against revision 1" in trial_form("2", ZONES, "2026-11-29", "1")


def test_days_and_revisions_are_read_as_people_type_them() -> None:
    for day in ("2026-11-28", '"2026-11-28"', "2026-11-28T10:00:00"):
        (trial,) = read(f"[[trial]]\nrevision = 1\ndate = {day}\nhours_worn = 1\n").trials
        assert (trial.revision, trial.date) == ("1", "2026-11-28")


def test_all_faults_are_told_at_once_each_with_its_line() -> None:
    text = """[[trial]]
revision = "3"
date = 2026-11-30
hours_worn = 30
zones = [
    { zone = "sit bone", feels = "to firm" },
    { zone = "rest", feels = "right" },
    { zone = "rest", feels = "right" },
]
pain = 11
pain_at = "tail releif"
slippd = "x"
"""
    told = faults(text)
    assert [line.split(":")[1] for line in told] == ["2", "3", "4", "6", "6", "8", "10", "11", "12"]
    for piece in (
        '"3" was never printed; the revisions are "1", "2".',
        "2026-11-30 lies ahead; today is 2026-11-29.",
        "expected a number from 0 to 24; got 30",
        'did you mean "sit bones"?',
        '"rest" stands twice in this trial',
        "expected a number from 0 to 10; got 11",
        'did you mean "tail relief"?',
        "did you mean trial[1].slipped?",
    ):
        assert any(piece in line for line in told), piece
    assert any("too firm" in line for line in told)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('date = "yesterday"', "is no day; write year, month and day"),
        ("date = 1026-11-28", "lies too far back"),
        ("date = 28", "expected one line of text"),
        ('pain_at = "4C"', "is no zone, and no cell of the picture"),
        ('pain_at = "C4"\npain_point = [1.0, 2.0, 3.0]', "give either pain_at or pain_point"),
        ('pain_at = "C4"', "where it hurt is said, but not how much"),
        ("pain_point = [1.0, 2.0, 3.0]", "where it hurt is said, but not how much"),
        ('zones = [{ zone = "rest", than_last = "better" }]', 'nothing was worn before revision "1"'),
        ("zones = 3", "expected a list of tables"),
        ("zones = [3]", "expected a list of tables"),
        ("photos = 3", "expected a list"),
    ],
)
def test_a_fault_is_told(line: str, told: str) -> None:
    keys = {"revision": '"1"', "date": "2026-11-28", "hours_worn": "1.0"}
    keys.pop(line.split(" =")[0], None)
    text = "[[trial]]\n" + "\n".join(f"{key} = {value}" for key, value in keys.items()) + f"\n{line}\n"
    assert told in "\n".join(faults(text))


@pytest.mark.parametrize("text", ["trial = 3", "trial = [3]", "[trial]\nrevision = 1", "[[trials]]\nrevision = 1"])
def test_what_is_no_list_of_trials_is_refused(text: str) -> None:
    assert "trial" in "\n".join(faults(text))


def test_a_trial_without_its_first_line_is_one_fault_that_names_it() -> None:
    form = trial_form("1", ZONES, "2026-11-29", None)
    bare = form.replace("[[trial]]\n", "", 1)
    line = form.split("\n").index("[[trial]]") + 1
    assert faults(bare + form) == [f"A.trials.toml:{line}: a trial stands here without its first line, [[trial]]."]
    with pytest.raises(InputError, match="the key revision stands twice") as found:
        read(form + bare)
    assert str(found.value).endswith("write its first line above it: [[trial]]")


def test_what_stands_in_a_file_stays_byte_for_byte() -> None:
    for text in ("# mine\n", "# mine", "# mine\r\n[[trial]]\r\nx = 1\r\n", ""):
        more = behind(text, trial_form("1", ZONES, "2026-11-29", None))
        assert more.startswith(text)
        assert ("\r\n" in more) == ("\r\n" in text) and more.count("\r\n") in (0, more.count("\n"))
