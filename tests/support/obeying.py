"""Do to a job what a message says, to the letter: each takes the job and what was told, and returns the job mended."""

from __future__ import annotations

import re
from collections.abc import Callable

from .desk import NUMBER, ends_times, times


def write_line(wrong: str, told: str) -> str:
    """Obey "Write: LINE": it stands for the line that the message names."""
    number = int(re.search(r"wrong\.toml:(\d+)", told)[1])
    lines = wrong.splitlines()
    lines[number - 1] = re.search(r"Write: (.*)", told)[1]
    return "\n".join(lines) + "\n"


def write_path(wrong: str, told: str) -> str:
    return wrong.replace(r"\base.ply", "/base.ply").replace(r"scans/", "") if "Write:" in told else wrong


def set_unit(wrong: str, told: str) -> str:
    unit = re.search(r'set unit = "(\w+)"', told)[1]
    head, tail = wrong.split("[impression]", 1)
    if "unit =" not in head:
        return head.replace('scan = "base.ply"', f'scan = "base.ply"\nunit = "{unit}"') + "[impression]" + tail
    return re.sub(r'unit = "\w+"', f'unit = "{unit}"', head) + "[impression]" + tail


def set_impression_unit(wrong: str, told: str) -> str:
    unit = re.search(r'unit is likely "(\w+)"', told, re.IGNORECASE)[1]
    head, tail = wrong.split("[impression]", 1)
    return head + "[impression]" + re.sub(r'unit = "\w+"', f'unit = "{unit}"', tail, count=1)


def multiply_points(wrong: str, told: str) -> str:
    by = float(re.search(r"multiply by ([\d.e-]+),", told)[1])
    return re.sub(r"(?s)points = \[\n.*?\n\]", lambda found: times(found[0], by), wrong)


def multiply_ends(wrong: str, told: str) -> str:
    assert "The same holds for base.check_lengths[2].from" in told
    return ends_times(wrong, float(re.search(r"multiply by ([\d.e-]+),", told)[1]))


def multiply_lengths(wrong: str, told: str) -> str:
    by = float(re.search(r"multiply each measured_mm by ([\d.]+)\.", told)[1])
    return re.sub(r"(?m)^measured_mm = .*$", lambda found: times(found[0], by), wrong)


def write_key(key: str, was: str) -> Callable[[str, str], str]:
    """Obey "write KEY = VALUE"."""

    def mended(wrong: str, told: str) -> str:
        value = re.search(rf"[Ww]rite {key} = (\d+(?:\.\d+)?)", told)[1]
        assert was in wrong
        return wrong.replace(was, f"{key} = {value}")

    return mended


def exchange_scans(wrong: str, told: str) -> str:
    assert "look swapped" in told
    for table in ("base", "impression"):
        name = re.search(rf'scan = "(\w+\.ply)" under \[{table}\]', told)[1]
        wrong = re.sub(rf'(?s)(\[{table}\]\nscan = )"\w+\.ply"', rf'\1"{name}"', wrong)
    return wrong


def did_you_mean(old: str, quote: str = "") -> Callable[[str, str], str]:
    """Obey "did you mean X?": the last name of the key, or the text in quotes."""

    def mended(wrong: str, told: str) -> str:
        found = re.search(r"[Dd]id you mean \"?([\w.]+?)\"?\?", told)[1]
        meant = found if found.endswith(".ply") else found.rpartition(".")[2]
        return wrong.replace(old, f"{quote}{meant}{quote}")

    return mended


def lower_the_gap(wrong: str, told: str) -> str:
    """Obey "Lower pad.fit_gap_mm (LOW to HIGH mm is usual)"."""
    usual = re.search(r"pad\.fit_gap_mm: .* Lower pad\.fit_gap_mm \([\d.]+ to ([\d.]+) mm", told)[1]
    return wrong.replace("fit_gap_mm = 20.0", f"fit_gap_mm = {usual}")


def leave_out_line(wrong: str, told: str) -> str:
    """Obey "leave it out": the line that the message names goes."""
    number = int(re.search(r"wrong\.toml:(\d+)", told)[1])
    lines = wrong.splitlines()
    del lines[number - 1]
    return "\n".join(lines) + "\n"


def bare_number(wrong: str, told: str) -> str:
    bare = re.search(r"quotes or unit: ([\d.]+)\.", told)[1]
    typed = re.search(r'got ("[^"]*"), a text', told)[1]
    return wrong.replace(typed, bare)


def turn_round(wrong: str, told: str) -> str:
    row = re.search(r"turned round it is (\[.*?\])", told)[1]
    return re.sub(r"press_direction = \[.*\]", f"press_direction = {row}", wrong)


def within_limits(old: str, key: str) -> Callable[[str, str], str]:
    """Obey "expected a number from LOW to HIGH": the end that is nearer."""

    def mended(wrong: str, told: str) -> str:
        low, high = map(float, re.search(r"expected a number from ([\d.]+) to ([\d.]+);", told).groups())
        was = float(old.split("=")[1])
        return wrong.replace(old, f"{key} = {min(max(was, low), high)}")

    return mended


def leave_out_the_point(wrong: str, told: str) -> str:
    assert 'load.cases[1]: In the load case "catch"' in told and "or leave it out" in told
    return re.sub(r"(?m)^point = .*\n", "", wrong)


def less_force(wrong: str, told: str) -> str:
    assert 'load.cases[1]: In the load case "catch"' in told
    return wrong.replace("50000.0", re.search(r"holds up to (\d+) N", told)[1])


def thinner_layers(wrong: str, told: str) -> str:
    assert "printer.layer_thickness_mm: Layers of 0.8 mm" in told
    return wrong.replace("_mm = 0.8", f"_mm = {re.search(r'to ([0-9.]+) or less', told)[1]}")


def say_points_on(wrong: str, told: str) -> str:
    return wrong.replace('points_on = "impression"', re.search(r'Set (points_on = "\w+")', told)[1])


def drop_second(wrong: str, told: str) -> str:
    """Obey "it takes": a key that a zone of this source does not take goes."""
    assert "does not take this key" in told
    return wrong.replace('source = "rest"\nradius_mm = 10', 'source = "rest"')


def move_points(wrong: str, told: str) -> str:
    """Obey "add [x, y, z] to each": to the points of the list that begins on the line that the message names."""
    first = int(re.search(r"wrong\.toml:(\d+)", told)[1])
    shift = [float(each) for each in re.search(r"add \[(.*?)\] to each", told)[1].split(",")]
    lines = wrong.splitlines()
    last = next(number for number in range(first, len(lines)) if lines[number].startswith("]"))
    for number in range(first, last):
        point = [float(each) + by for each, by in zip(NUMBER.findall(lines[number]), shift, strict=True)]
        lines[number] = f"    [{', '.join(f'{each:.6f}' for each in point)}],"
    return "\n".join(lines) + "\n"
