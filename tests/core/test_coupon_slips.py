"""Slips on the command line of the printed blocks: each told with what to write, which then is taken."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError

import pytest

from padwright.cli.main import main
from padwright.cli.numbers import number, numbers
from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import load_material


def test_a_share_as_a_fraction_is_told_in_percent():
    read = numbers(3, 50, percent=True)
    with pytest.raises(ArgumentTypeError, match=r'"0\.15" is no number from 3 to 50; in percent it is 15$') as raised:
        read("0.15,0.3")
    assert read(re.search(r"it is (\d+)", str(raised.value))[1]) == [15.0]
    with pytest.raises(ArgumentTypeError, match=r"from 20 to 250$"):  # a mass is no share
        number(20, 250)("0.7")


@pytest.mark.parametrize("text", ["300,310", "300x310", "300 310", "300 x 310", "300;310", " 300, 310 "])
def test_numbers_are_parted_as_people_part_them(text):
    assert numbers(20, 5000, count=2)(text) == [300.0, 310.0]


@pytest.mark.parametrize("width", ["1.75", "2.85"])
def test_the_filaments_diameter_is_no_nozzle(width, tmp_path, capsys):
    assert main(["coupons", "--nozzle", width, "--out", str(tmp_path / "out")]) == 2
    assert f"--nozzle {width} is the diameter of filament" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", ["TPU85A", "TPU 85A", "tpu-85a"])
def test_a_card_as_it_is_called_on_the_spool_is_told_by_its_name(name):
    with pytest.raises(InputError) as raised:
        load_material(name)
    load_material(re.match(r'Did you mean "(\w+)"\?', raised.value.hint)[1])
    with pytest.raises(InputError) as raised:
        load_material("nylon")
    assert "Did you mean" not in raised.value.hint


@pytest.mark.parametrize("command", [["run", "job.toml"], ["check", "job.toml"], ["coupons"]])
def test_an_empty_folder_name_is_not_taken_for_this_folder(command, capsys):
    assert main([*command, "--out", ""]) == 2
    assert '--out: it is empty; name a folder, or write "."' in capsys.readouterr().err


def test_a_folder_for_a_file_is_told_with_a_file_in_it(tmp_path, capsys):
    (tmp_path / "readings.csv").write_text("block,load_kg,height_mm\n")
    assert main(["calibrate", str(tmp_path), "--out", str(tmp_path / "card.toml")]) == 2
    assert f"Give a file in it, as {tmp_path / 'readings.csv'}." in capsys.readouterr().err
