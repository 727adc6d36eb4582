"""Draw the pictures of docs/start.md from the demo's own shapes: `python scripts/start_pictures.py [FOLDER]`.

Needs matplotlib, which is no part of the locked environments. Each picture is a function in PICTURES and goes to
docs/images/<name>.png, or into another folder.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "addon"), str(ROOT / "scripts")]

BASE, CLAY, BODY, INK, GREY, RED = "#9aa4ab", "#d9b48f", "#e9d3c9", "#23303a", "#6b7880", "#b5442e"
ON_WHITE = {"facecolor": "white", "edgecolor": "none", "pad": 1, "alpha": 0.85}
AT = 24.0  # the section through both sit bones, mm behind the middle


def _section(axes: Any) -> tuple[Any, np.ndarray, np.ndarray]:
    """Draw the bare seat in section through both sit bones and return the part, x and the base's heights."""
    from demo_shapes import seat_part

    part = seat_part()
    x = np.linspace(-148.0, 148.0, 1481)
    base = part.base(x, np.full_like(x, AT))
    axes.fill_between(x, base, -14.0, color=BASE, linewidth=0)
    axes.plot(x, base, color=INK, linewidth=1.2)
    axes.set(xlim=(-240, 240), aspect="equal")
    axes.axis("off")
    return part, x, base


def _say(axes: Any, text: str, at: tuple[float, float], to: tuple[float, float], **how: Any) -> None:
    axes.annotate(
        text, to, at, fontsize=8.5, color=INK, va="center",
        arrowprops={"arrowstyle": "-", "color": GREY, "linewidth": 0.8, "shrinkA": 1, "shrinkB": 0}, **how,
    )  # fmt: skip


def start_clay(figure: Any) -> None:
    """Draw the clay as it is laid: even, between laths, film over it, a bare rim around it."""
    axes = figure.subplots()
    part, x, base = _section(axes)
    clay = part.undisturbed(x, np.full_like(x, AT))
    is_clay = np.isfinite(clay)
    axes.fill_between(x[is_clay], clay[is_clay], base[is_clay], color=CLAY, linewidth=0)
    axes.plot(x[is_clay], clay[is_clay], color=INK, linewidth=1.0)
    axes.plot(x[is_clay], clay[is_clay] + 2.5, color=RED, linewidth=1.0, linestyle=(0, (5, 2)))
    axes.annotate("", (0, clay[740]), (0, base[740]), arrowprops={"arrowstyle": "<->", "color": INK, "linewidth": 1.0})
    axes.text(4, 16, "the same everywhere,\nmeasured: 30 mm", fontsize=8.5, color=INK, va="center")
    _say(axes, "thin film over the clay", (-100, 58), (-60, 34), ha="center")
    _say(axes, "bare rim all around,\na finger wide", (-190, 30), (-136, 4), ha="center")
    _say(axes, "the hard base,\nas it will be used", (198, -8), (140, -4), ha="center")
    _say(axes, "film under the clay too,\nif it sticks", (192, 30), (95, 1), ha="center")
    axes.set_ylim(-20, 68)


def start_press(figure: Any) -> None:
    """Draw the body in the clay: straight down, deep at the bones, clay left below them, squeezed up beside."""
    axes = figure.subplots()
    part, x, base = _section(axes)
    still = np.full_like(x, AT)
    clay, body = part.clay(x, still), part.body(x, still)
    is_clay = clay > base
    axes.fill_between(x, np.minimum(body, 92.0), 92.0, where=body < 92.0, color=BODY, linewidth=0)
    axes.fill_between(x[is_clay], clay[is_clay], base[is_clay], color=CLAY, linewidth=0)
    axes.plot(x[is_clay], clay[is_clay], color=INK, linewidth=1.0)
    for at in (-58.0, 58.0):
        axes.annotate("", (at, 26), (at, 78), arrowprops={"arrowstyle": "-|>", "color": RED, "linewidth": 2.0})
    _say(axes, "straight down, once,\nin the posture of use", (0, 80), (57, 66), ha="center")
    left = float(np.interp(-58.0, x, clay) - np.interp(-58.0, x, base))
    _say(
        axes,
        f"clay left under the bones:\n5 mm or more (here {left:.0f} mm)",
        (-188, 66),
        (-58, base[450] + 4),
        ha="center",
    )
    rim = int(np.argmax(np.where(is_clay & (x > 0), clay, -1e9)))
    _say(axes, "clay that rose beside\nthe body stays", (196, 66), (float(x[rim]), float(clay[rim])), ha="center")
    axes.set_ylim(-20, 94)


def start_marks(figure: Any) -> None:
    """Draw the seat from above: marks on the bare base, lengths between them, and where clay lies."""
    from demo_shapes import SEAT_BONES, SEAT_SCREWS, seat_part

    part = seat_part()
    axes = figure.subplots()
    loop = np.vstack([part.outline, part.outline[:1]])
    axes.fill(*loop.T, color=BASE)
    axes.plot(*loop.T, color=INK, linewidth=1.2)
    x, y = np.meshgrid(np.linspace(-150, 150, 601), np.linspace(-125, 125, 501))
    axes.contourf(x, y, np.isfinite(part.undisturbed(x, y)).astype(float), [0.5, 1.5], colors=[CLAY])
    for number, at in enumerate(SEAT_SCREWS):
        axes.plot(*at, "o", color="white", markeredgecolor=INK, markersize=7)
        axes.text(at[0], at[1] - 11, "ABCD"[number], ha="center", va="center", fontsize=8, color=INK)
    for first, second, color in ((0, 1, RED), (1, 3, RED), (0, 3, RED)):
        ends = np.array([SEAT_SCREWS[first], SEAT_SCREWS[second]])
        length = float(np.linalg.norm(ends[1] - ends[0]))
        axes.plot(*ends.T, color=color, linewidth=1.3)
        where = ends[0] + 0.5 * (ends[1] - ends[0])
        said = f"{'ABCD'[first]}-{'ABCD'[second]} {length:.0f} mm"
        axes.text(where[0], where[1] + 6, said, color=color, fontsize=8.5, ha="center", bbox=ON_WHITE)
    for at in SEAT_BONES:
        axes.plot(*at, "+", color=INK, markersize=11, markeredgewidth=1.4)
    axes.annotate("", SEAT_BONES[0], SEAT_BONES[1], arrowprops={"arrowstyle": "<->", "color": INK, "linewidth": 1.0})
    axes.text(0, 34, "between the sit bones, by hand", fontsize=8.5, ha="center", color=INK, bbox=ON_WHITE)
    _say(axes, "marks on the bare rim:\nscrews, corners, pen crosses", (-245, -60), (-118, -92), ha="center")
    _say(axes, "lengths in different\ndirections, one as long\nas the part", (245, -20), (117, -20), ha="center")
    _say(axes, "a notch or corner left bare\ntells left from right", (0, 150), (0, 96), ha="center")
    axes.set(xlim=(-320, 320), ylim=(-130, 165), aspect="equal")
    axes.axis("off")


def start_scan(figure: Any) -> None:
    """Draw the scanning: the part still, on a table with a pattern, soft light from two sides, rings of views."""
    from demo_shapes import seat_part

    part = seat_part()
    axes = figure.subplots()
    rng = np.random.default_rng(4)
    at = rng.uniform(-250, 250, (260, 2))
    for place, size in zip(at, rng.uniform(6, 22, len(at)), strict=True):
        axes.add_patch(_patch(place, size, "#e7e5de" if size < 14 else "#d2d6d4"))
    loop = np.vstack([part.outline, part.outline[:1]])
    axes.fill(*loop.T, color=BASE)
    axes.plot(*loop.T, color=INK, linewidth=1.2)
    for radius, count, size in ((330.0, 20, 7), (250.0, 14, 6)):
        angle = np.arange(count) / count * 2.0 * np.pi
        spot = radius * np.column_stack([np.cos(angle), np.sin(angle)])
        axes.plot(*spot.T, "^", color=INK, markersize=size, alpha=0.85)
        for one in spot:
            axes.plot(*np.array([one, one * (radius - 34) / radius]).T, color=GREY, linewidth=0.7)
    for side in (-1.0, 1.0):
        axes.add_patch(_patch(np.array([side * 470.0, 120.0]), 70.0, "#fff3c4"))
        axes.text(side * 470.0, 120.0, "soft\nlight", ha="center", va="center", fontsize=8.5, color=INK)
    _say(
        axes,
        "a low and a high ring of views,\neach seeing half of the last",
        (-430, -250),
        (-250, -215),
        ha="center",
    )
    _say(axes, "newspaper: a dull table with\na pattern that does not move", (420, -260), (190, -170), ha="center")
    _say(axes, "nothing moves: walk around it,\nor turn part and paper together", (0, 400), (40, 118), ha="center")
    axes.set(xlim=(-600, 600), ylim=(-370, 430), aspect="equal")
    axes.axis("off")


def _patch(place: np.ndarray, size: float, color: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle(tuple(place - size / 2), size, size, facecolor=color, edgecolor="none")


PICTURES: dict[str, tuple[Callable[[Any], None], tuple[float, float]]] = {
    "start_clay": (start_clay, (7.6, 2.0)),
    "start_press": (start_press, (7.6, 2.5)),
    "start_marks": (start_marks, (7.6, 3.7)),
    "start_scan": (start_scan, (7.6, 5.2)),
}


def main(arguments: list[str]) -> int:
    """Draw all pictures."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib.figure import Figure

    folder = Path(arguments[0]) if arguments else ROOT / "docs" / "images"
    for name, (draw, size) in PICTURES.items():
        figure = Figure(figsize=size, dpi=110)
        draw(figure)
        figure.subplots_adjust(0.0, 0.0, 1.0, 1.0)
        figure.savefig(folder / f"{name}.png", metadata={"Software": None})
        print(folder / f"{name}.png")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
