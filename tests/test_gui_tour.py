"""The parts of the tour in the modeller's window that need no window."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import window_pictures
import window_run
import window_tree

ROOT = Path(__file__).resolve().parents[1]


def test_mirror_is_found_in_both_kinds_of_apt_sources():
    line = "deb [signed-by=/x.gpg] http://deb.example.org/debian trixie main\n"
    table = "Types: deb\nURIs: https://mirror.example.org/debian/\nSuites: trixie\n"
    assert window_tree.mirror_in("# nothing\n" + line) == "http://deb.example.org/debian"
    assert window_tree.mirror_in(table) == "https://mirror.example.org/debian/"
    assert window_tree.mirror_in("deb http://deb.example.org/debian-security trixie main") is None


def test_only_the_rolling_suite_skips_the_date_check_and_adds_what_its_package_forgot(tmp_path):
    stable, rolling = (window_tree.make_command(suite, tmp_path, "http://m/debian") for suite in window_tree.SUITES)
    assert not any("Valid-Until" in part for part in stable)
    assert any("Valid-Until" in part for part in rolling)
    assert "python3-requests" in next(part for part in rolling if part.startswith("--include="))
    assert stable[-3:] == ["trixie", str(tmp_path), "http://m/debian"]


def test_an_unfinished_tree_is_refused_with_what_to_do(tmp_path):
    (tmp_path / "usr").mkdir()
    with pytest.raises(window_tree.WindowError, match=r"unfinished\. Remove it with: rm -rf"):
        window_tree.have_tree("trixie", tmp_path)


def test_a_finished_tree_is_taken_as_it_is(tmp_path):
    for place in ("usr/bin/blender", ".gui-ready"):
        (tmp_path / place).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / place).touch()
    assert window_tree.have_tree("trixie", tmp_path) == 0.0


@pytest.mark.parametrize(
    "line",
    [
        "Traceback (most recent call last):",
        "rna_uiItemR: property not found: PADWRIGHT_PG_part.gone",
        "Error: Python: Traceback ...",
    ],
)
def test_bugs_that_the_modeller_goes_on_after_are_seen_in_its_log(line):
    assert window_run.faults_in(f"Info: fine\n{line}\nWarning: fine too") == [line]


def test_what_people_are_told_is_no_fault():
    told = "Warning: 2 small holes filled\nError: Pad is hidden. Show it.\nInfo: Stopped; the scene is as it was"
    assert window_run.faults_in(told) == []


def test_crops_lie_within_the_screen():
    width, height = window_run.SIZE
    for name, crop in window_pictures.GUIDE.items():
        assert 0 <= crop.left < crop.left + crop.width <= width, name
        assert 0 <= crop.top < crop.top + crop.height <= height, name
        assert crop.shown_width <= crop.width, name


def test_guide_shows_each_picture_once_in_the_order_of_the_tour_with_words_for_who_cannot_see_it():
    text = (ROOT / "docs" / "guide.md").read_text("utf-8")
    shown = re.findall(r"!\[([^\]]*)\]\(images/guide-([a-z-]+)\.webp\)", text)
    assert [name for _, name in shown] == list(window_pictures.GUIDE)
    assert all(len(words) > 20 for words, _ in shown)


def test_pictures_of_the_guide_are_small():
    for name in window_pictures.GUIDE:
        size = (ROOT / "docs" / "images" / f"guide-{name}.webp").stat().st_size
        assert 2_000 < size <= window_pictures.LARGEST_BYTES, name


def test_every_picture_of_the_guide_is_taken_by_a_step():
    steps = "".join(path.read_text("utf-8") for path in sorted((ROOT / "scripts").glob("window_steps*.py")))
    assert set(window_pictures.GUIDE) <= set(re.findall(r'hands\.picture\("([a-z-]+)"', steps))


HOLDS_A_SCREENS_SOCKET = """
import socket, sys
with socket.socket(socket.AF_UNIX) as screen:
    screen.bind(chr(0) + "/tmp/.X11-unix/X9")  # a name without a file, as a display takes it besides its file
    print("taken", flush=True)
    sys.stdin.read()
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="name spaces are Linux's")
def test_two_windows_at_once_have_a_screen_each():
    held = subprocess.Popen(
        [*window_run.NAME_SPACES, sys.executable, "-c", HOLDS_A_SCREENS_SOCKET],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    with held:
        first = held.stdout.readline()
        if not first:
            pytest.skip(f"no name spaces here: {held.stderr.read().strip()}")
        second = subprocess.run(
            [*window_run.NAME_SPACES, sys.executable, "-c", HOLDS_A_SCREENS_SOCKET],
            input="", capture_output=True, text=True, check=False,
        )  # fmt: skip
        held.stdin.close()
    assert (first, second.stdout, second.stderr) == ("taken\n", "taken\n", "")
