"""A job that makes a part, and the ways in which people spoil it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from padwright.cli.main import main
from padwright.core.base.progress import drain
from padwright.core.geometry.query import NearestSurface
from padwright.core.job.read import read_job
from padwright.core.run.memory import StageMemory
from padwright.core.run.stages import STAGES

from .cases import make_case
from .writers import write_job

NUMBER = re.compile(r"-?\d+\.\d+")


class Desk:
    """A folder with two coarse scans and a job that makes a part; what was worked out is not worked out again."""

    def __init__(self, folder: Path) -> None:
        case = make_case("seat", triangles=8_000, unit="m", base_scale_error=1.02)
        text = write_job(case, folder).read_text("utf-8")
        in_file = case.mm_per_unit * case.base_factor
        base = NearestSurface(case.base_mm)
        middle = base.find(case.load_centers_in_base.mean(axis=0)[None]).point[0]
        press = case.press_direction_in_base
        across = np.cross(press, np.eye(3)[0])
        across /= np.linalg.norm(across)
        turns = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)[:, None]
        ring = base.find(middle + 18.0 * (np.cos(turns) * across + np.sin(turns) * np.cross(press, across))).point
        rows = "".join(f"    {row(point)},\n" for point in ring / in_file)
        relief = (
            f'[[zones]]\nname = "relief"\nlevel = 1\nsource = "outline"\npoints_on = "base"\npoints = [\n{rows}]\n\n'
        )
        text = text.replace("[[zones]]", f"{relief}[[zones]]", 1)
        text = text.replace('scale = "as base"', 'scale = "as base"\nclay_thickness_mm = 30.0')
        cases = (
            "\n[load]\nbody_mass_kg = 74.0\nshare = 0.6\n\n"
            f'[[load.cases]]\nname = "catch"\nforce_n = 500.0\npoint = {row(middle / in_file)}\n'
        )
        self.folder = folder
        self.good = text + cases
        self.true_mm = in_file
        start, end = case.lengths[0].base_from, case.lengths[1].base_to
        self.third = (
            '[[base.check_lengths]]\nname = "third"\nplus_minus_mm = 0.1\n'
            f"measured_mm = {np.linalg.norm(end - start) * in_file:.2f}\nfrom = {row(start)}\nto = {row(end)}\n\n"
        )
        self.memory = StageMemory()

    def told(self, text: str, capsys: pytest.CaptureFixture[str]) -> str:
        """Run a job that is wrong, as a person does, and return what is said; nothing may be written."""
        job = self.folder / "wrong.toml"
        job.write_text(text, "utf-8")
        assert main(["run", str(job), "--out", str(self.folder / "out")]) in (2, 3, 4)
        assert not (self.folder / "out").exists()
        return capsys.readouterr().err

    def makes_a_part(self, text: str) -> None:
        """Bring a job to its last stage."""
        job = self.folder / "mended.toml"
        job.write_text(text, "utf-8")
        part = drain(self.memory.reach(read_job(job), self.folder, STAGES[-1].name))
        assert part.firmness is not None and part.firmness.loads


def row(point: np.ndarray) -> str:
    return "[" + ", ".join(f"{value:.6f}" for value in point) + "]"


def swap(old: str, new: str) -> Callable[[Desk], str]:
    """Return what puts one text in the place of another in the good job."""

    def changed(desk: Desk) -> str:
        assert old in desk.good
        return desk.good.replace(old, new, 1)

    return changed


def times(text: str, factor: float) -> str:
    return NUMBER.sub(lambda number: f"{float(number[0]) * factor:.12g}", text)


def points_times(factor: float | None) -> Callable[[Desk], str]:
    def changed(desk: Desk) -> str:
        by = desk.true_mm if factor is None else factor
        return re.sub(r"(?s)points = \[\n.*?\n\]", lambda found: times(found[0], by), desk.good)

    return changed


def ends_times(text: str, factor: float) -> str:
    return re.sub(r"(?m)^(from|to) = .*$", lambda found: times(found[0], factor), text)


def off_the_patch(desk: Desk) -> str:
    def moved(found: re.Match[str]) -> str:
        return f"point = {row(np.array([float(each) for each in found[1].split(',')]) + 0.15)}"

    return re.sub(r"(?m)^point = \[(.*)\]$", moved, desk.good)


def drawn_beside(what: str) -> Callable[[Desk], str]:
    """Return what draws a zone, a footprint or an opening 0.2 (the file's m) beside the clay, across the press."""

    def changed(desk: Desk) -> str:
        rows = re.search(r"(?s)points = \[\n(.*?)\n\]", desk.good)[1]
        points = np.array([[float(each) for each in NUMBER.findall(line)] for line in rows.splitlines()])
        press = re.search(r"press_direction = \[(.*)\]", desk.good)[1]
        across = np.cross([float(each) for each in press.split(",")], np.eye(3)[0])
        middle = points.mean(axis=0)
        size = {"zones": 1.0, "footprint": 3.5, "opening": 0.5}[what]
        moved = middle + size * (points - middle) + 0.25 * across / np.linalg.norm(across)
        drawn = "[\n" + "".join(f"    {row(point)},\n" for point in moved) + "]"
        if what == "zones":
            return desk.good.replace(f"[\n{rows}\n]", drawn)
        if what == "footprint":
            return desk.good.replace("[pad]\n", f"[pad]\nfootprint = {drawn}\n")
        return desk.good.replace("[material]", f'[[pad.reliefs]]\nkind = "opening"\npoints = {drawn}\n\n[material]')

    return changed
