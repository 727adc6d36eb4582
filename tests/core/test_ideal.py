"""Where a wearer's ideal lies: single answers, many, early ones, contradictions, and what is proposed."""

from math import exp, log

import choix
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from padwright.core.stages.trials.ideal import (
    EARLY_SLIP,
    LEAST_CHANGE,
    PRIOR,
    SLIP,
    STEP,
    Answer,
    IdealPoint,
    ideal_points,
    next_stiffness,
)

X = log(350.0)


def one(*answers: Answer, start: float = X) -> IdealPoint:
    return ideal_points([answers], [start])[0]


def test_without_answers_the_ideal_is_the_prior() -> None:
    found = one()
    for share in (0.05, 0.3, 0.5, 0.95):
        assert found.quantile(share) == pytest.approx(
            X + PRIOR * norm.ppf(share), abs=0.002
        )  # a fifth of the grid's step


@pytest.mark.parametrize(
    ("feels", "low", "high"), [("too firm", -np.inf, -1), ("right", -1, 1), ("too soft", 1, np.inf)]
)
def test_an_answer_is_as_likely_as_the_wandering_ideal_lies_so(feels: str, low: float, high: float) -> None:
    ideal, spread = X + 0.1, 0.2
    inside = quad(norm(ideal, spread).pdf, X + max(low, -40) * STEP, X + min(high, 40) * STEP)[0]
    told = Answer(X, feels).likelihood(np.array([ideal]), spread)[0]
    assert told == pytest.approx((1 - SLIP) * inside + SLIP / 3, abs=1e-7)


@pytest.mark.parametrize("worn", [X - 0.5, X + 0.5])
def test_comparisons_are_drawn_as_the_model_says(worn: float) -> None:
    """The share of momentary ideals nearer to one print than to the other by more than a step, drawn at random."""
    ideal, spread, draws = X + 0.05, 0.25, 400_000
    t = np.random.default_rng(0).normal(ideal, spread, draws)
    nearer = np.abs(X - t) - np.abs(worn - t)
    for word, is_so in (("better", nearer > STEP), ("worse", nearer < -STEP), ("same", np.abs(nearer) <= STEP)):
        told = Answer(worn, None, word, X).likelihood(np.array([ideal]), spread)[0]
        assert (told - SLIP / 3) / (1 - SLIP) == pytest.approx(is_so.mean(), abs=0.004)  # 5 standard errors


def test_two_answers_of_one_trial_speak_of_one_moment() -> None:
    ideal, spread, worn = X + 0.05, 0.25, X - 0.5
    t = np.random.default_rng(1).normal(ideal, spread, 400_000)
    both = ((worn - t < -STEP) & (np.abs(X - t) - np.abs(worn - t) < -STEP)).mean()
    none = Answer(worn, "too soft", "worse", X).likelihood(np.array([ideal]), spread)[0]
    alone = [Answer(worn, "too soft").likelihood(np.array([ideal]), spread)[0], Answer(worn, None, "worse", X)]
    soft = (alone[0] - SLIP / 3) / (1 - SLIP)
    worse = (alone[1].likelihood(np.array([ideal]), spread)[0] - SLIP / 3) / (1 - SLIP)
    assert none == pytest.approx(
        (1 - SLIP) ** 2 * both + (1 - SLIP) * SLIP / 3 * (soft + worse) + (SLIP / 3) ** 2, abs=0.004
    )


def test_prints_that_no_one_can_tell_apart_are_compared_for_nothing() -> None:
    near = [Answer(X + 0.9 * STEP, None, word, X) for word in ("better", "worse", "same")]
    assert all(
        each.intervals() == [] and each.likelihood(np.array([X, X + 1]), 0.2).tolist() == [1, 1] for each in near
    )


def test_many_answers_find_the_ideal_that_made_them() -> None:
    rng, ideal = np.random.default_rng(2), X - 0.3
    answers = []
    for worn in (X, X - 0.5):
        for _ in range(60):
            t = rng.normal(ideal, 0.18)
            answers.append(Answer(worn, "too firm" if worn - t > STEP else "too soft" if t - worn > STEP else "right"))
    found = one(*answers)
    assert found.quantile(0.5) == pytest.approx(ideal, abs=0.06)  # three standard errors of 120 answers
    assert found.quantile(0.95) - found.quantile(0.05) < 0.15


def test_a_second_opinion_ranks_stiffnesses_alike() -> None:
    """A Bradley-Terry fit (choix) knows no ideal point; of prints compared in pairs it must like the same one best."""
    rng, ideal, worn = np.random.default_rng(3), X + 0.28, [X - 0.4, X, X + 0.3, X + 0.8]
    answers, pairs = [], []
    for _ in range(40):
        for last, now in ((0, 1), (1, 2), (2, 3), (0, 2), (1, 3), (0, 3)):
            t = rng.normal(ideal, 0.18)
            nearer = abs(worn[last] - t) - abs(worn[now] - t)
            word = "better" if nearer > STEP else "worse" if nearer < -STEP else "same"
            answers.append(Answer(worn[now], None, word, worn[last]))
            pairs += [(now, last)] if word == "better" else [(last, now)] if word == "worse" else []
    liked = choix.ilsr_pairwise(len(worn), pairs, alpha=0.01)
    found = one(*answers)
    assert int(np.argmax(liked)) == 2 == int(np.argmax(found.chance(np.array(worn))))
    order = np.argsort(np.abs(np.array(worn) - found.quantile(0.5)))
    assert np.argsort(-liked).tolist() == order.tolist()


def test_early_answers_hardly_count() -> None:
    early, after = (one(*[Answer(X, "too firm", is_early=flag)] * 3) for flag in (True, False))
    assert EARLY_SLIP > 0.9
    assert abs(early.quantile(0.5) - X) < STEP / 2 < 0.3 < X - after.quantile(0.5)
    assert next_stiffness(early, X) == X
    assert all(trust < 0.1 for trust in early.trust) and all(trust > 0.9 for trust in after.trust)


def test_a_contradiction_counts_for_less_and_leaves_more_open() -> None:
    steady = [Answer(X, "too firm")] * 4
    clear, mixed = one(*steady), one(*steady, Answer(X - 0.05, "too soft"))
    assert mixed.trust[-1] < 0.6 < min(mixed.trust[:-1])
    assert mixed.quantile(0.5) < X - STEP  # still four against one
    averaged = one(*steady, Answer(X, "right"))
    assert mixed.quantile(0.95) - mixed.quantile(0.05) > averaged.quantile(0.95) - averaged.quantile(0.05)
    assert clear.quantile(0.5) < mixed.quantile(0.5)


def test_two_answers_of_one_trial_that_cannot_both_be_are_torn() -> None:
    assert Answer(X, "too firm", "better", X - 0.2).is_torn  # too firm, and yet better than the softer one
    assert not Answer(X, "too firm", "better", X - 0.5).is_torn  # that one was softer by far: it may lie between
    assert not Answer(X, "too firm", "worse", X - 0.2).is_torn
    assert not Answer(X, "right", "better", X - 0.2).is_torn
    assert one(Answer(X, "too firm", "better", X - 0.2)).trust == (0.0,)


@pytest.mark.parametrize("seed", range(30))
def test_no_change_is_ever_smaller_than_can_be_felt_or_beyond_what_can_be_printed(seed: int) -> None:
    rng = np.random.default_rng(seed)
    words = ("too firm", "right", "too soft")
    worn = X + np.cumsum(rng.normal(0, 0.3, 3))
    answers = [Answer(float(worn[at]), words[rng.integers(3)]) for at in rng.integers(3, size=rng.integers(1, 9))]
    now = float(worn[-1])
    low, high = now - rng.uniform(0, 0.6), now + rng.uniform(0, 0.6)
    found = one(*answers)
    wished = next_stiffness(found, now, low, high)
    assert wished == now or (LEAST_CHANGE <= abs(wished - now) <= log(2.0) and low <= wished <= high)
    assert wished == now or found.chance(wished) > found.chance(now) or found.nearer(wished, now) >= 0.9
    assert exp(-LEAST_CHANGE) <= 0.87 + 1e-12


def test_answers_of_one_zone_do_not_move_another_but_for_how_steadily_one_answers() -> None:
    other = [Answer(X, "too firm")] * 3
    alone, beside = ideal_points([[]], [X])[0], ideal_points([[], other], [X, X])[0]
    np.testing.assert_allclose(alone.weight, beside.weight, atol=1e-12)
