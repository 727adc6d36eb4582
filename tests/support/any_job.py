"""Any job that obeys the rules between keys, drawn at random."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import strategies as st

from padwright.core.job.keys import Key, keys_of
from padwright.core.job.schema import FAMILIES, STRUCTURES, Job

TEXT = st.text(st.characters(exclude_categories=("C", "Z")) | st.just(" "), min_size=1, max_size=20).filter(
    lambda text: text.strip() and text.isprintable()
)
NUMBER = st.floats(-1e6, 1e6)
POINT = st.lists(NUMBER, min_size=3, max_size=3)


def number(key: Key) -> st.SearchStrategy[float]:
    low = -1e6 if key.low is None else key.low
    high = 1e6 if key.high is None else key.high
    whole = st.integers(math.ceil(low) + (1 if key.above else 0), math.floor(high))
    return st.floats(low, high, exclude_min=key.above) | whole


def value(key: Key) -> st.SearchStrategy[Any]:
    least, most = key.count
    most = min(most, least + 3)
    if key.kind == "table":
        return table(key.table)
    if key.kind == "tables":
        return st.lists(table(key.table), min_size=least, max_size=most)
    if key.kind == "texts":
        return st.lists(st.sampled_from(key.choices) if key.choices else TEXT, min_size=least, max_size=most)
    return {
        "number": number(key),
        "integer": st.integers(int(key.low or 0), int(key.high or 0)),
        "flag": st.booleans(),
        "text": TEXT,
        "slug": st.from_regex(r"P[A-Za-z0-9_-]{0,39}", fullmatch=True),
        "choice": st.sampled_from(key.choices or ("",)),
        "file": TEXT,
        "folder": TEXT,
        "color": st.from_regex(r"#[0-9a-fA-F]{6}", fullmatch=True),
        "point": POINT,
        "points": st.lists(POINT, min_size=least, max_size=most),
        "direction": POINT.filter(lambda point: 1e-3 < math.hypot(*point) < 1e6),
        "press": st.sampled_from(["auto", "inward"]) | POINT.filter(lambda point: 1e-3 < math.hypot(*point) < 1e6),
        "numbers": st.lists(number(key), min_size=least, max_size=most),
    }[key.kind]


def table(kind: type) -> st.SearchStrategy[dict[str, Any]]:
    """Any table of a kind, each key that has a default there or not."""
    must, may = {}, {}
    for name, (_, key, default) in keys_of(kind).items():
        needed = type(default).__name__ == "_MISSING_TYPE" and not key.card and key.kind != "table"
        (must if needed else may)[name] = value(key)
    return st.fixed_dictionaries(must, optional=may)


ZONE_SOURCES = st.one_of(
    st.just({"source": "load_centers"}),
    st.floats(0.5, 400).map(lambda radius: {"source": "load_centers", "radius_mm": radius}),
    st.tuples(st.floats(-300, -1), st.floats(1, 300)).map(
        lambda ends: {"source": "imprint_depth", "from_mm": ends[0], "to_mm": ends[1]}
    ),
    st.floats(-300, 300).map(lambda end: {"source": "imprint_depth", "to_mm": end}),
    st.lists(POINT, min_size=3, max_size=5).map(lambda points: {"source": "outline", "points": points}),
    st.just({"source": "color_marks", "color": "#Ff0000"}),
    TEXT.map(lambda file: {"source": "weights", "file": file}),
    st.tuples(TEXT, POINT, POINT).map(
        lambda grid: {
            "source": "pressure_grid",
            "file": grid[0],
            "places": [{"cell": [0, 0], "point": grid[1]}, {"cell": [3, 7], "point": grid[2]}],
            "from_kpa": 5,
        }
    ),
)


def _obey_mat(job: dict[str, Any]) -> None:
    """Let the keys of a mat go with each other: what says twice how it lies or what its numbers are goes."""
    mat = job.get("mat", {})
    if job.get("body", {}).get("press_direction", "inward") == "inward":  # as some families have it
        mat.pop("file", None)
    if mat.get("unit", "raw") != "raw":
        mat.pop("kpa_per_unit", None)
    if mat.get("frames", "mean") != "one":
        mat.pop("frame", None)
    else:
        mat.setdefault("frame", 1)
    if "sheet_mm" in mat:
        mat.pop("dpi", None)
    else:
        mat.pop("sheet_corners", None)
    for place in mat.get("places", ()):
        told = [name for name in ("cell", "at_mm", "pixel") if name in place]
        for name in told[1:]:
            place.pop(name)
        if not told:
            place["cell"] = [0.0, 0.0]
    if "places" in mat:
        mat.pop("pose", None)
        mat.pop("laid", None)
    elif mat.get("laid") == "places":
        mat["laid"] = "auto"


def _obey_body(job: dict[str, Any]) -> None:
    """Let a job without a scan of clay have what virtual clay needs; one without any scan of a body names clay."""
    impression, body = job["impression"], job.setdefault("body", {})
    if "scan" not in impression and "scan" not in body:
        impression["scan"] = "clay.ply"
    if "scan" in impression:
        return
    impression["clay_thickness_mm"] = 300
    impression["pressed_with_n"] = 100
    if "imprint_depth_mm" in impression:
        impression["imprint_depth_mm"] = min(impression["imprint_depth_mm"], 299)
        impression.pop("clay_strength_kpa", None)
    if body.get("press_direction", "inward") == "inward":
        body["press_direction"] = "auto"


@st.composite
def jobs(draw: st.DrawFn) -> dict[str, Any]:
    """Draw the tables of a job that obeys the rules between keys."""
    job = draw(table(Job))
    job["schema"] = 1
    job["part"] = draw(value(keys_of(Job)["part"][1]))
    job["part"]["family"] = draw(st.sampled_from(FAMILIES))
    job["part"]["certified_gear"] = False
    job["base"] = draw(value(keys_of(Job)["base"][1]))
    job["impression"] = draw(value(keys_of(Job)["impression"][1]))
    if draw(st.booleans()):
        job["impression"].pop("check_lengths", None)
    else:
        job["impression"].pop("scale", None)
    if "pairs" in job.get("alignment", {}):
        job["alignment"].pop("pose", None)
    if "load_center_count" in job["impression"]:
        job["impression"]["load_center_count"] = sorted(int(count) for count in job["impression"]["load_center_count"])
    for index, mark in enumerate(job["impression"].get("load_centers", ())):
        mark["name"] = f"center {index}"
    _obey_body(job)
    for scan in ("base", "impression", "body"):
        for index, length in enumerate(job[scan].get("check_lengths", ())):
            length["plus_minus_mm"] = length["measured_mm"] / 7
            length["to"] = [length["from"][0] + 1.0 + index, *length["from"][1:]]
            if length["plus_minus_mm"] > 100 or length["plus_minus_mm"] == 0:
                length |= {"measured_mm": 100, "plus_minus_mm": 0.5}
    names = draw(st.lists(TEXT, min_size=1, max_size=4, unique=True))
    job["zones"] = [{"name": name, "level": draw(st.floats(1, 4)), **draw(ZONE_SOURCES)} for name in names]
    if draw(st.booleans()):
        job["zones"].append({"name": "all that is left", "level": 2, "source": "rest"})
    if draw(st.booleans()):
        del job["zones"]
    job.setdefault("blend", {}).pop("between", None)
    if "zones" in job and len(job["zones"]) > 1:
        job["blend"]["between"] = [{"zones": [zone["name"] for zone in job["zones"][:2]], "steps": 2}]
    job.setdefault("target", {}).pop("relieve", None)
    job["target"].pop("caps", None)
    job.setdefault("load", {}).pop("force_n", None)
    for case in job["load"].get("cases", ()):
        if "force_n" in case:
            case.pop("share", None)
        press = job.get("body", {}).get("press_direction", "inward")
        if isinstance(press, str):
            case.pop("direction", None)
        elif "direction" in case:
            case["direction"] = press
    printer = job.get("printer", {})
    if printer.get("nozzle_mm", 0.0) >= printer.get("filament_diameter_mm", 1.75):
        printer["nozzle_mm"] = 0.9  # the least filament is 1 mm
    if len(job.get("datum", {}).keys() - {"symmetric"}) != 3:
        job["datum"] = {"symmetric": draw(st.booleans())}
    else:
        job["datum"].pop("symmetric", None)
    for relief in job.get("pad", {}).get("reliefs", ()):
        if relief["kind"] == "opening":
            relief["points"] = draw(st.lists(POINT, min_size=3, max_size=4))
            relief.pop("width_mm", None)
            relief.pop("depth_mm", None)
        else:
            relief |= {"width_mm": 20, "depth_mm": 4.5}
    if job.get("body", {}).get("press_direction") == "inward":
        job.get("pad", {}).pop("footprint", None)
    _obey_mat(job)
    limits = job.get("limits", {})
    if "solid_share_pct" in limits:
        limits["solid_share_pct"].sort()
    if "contour_counts" in limits:
        limits["contour_counts"] = sorted(int(count) for count in limits["contour_counts"])
    if "fill_structures" in limits:
        limits["fill_structures"] = [STRUCTURES[1]]
    return job
