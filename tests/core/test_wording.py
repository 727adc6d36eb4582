"""Counts, articles and directions in words."""

from __future__ import annotations

import pytest

from padwright.core.wording import counted, direction_words, with_article


def test_one_and_many() -> None:
    assert counted(1, "fault") == "1 fault" and counted(0, "fault") == "0 faults"
    assert counted(2, "vertex", "vertices") == "2 vertices"


def test_the_article_goes_with_the_sound() -> None:
    assert with_article("insole") == "an insole" and with_article("seat pad") == "a seat pad"


@pytest.mark.parametrize(
    ("vector", "words"),
    [
        ((-0.0004, -0.001, -1.0), "(0, 0, -1)"),
        ((0.0, 0.70711, -0.70711), "(0, 0.71, -0.71)"),
        ((0.004, -0.006, 0.99), "(0, -0.01, 0.99)"),
    ],
)
def test_a_direction_has_no_zero_with_a_sign(vector: tuple[float, float, float], words: str) -> None:
    assert direction_words(vector) == words
