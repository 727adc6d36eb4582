"""How often alignment from any pose is right, offers its candidates, refuses, or is wrong without a word.

Each draw is one pair of scans in poses of its own; the cases take turns. Every other round has noise with waves of 2 to
30 mm in place of white noise. The table stands in docs/models/align.md.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from tests.support.cases import Case, make_case
from tests.support.dished_seat import make_dished_seat

import studying
from padwright.core.base.errors import SolveError
from padwright.core.base.progress import drain
from padwright.core.geometry.frames import motion_between
from padwright.core.stages.alignment.align import align_scans
from padwright.core.stages.alignment.candidates import UnsurePoseError

TRIANGLES = 15_000  # of each scan: a third of a real one's points a cell, and as many seconds less
RIGHT_MM = 1.0
"""A pose within this of the true one, mean distance over the impression, is that pose; the next ones lie 14 mm off and
more. What noise leaves is smaller (scripts/study_pose_errors.py)."""

WAVES = (2.0, 30.0)


def _plain(kind: str) -> Callable[[int], Case]:
    def made(seed: int) -> Case:
        waves = WAVES if seed % 2 and kind != "nose_pad" else None
        return make_case(kind, seed=seed, triangles=TRIANGLES, wave_mm=waves, debris=False, turntable=False)

    return made


CASES: dict[str, Callable[[int], Case]] = {
    "hexagonal handle": _plain("hexagonal_grip"),
    "made seat": _plain("seat"),
    "made insole": _plain("insole"),
    "made grip": _plain("grip"),
    "made liner on a shell": _plain("liner"),
    "nose pad": _plain("nose_pad"),
    "board, one screw head": _plain("keyed_board"),
    "round handle": _plain("round_grip"),
    "square handle": _plain("square_grip"),
    "dished seat, 0.6 mm, waves": lambda seed: make_dished_seat(seed),
}


@dataclass
class Tally:
    """What came of a case's draws."""

    right: int = 0
    first: int = 0
    among: int = 0
    not_among: int = 0
    refused: int = 0
    wrong: list[int] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)

    def add(self, case: Case, seed: int) -> None:
        """Align one draw."""

        def error(matrix: np.ndarray) -> float:
            return motion_between(matrix, case.impression_to_base, case.impression_mm.vertices)

        try:
            found = drain(align_scans(case.base_mm, case.impression_mm))
        except UnsurePoseError as unsure:
            true = [each.number for each in unsure.candidates if error(each.matrix) < RIGHT_MM]
            self.first += true[:1] == [1]
            self.among += bool(true) and true[0] > 1
            self.not_among += not true
        except SolveError:
            self.refused += 1
        else:
            self.errors.append(error(found.matrix))
            if self.errors[-1] < RIGHT_MM:
                self.right += 1
            else:
                self.wrong.append(seed)

    def row(self) -> tuple[str, ...]:
        """Return the table's cells after the name."""
        worst = f"{max(self.errors):.2f}" if self.errors else "-"
        counts = (self.right, self.first, self.among, self.not_among, self.refused, len(self.wrong))
        return (*map(str, counts), worst)


def study(draws: range) -> studying.Finding:
    """Align draw k: case k modulo their number, with the seed k over their number."""
    names = list(CASES)
    tallies = {name: Tally() for name in names}
    for draw in draws:
        name, seed = names[draw % len(names)], draw // len(names)
        tallies[name].add(CASES[name](seed), seed)
        if draw % 50 == 49:
            print(*((name, *tally.row()) for name, tally in tallies.items()), sep="\n", file=sys.stderr, flush=True)
    wrong = {name: tally.wrong for name, tally in tallies.items() if tally.wrong}
    head = ("case", "right", "offered, true one first", "offered, not first", "offered, not there", "refused", "wrong",
            "worst error taken, mm")  # fmt: skip
    return studying.Finding(
        head,
        tuple((name, *tally.row()) for name, tally in tallies.items()),
        ((f"no wrong pose is taken; wrong were the seeds {wrong}", not wrong),),
    )


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=2000, sample=6))
