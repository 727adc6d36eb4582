"""Print sheets with few and with many regions in a browser, on A4 and US Letter, and count their pages.

    .venv/bin/python scripts/look_at_sheets.py [FOLDER]

Names, settings and remarks are once short and once as long as they may be. It leaves sheets and PDFs in FOLDER (default
out/looked-at) and ends with 1 when one has other pages than it should.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np

from browser import browser_page
from padwright.core.geometry.raster import png_bytes
from padwright.core.stages.report.bed_pictures import BedPicture
from padwright.core.stages.report.setting_lines import RegionLines, setting_lines
from padwright.core.stages.report.sheet import (
    MOST_ON_FIRST,
    MOST_ON_NEXT,
    SheetParts,
    SheetRegion,
    print_sheet,
)
from padwright.core.stages.report.words_map import WordsMap

PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
COUNTS = (1, 5, 6, MOST_ON_FIRST, MOST_ON_FIRST + 1, MOST_ON_FIRST + 2 * MOST_ON_NEXT)
MATERIAL = "Generic thermoplastic polyurethane, Shore 85A"
REMARK = (
    "While it is printed, the nozzle (a drag of 0.05 N, assumed) may push the top of a wall 26 mm high and 1.33 mm "
    "wide aside by 2.2 mm, at (-153, -299, 15) mm, 32.1 mm over the bed in layer 161: print slowly."
)


def sheet(count: int, *, is_long: bool) -> bytes:
    """Return a sheet of so many regions, all settings that a region can have differing from one to the next."""
    picture = np.full((640, 640, 3), 200, dtype=np.uint8)
    seen = BedPicture(
        png_bytes(picture), 640, 640, 2.5, tuple((at, 30.0 + 40 * at, 50.0) for at in range(min(count, 15)))
    )
    name = (
        "a zone whose name is as long as the name of a zone may be: eighty characters of it, 8, "
        if is_long
        else "heel "
    )
    regions = tuple(
        SheetRegion(
            RegionLines(
                str(at),
                f"{name}{at}",
                setting_lines(_settings(at), WordsMap(), is_body_up=True, material=MATERIAL),
            ),
            "#3A8FA8",
            f"{at + 1} to 160",
            "14",
        )
        for at in range(count)
    )
    facts = (
        ("open", "A-PART-NUMBER-OF-FORTY-CHARACTERS-0123.project.3mf" if is_long else "PAD-1.project.3mf"),
        ("lies", "base side down, as in the file"), ("mirrored", "the part for the other side"),
        ("size", "261 x 218 x 38 mm"), ("bed", "300 x 300 x 300 mm"),
        ("supports", "from the bed, under what is hatched: 395 of 403 cm2, up to 9.2 mm"),
        ("temperatures", "nozzle 220 degrees C, bed 50 degrees C"), ("dry it", "8 h at 65 degrees C"),
        ("takes", "176 g, 61 m, without supports"), ("prints", "14 to 25 h"), ("costs", "4.23"),
    )  # fmt: skip
    return print_sheet(
        SheetParts(
            "Sculler seat pad" * (12 if is_long else 1),
            "A-PART-NUMBER-OF-FORTY-CHARACTERS-0123" if is_long else "PAD-1",
            "1", "2026-01-01 12:00:00 UTC", "", facts, regions, (("Brim", "none"), ("Fan", "50 %")),
            (REMARK,) * (9 if is_long else 2), "168 to 185 expected, without supports", "14 to 25 expected", seen, seen,
        )
    )  # fmt: skip


def _settings(at: int) -> dict[str, object]:
    odd = at % 2
    return {
        "material_id": "tpu_85a", "nozzle_diameter_mm": 0.4, "bead_width_mm": 0.45 + 0.01 * odd,
        "layer_thickness_mm": 0.2, "fill_structure": ("gyroid", "square_grid")[odd], "solid_share_pct": 10.3 + at,
        "contour_count": at % 4, "body_side_layer_count": 2 + odd, "base_side_layer_count": 3 + odd,
        "max_speed_mm_s": 30.0 - odd, "max_volume_flow_mm3_s": 3.0, "nozzle_temperature_degC": 225.0,
        "bed_temperature_degC": 50.0,
    }  # fmt: skip


def main(arguments: list[str]) -> int:
    """Make and print the sheets, tell their pages, and return 1 where one has too many or too few."""
    folder = Path(arguments[0]) if arguments else Path("out/looked-at")
    folder.mkdir(parents=True, exist_ok=True)
    wrong = 0
    with browser_page() as page:
        for count in COUNTS:
            wanted = 1 + -(-max(0, count - MOST_ON_FIRST) // MOST_ON_NEXT)
            for is_long in (False, True):
                path = folder / f"sheet-{count}-{'long' if is_long else 'short'}.html"
                path.write_bytes(sheet(count, is_long=is_long))
                page.open(path, 1000, 900)
                for name, paper in PAPERS.items():
                    data = page.pdf(paper)
                    path.with_suffix(f".{name}.pdf").write_bytes(data)
                    pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", data))
                    fault = "" if pages == wanted else f"  WRONG: {wanted} wanted"
                    wrong += bool(fault)
                    print(f"{path.stem:16} {name:6} {pages} page{'s' if pages > 1 else ''}{fault}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
