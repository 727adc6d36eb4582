"""Counts, articles and numbers as a person would write them."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.text import counted, direction_words, figure, fixed, placed, with_article
from padwright.core.job.card_sizes import check_plausible_size
from padwright.core.job.cards import load_family
from padwright.core.stages.regions.bodies import mirrored
from support.packing import regions

ALWAYS_MANY = {
    "pairs.py points",
    "clean.py holes",
    "coupon_weights.py blocks",
    "coupons.py blocks",
    "outlines.py points",
    "zones.py zones",
}
"""Counts whose text is only reached with two or more."""

CORE = Path(__file__).parents[2] / "addon" / "padwright" / "core"


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


def test_what_rounds_to_nothing_has_no_minus():
    assert [fixed(value, 3) for value in (-0.0, -0.0004, -0.0006, 0.0)] == ["0.000", "0.000", "-0.001", "0.000"]
    assert placed((-1e-17, -0.4, 0.5)) == "(0, 0, 0)" and placed(np.array([-0.0, -0.6, 1.0]), 1) == "(0.0, -0.6, 1.0)"


def test_an_insole_is_no_a_insole():
    box = np.array([[0.0, 0.0, 0.0], [26.0, 10.0, 8.0]])
    with pytest.raises(InputError, match="and an insole base is"):
        check_plausible_size(box, load_family("insole"), unit="mm")


def test_the_mirror_plane_is_told_without_a_minus_before_nothing():
    press = np.array([-1e-9, 0.3, -0.95])
    assert "-0.000" not in mirrored(regions(), press / np.linalg.norm(press)).notes[0]


def test_no_message_of_the_core_counts_without_saying_one():
    """`{len(x)} things` reads "1 things"; `wording.counted` does not. Looked for in the text of every f-string."""
    many = {"points", "places", "pieces", "zones", "regions", "edges", "triangles", "blocks", "holes", "steps", "cells"}
    found = []
    for path in sorted(CORE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.JoinedStr):
                continue
            for value, text in zip(node.values, node.values[1:], strict=False):
                is_count = (
                    isinstance(value, ast.FormattedValue)
                    and isinstance(value.value, ast.Call)
                    and isinstance(value.value.func, ast.Name)
                    and value.value.func.id in ("len", "sum")
                )
                word = re.match(r" (?:open |scan |point )?([a-z]+)", str(getattr(text, "value", "")))
                if is_count and word and word[1] in many and f"{path.name} {word[1]}" not in ALWAYS_MANY:
                    found.append(f"{path.name}:{node.lineno} {word[0]}")
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [(0.334, 1, "0.33"), (1.14, 0, "1.1"), (0.0712, 0, "0.071"), (58.44, 1, "58.4"), (9.7, 0, "10"), (0.0, 0, "0")],
)
def test_a_small_number_keeps_two_figures(value, decimals, text):
    assert figure(value, decimals) == text
