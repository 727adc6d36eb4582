"""What is made of the notes: early verdicts, contradictions, pain, print, what neighbors bear, suspicions."""

from dataclasses import replace
from math import log

import pytest

from padwright.core.stages.trials.disagreeing import disagreements
from padwright.core.stages.trials.ideal import LEAST_CHANGE
from padwright.core.stages.trials.learning import Learned, WornPrint, early_note, early_trials, learned
from padwright.core.stages.trials.pain import Pain, pain_of
from padwright.core.stages.trials.proposing import (
    Reach,
    asked_changes,
    halved,
    held_for_pain,
    next_name,
    pressing,
    within_print,
)
from padwright.core.stages.trials.records import Trial, TrialBook, ZoneAnswer, ZoneChange

NO_PAIN = Pain(0.0, "", (), False)


def trial(revision: str, day: int, hours: float = 2.0, pain: float = 0.0, **feels: str) -> Trial:
    """A trial on a day of June; `a="too firm"`, `a="right better"` are answers on the zone a."""
    zones = []
    for zone, said in feels.items():
        words = [word for word in ("better", "same", "worse") if said.endswith(word)]
        bare = said.removesuffix(words[0]).strip() if words else said
        zones.append(ZoneAnswer(zone=zone, feels=bare or None, than_last=words[0] if words else None))
    date = f"2025-06-{day:02d}"
    return Trial(revision=revision, date=date, hours_worn=hours, zones=tuple(zones), pain=pain)


def book(*trials: Trial) -> TrialBook:
    return TrialBook(trials=trials)


def prints(*kpa: dict[str, float], **more: dict[str, float]) -> tuple[WornPrint, ...]:
    made = [WornPrint(str(number + 1), each) for number, each in enumerate(kpa)]
    return (*made[:-1], replace(made[-1], **more))


ONE = prints({"a": 300.0, "b": 300.0})


def test_a_verdict_is_early_until_a_day_of_wear_or_a_second_day() -> None:
    assert early_trials([trial("1", 2, 0.5), trial("1", 2, 7.0)]) == (True, True)
    assert early_trials([trial("1", 2, 8.0)]) == (False,)
    assert early_trials([trial("1", 2, 0.5), trial("1", 3, 0.5)]) == (True, False)
    assert early_trials([trial("1", 3, 0.5), trial("1", 2, 0.5)]) == (False, True)  # by the day, not by the file
    assert early_trials([trial("1", 2, 0.0, a="right"), trial("1", 3, 0.0, a="right")]) == (
        True,
        False,
    )  # no hours given
    assert early_trials([trial("1", 2, 0.0), trial("1", 3, 0.5, a="right")]) == (True, True)  # an empty form is no day
    assert early_trials([trial("1", 2, 3.0), trial("2", 3, 0.5)]) == (True, True)  # each print by itself


def test_first_impressions_change_nothing_and_are_said() -> None:
    found = learned(book(trial("1", 2, 0.5, a="too firm"), trial("1", 2, 0.5, a="too firm")), ONE, ["a", "b"])
    assert "2 trials are first impressions" in early_note(found)[0]
    change, unanswered = asked_changes(found, ONE[-1], NO_PAIN, {})
    assert not change.is_changed and "first impressions" in change.why
    assert "Nothing was answered" in unanswered.why


def test_contradictions_are_told_with_what_they_count_and_not_averaged() -> None:
    steady = [trial("1", day, a="too firm") for day in (1, 2, 3, 4, 5)]
    (clear,) = learned(book(*steady), ONE, ["a"])
    (mixed,) = learned(book(*steady, trial("1", 6, a="too soft")), ONE, ["a"])
    assert clear.notes == () and any("contradict each other. They count for" in note for note in mixed.notes)
    assert '"too soft" at 300 kPa (revision 1, 2025-06-06)' in mixed.notes[0]
    assert mixed.ideal.trust[-1] < 0.5 < min(mixed.ideal.trust[:-1][1:])
    now = ONE[-1]
    assert asked_changes([clear], now, NO_PAIN, {})[0].times <= 0.87
    assert asked_changes([mixed], now, NO_PAIN, {})[0].times <= 0.87  # one slip does not turn five answers round


def test_answers_that_pull_both_ways_are_not_called_near_enough() -> None:
    notes = book(trial("1", 2, 9.0, rest="too soft"), trial("1", 4, 9.0, rest="too firm"))
    worn = prints({"rest": 400.0})
    (change,) = asked_changes(learned(notes, worn, ["rest"]), worn[-1], NO_PAIN, {})
    assert not change.is_changed and change.ideal.high / change.ideal.low > 2.0
    assert "nothing says which way to go. It is not sure that this is right" in change.why


def test_two_answers_of_one_trial_that_cannot_both_be_are_told() -> None:
    both = prints({"a": 250.0}, {"a": 300.0})
    (found,) = learned(book(trial("2", 1, 8.0, a="too firm better")), both, ["a"])
    assert "both cannot be" in found.notes[0] and "better" in found.notes[0]


def test_answers_on_prints_that_are_not_of_this_history_do_not_count() -> None:
    (found,) = learned(book(trial("7", 1, 8.0, a="too firm"), trial("1", 1, 8.0, c="too firm")), ONE, ["a"])
    assert found.answers == ()


def test_more_days_leave_less_open() -> None:
    widths = []
    for days in (1, 3, 6):
        (found,) = learned(book(*[trial("1", day, 8.0, a="right") for day in range(1, days + 1)]), ONE, ["a"])
        widths.append(found.ideal.quantile(0.95) - found.ideal.quantile(0.05))
    assert widths[0] > widths[1] > widths[2]


FIRMER = book(*[trial("1", day, 8.0, a="too soft", b="too soft") for day in (1, 2, 3)])


def test_pain_never_makes_firmer() -> None:
    found = learned(FIRMER, ONE, ["a", "b"])
    free = asked_changes(found, ONE[-1], NO_PAIN, {})
    assert all(each.times > 1.13 and "numbness or tingling there" in each.watch for each in free)
    at_a = asked_changes(found, ONE[-1], Pain(2.0, "2025-06-03", ("a",), False), {})
    assert [each.is_changed for each in at_a] == [False, True] and "it hurts there" in at_a[0].notes[-1]
    assert "because of the pain" in at_a[0].why
    unknown = asked_changes(found, ONE[-1], Pain(2.0, "2025-06-03", (), True), {})
    assert not any(each.is_changed for each in unknown) and "nobody said where" in unknown[0].notes[-1]
    severe = asked_changes(found, ONE[-1], Pain(8.0, "2025-06-03", ("c",), False), {})
    assert not any(each.is_changed for each in severe)


def test_pain_on_a_pad_that_is_nearly_shut_asks_for_thickness() -> None:
    shut = prints({"a": 300.0, "b": 300.0}, margin={"a": 0.1})
    held = asked_changes(learned(FIRMER, shut, ["a"]), shut[-1], Pain(3.0, "", ("a",), False), {})
    assert "10 % of its give is left" in held[0].notes[-1] and "thickness" in held[0].notes[-1]


@pytest.mark.parametrize(
    ("pain", "first"), [(0.0, None), (2.0, "Pain of 2"), (4.0, "STOP"), (7.0, "STOP"), (10.0, "STOP")]
)
def test_stop_comes_first(pain: float, first: str | None) -> None:
    found = pain_of(book(trial("1", 1, 8.0, pain=pain, a="right")), "1", {0: "a"})
    words = found.first_words()
    assert (words[0].startswith(first) if first else not words) and found.is_severe == (pain >= 7.0)
    assert any("Nothing is proposed" in each for each in words) == (pain >= 7.0)


def test_only_pain_on_the_last_print_counts_and_its_worst() -> None:
    notes = book(trial("1", 1, pain=9.0), trial("2", 2, pain=1.0), trial("2", 3, pain=3.0), trial("2", 4, pain=2.0))
    found = pain_of(notes, "2", {0: "c", 1: "a", 3: None})
    assert (found.worst, found.date, found.zones, found.has_unknown_place) == (3.0, "2025-06-03", ("a",), True)
    both = pain_of(book(trial("1", 1, pain=8.0), trial("1", 2, pain=1.0)), "1", {0: "a", 1: "b"})
    assert both.zones == ("a", "b") and 'noted at "a" (' in both.first_words()[0]


SOFTER = book(*[trial("1", day, 8.0, a="too firm", b="right") for day in (1, 2, 3)])


def changes() -> tuple[ZoneChange, ...]:
    found = asked_changes(learned(SOFTER, ONE, ["a", "b"]), ONE[-1], NO_PAIN, {})
    assert [each.is_changed for each in found] == [True, False]
    return found


def test_what_cannot_be_printed_is_told_and_what_is_left_too_small_is_dropped() -> None:
    asked = changes()
    met = within_print(asked, {"a": asked[0].next_kpa, "b": 300.0}, {"a": None, "b": None})
    assert met == asked
    half = within_print(asked, {"a": 250.0, "b": 300.0}, {"a": "too soft to print", "b": None})[0]
    assert half.times == pytest.approx(250 / 300, abs=0.001) and "come to 250 kPa, and no softer" in half.notes[-1]
    for little in (300.0 * 0.88, 300.0, 330.0):
        none = within_print(asked, {"a": little, "b": 300.0}, {"a": "too soft to print", "b": None})[0]
        assert not none.is_changed and none.watch == "" and "softer filament" in none.notes[-1]


def test_a_pad_that_cannot_be_made_is_asked_for_half_and_then_not_at_all() -> None:
    asked = changes()
    half = halved(asked, "It would slide.")
    assert half[0].times == pytest.approx(asked[0].times ** 0.5, abs=0.001) and half[1] == asked[1]
    assert half[0].next_kpa == pytest.approx(300.0 * half[0].times) and half[0].notes[-1].endswith("It would slide.")
    none = halved(halved(half, "It would slide."), "It would slide.")
    assert not any(each.is_changed for each in none) and none[0].notes[-1].startswith("Held: the pad could not be made")


def test_a_reach_holds_the_wish() -> None:
    found = learned(SOFTER, ONE, ["a"])
    near = asked_changes(found, ONE[-1], NO_PAIN, {"a": Reach(250.0, 400.0)})[0]
    assert near.next_kpa >= 250.0 * 0.999 and near.is_changed
    none = asked_changes(found, ONE[-1], NO_PAIN, {"a": Reach(280.0, 400.0)})[0]
    assert not none.is_changed


def test_load_that_moves_to_a_neighbor_is_told_and_held_back_where_it_hurts() -> None:
    asked = changes()
    before, after = {"a": 20.0, "b": 10.0}, {"a": 17.0, "b": 11.0}
    told, notes, hurt = pressing(asked, before, after, NO_PAIN)
    assert hurt == () and (told[0].pressure_now_kpa, told[0].pressure_next_kpa) == (20.0, 17.0)
    assert any('"b" stays as it is and takes load' in note and "+10.0 %" in note for note in notes)
    assert not any("that a body tells" in note for note in notes)  # 15 % less is felt
    _, faint, _ = pressing(asked, before, {"a": 19.0, "b": 10.0}, NO_PAIN)
    assert any("that a body tells" in note and '"a" 20.0 to 19.0' in note for note in faint)
    _, _, hurt = pressing(asked, before, after, Pain(2.0, "", ("b",), False))
    assert hurt == ("b",)
    held = held_for_pain(asked, hurt)
    assert not any(each.is_changed for each in held) and "where it hurts" in held[0].notes[-1]
    assert pressing(asked, {}, {}, NO_PAIN)[0] == asked


@pytest.mark.parametrize(
    ("now", "known", "then"),
    [
        ("1", [], "2"),
        ("9", [], "10"),
        ("1", ["2"], "3"),
        ("A2", [], "A3"),
        ("blue", [], "blue-2"),
        ("v1.4", [], "v1.5"),
    ],
)
def test_the_next_revision_is_called_by_one_more(now: str, known: list[str], then: str) -> None:
    assert next_name(now, [now, *known]) == then


def stuck(*feels: tuple[str, str], kpa: tuple[float, float] = (400.0, 280.0), other: str = "right") -> list[Learned]:
    """Zones a, b, ...: softened from the first stiffness to the second, each with what is felt on both prints."""
    names = [chr(ord("a") + number) for number in range(len(feels))]
    notes = [
        trial(revision, 10 * at + day, 8.0, **{name: said[at] for name, said in zip(names, feels, strict=True)})
        for at, revision in enumerate(("1", "2"))
        for day in (1, 2, 3)
    ]
    return learned(book(*notes), prints(*({name: each for name in names} for each in kpa)), names)


def kinds(zones: list[Learned], *, measured: bool = False, pressure: dict[str, float] | None = None) -> list[str]:
    worn = prints({each.zone: 300.0 for each in zones}, pressure_kpa=pressure or {})
    return [each.kind for each in disagreements(zones, worn, is_material_measured=measured)]


FIRM, RIGHT = ("too firm", "too firm"), ("right", "right")


def test_all_zones_stuck_is_the_filament_and_with_blocks_the_flesh() -> None:
    assert kinds(stuck(FIRM, FIRM)) == ["material"] and kinds(stuck(FIRM, FIRM), measured=True) == ["flesh"]
    (found,) = disagreements(stuck(FIRM, FIRM), ONE, is_material_measured=False)
    assert (
        found.zones == ("a", "b") and "coupons" in found.what_to_do and "30 % softer and is still too firm" in found.why
    )


def test_some_zones_stuck_is_the_fit() -> None:
    zones = stuck(FIRM, RIGHT)
    (found,) = disagreements(zones, ONE, is_material_measured=False)
    assert (found.kind, found.zones) == ("fit", ("a",)) and "compare" in found.what_to_do


def test_zones_stuck_one_way_and_the_other_are_no_filament() -> None:
    (softened,) = stuck(FIRM)
    (firmed,) = stuck(("too soft", "too soft"), kpa=(280.0, 400.0))
    (found,) = disagreements([softened, replace(firmed, zone="b")], ONE, is_material_measured=False)
    assert (found.kind, found.zones) == ("fit", ("a", "b")) and "no filament can be both" in found.why


@pytest.mark.parametrize(
    "zones",
    [
        stuck(("too firm", "right"), ("too firm", "right")),  # it helped
        stuck(FIRM, FIRM, kpa=(400.0, 330.0)),  # changed by less than two steps
        stuck(FIRM, FIRM, kpa=(280.0, 400.0)),  # changed the other way
        stuck(("too firm", "too soft"), RIGHT),
        stuck(RIGHT, RIGHT),
    ],
)
def test_nothing_is_suspected_where_changes_do_what_they_should(zones: list[Learned]) -> None:
    assert kinds(zones) == []


def test_too_firm_where_least_is_borne_is_the_flesh() -> None:
    zones = stuck(("right", "too firm"), RIGHT)
    assert kinds(zones, pressure={"a": 10.0, "b": 20.0}) == ["flesh"]
    assert kinds(zones, pressure={"a": 20.0, "b": 10.0}) == []  # it is felt where most is borne
    assert kinds(zones, pressure={"a": 19.0, "b": 20.0}) == []  # nobody tells these apart
    assert kinds(stuck(("right", "too firm"), ("right", "too firm")), pressure={"a": 10.0, "b": 20.0}) == []


def test_least_change_is_13_percent_either_way() -> None:
    assert LEAST_CHANGE >= -log(0.87) - 1e-12
