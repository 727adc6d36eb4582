"""Settings, 3MF, STL and evidence of a run agree, whatever the job."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.documents import check_documents, read_model
from tests.support.flat_pads import flat_job, flat_tables, rectangle

from padwright.core.base.errors import InputError, PadwrightError
from padwright.core.base.estimate import Estimate
from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.pipeline import pack_part, run_job
from padwright.core.stages.packing.thumbnail import firmness_color


@pytest.mark.parametrize("seed", range(12))
def test_a_flat_pad_from_an_own_envelope_is_written_wherever_it_lies(tmp_path, seed):
    """Its faces move as a whole when coordinates are rounded, so volumes before and after differ by more than noise."""
    rng = np.random.default_rng(seed)
    size = (rng.uniform(40, 150), rng.uniform(40, 110), rng.uniform(5, 20))
    result = drain(run_job(flat_job(tmp_path, size, tuple(rng.uniform(-300, 300, 3))), tmp_path))
    check_documents(result.files, result.evidence)


def test_bounds_hold_their_value_to_the_last_digit():
    exact = 0.1 + 0.2
    assert Estimate(exact, 0.1, 0.3, "model").high == exact
    assert Estimate(1.0, 1.0 + 2**-52, 2.0, "model").low == 1.0


def test_what_was_changed_or_left_out_is_told_in_the_summary_and_the_evidence(tmp_path):
    part = {"name": "Flat pad", "number": "FLAT-1", "family": "seat_pad", "mirror": True}
    tables = flat_tables(tmp_path, (80.0, 60.0, 10.0), (0.0, 0.0, 0.0), part=part)
    tables |= {"coupons": {"make": True}, "output": {"layout": "items"}}
    result = drain(run_job(job_from_tables(tables), tmp_path))
    document = check_documents(result.files, result.evidence)
    assert "mirrored" in document["part"] and "mirrored: this is the part for the other side" in result.summary[0]
    shown = " ".join(" ".join(result.summary).split())
    notes = result.evidence["notes"]
    assert len(notes) == 3
    for note, words in zip(notes, ("coupons", "output.layout", "The part is mirrored"), strict=True):
        assert words in note and f"Note: {note}" in shown
    selection = drain(run_job(job_from_tables(tables), tmp_path, ["rest"]))
    shown = " ".join(" ".join(selection.summary).split())
    assert all(f"Note: {note}" in shown for note in notes)


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"part": {"name": "a", "number": "1", "family": "seat_pad", "revision": "r" * 41}}, "40 are the most"),
        ({"zones": [{"name": "z" * 81, "level": 2, "source": "rest"}]}, "80 are the most"),
        ({"material": {"card": "tpu_85a", "max_volume_flow_mm3_s": 1e-9}}, "a number from 0.1 to 200"),
        ({"material": {"card": "tpu_85a", "density_g_cm3": 1e-9}}, "a number from 0.1 to 5"),
        ({"printer": {"max_speed_mm_s": 1e-9}}, "a number from 0.1 to 1000"),
    ],
)
def test_what_the_documents_cannot_hold_is_refused_where_it_is_read(tmp_path, tables, words):
    with pytest.raises(InputError, match=words):
        job_from_tables(flat_tables(tmp_path, (80.0, 60.0, 10.0), (0.0, 0.0, 0.0), **tables))


def test_the_most_that_a_job_may_say_fits_into_the_documents(tmp_path):
    at = (0.0, 0.0, 0.0)
    part = {"name": "\"n' <&>" * 28, "number": "N" * 40, "family": "seat_pad", "revision": "r" * 40, "note": "o" * 500}
    zones = [
        {"name": "a" * 80, "level": 4, **rectangle(at, 30.0, 20.0)},
        {"name": "b" * 80, "level": 1, "source": "rest"},
    ]
    tables = flat_tables(tmp_path, (90.0, 70.0, 10.0), at, part=part, zones=zones)
    tables |= {
        "blend": {"steps": 2, "width_mm": 12.0},
        "material": {"card": "tpu_85a", "max_volume_flow_mm3_s": 0.1},
        "printer": {
            "bead_width_mm": 5.0,
            "layer_thickness_mm": 2.0,
            "max_speed_mm_s": 0.1,
            "nozzle_mm": 3.0,
            "filament_diameter_mm": 3.5,
        },
        "load": {"force_n": 50.0, "posture": "p" * 500},
    }
    result = drain(run_job(job_from_tables(tables), tmp_path))
    document = check_documents(result.files, result.evidence)
    assert all(0.0 < region["settings"]["max_speed_mm_s"] <= 0.1 for region in document["regions"])


def random_tables(folder, rng):
    """Return the tables of a job with random zones, blends, load, goal, contact and output."""
    at = tuple(rng.uniform(-200, 200, 3))
    size = (rng.uniform(80, 150), rng.uniform(70, 120), rng.uniform(6, 22))
    zones = []
    is_tuned = rng.random() < 0.4
    for number in range(1 if is_tuned else int(rng.integers(1, 4))):  # tuning many zones takes long
        width, depth = rng.uniform(0.15, 0.6, 2) * size[:2]
        middle = (at[0] + rng.uniform(-0.3, 0.3) * size[0], at[1] + rng.uniform(-0.3, 0.3) * size[1], at[2])
        level = float(rng.choice([1.0, 1.7, 2.0, 3.0, 3.4, 4.0]))
        zones.append({"name": f"zone {number}", "level": level, **rectangle(middle, width, depth)})
    zones.append({"name": "rest", "level": float(rng.choice([1.0, 2.0, 3.0])), "source": "rest"})
    more = {"blend": {"steps": int(rng.integers(0, 2 if is_tuned else 3)), "width_mm": rng.uniform(4.0, 10.0)}}
    if is_tuned or rng.random() < 0.7:
        more["load"] = {"force_n": float(rng.choice([40.0, 150.0, 400.0]))}
    if is_tuned:
        more["target"] = [{"goal": "even"}, {"goal": "relieve", "relieve": ["zone 0"]}][int(rng.integers(0, 2))]
    if rng.random() < 0.3:
        more["regions"] = {"contact": "overlapping", "overlap_mm": 0.3}
    part = {"name": "Any", "number": "ANY-1", "family": "seat_pad", "mirror": bool(rng.random() < 0.3)}
    more["output"] = {"color_by_level": bool(rng.random() < 0.8), "stl": bool(rng.random() < 0.8), "thumbnail": False}
    return flat_tables(folder, size, at, part=part, zones=zones) | more


@pytest.mark.parametrize("seed", range(10))
def test_the_documents_of_any_job_agree(tmp_path, seed):
    rng = np.random.default_rng(seed)
    tables = random_tables(tmp_path, rng)
    try:
        result = drain(run_job(job_from_tables(tables), tmp_path))
    except PadwrightError as error:  # zones that cover each other, a load too great: told in words of the job
        assert error.hint and "document" not in error.message
        return
    document = check_documents(result.files, result.evidence)
    family = result.part.family
    is_tuned = "target" in tables
    reached = {each["name"]: each["reached_kPa"] for each in result.evidence["settings"]["zones"]}
    for region in document["regions"]:
        name = max((name for name in reached if region["name"].startswith(name)), key=len)
        assert region["tuned"] == is_tuned
        target = family.target_modulus_kpa(region["firmness_level"])
        ends = [family.target_modulus_kpa(level) for level in (1.0, 4.0)]
        # A level is told to a hundredth, or is the one wished for, met within 10 %.
        assert target == pytest.approx(float(np.clip(reached[name], *ends)), rel=0.101)
    some = [region["id"] for region in document["regions"]][: int(rng.integers(1, 3))]
    selection = drain(pack_part(result.part, some))
    part = check_documents(selection.files, selection.evidence)
    whole = {region["id"]: region for region in document["regions"]}
    for region in part["regions"]:
        same = whole[region["id"]]
        assert region["geometry"]["mesh_sha256"] == same["geometry"]["mesh_sha256"]
        assert region["settings"] == same["settings"] and region["firmness_level"] == same["firmness_level"]


def test_after_tuning_levels_colors_and_settings_are_those_of_what_is_printed(tmp_path):
    at = (0.0, 0.0, 0.0)
    zones = [
        {"name": "firm", "level": 4, **rectangle(at, 50.0, 40.0)},
        {"name": "rest", "level": 2, "source": "rest"},
    ]
    tables = flat_tables(tmp_path, (110.0, 90.0, 16.0), at, zones=zones)
    tables |= {"blend": {"steps": 0, "width_mm": 5.0}, "load": {"force_n": 60.0}, "target": {"goal": "even"}}
    tables["body"] = {**tables["body"], "rigid": True}  # flesh leaves too little between the zones to be worth a change
    plain = {name: value for name, value in tables.items() if name != "target"}
    tuned, untuned = (drain(run_job(job_from_tables(each), tmp_path)) for each in (tables, plain))
    document = check_documents(tuned.files, tuned.evidence)
    before = check_documents(untuned.files, untuned.evidence)
    firm, was = document["regions"][0], before["regions"][0]
    assert firm["wished_level"] == was["wished_level"] == was["firmness_level"] == 4.0
    assert firm["tuned"] and not was["tuned"]
    # The firm zone of a flat pad under a flat body has to come near the soft one to bear evenly.
    assert firm["firmness_level"] < 3.0
    colors = [read_model(each.files["FLAT-1.project.3mf"])[0][0]["color"] for each in (tuned, untuned)]
    assert colors[0] == firmness_color(firm["firmness_level"], [x["display_color"] for x in document["firmness_scale"]])
    assert colors[0] != colors[1]
    assert f"(level {firm['firmness_level']:.3g}, wished 4)" in " ".join(" ".join(tuned.summary).split())


def test_names_that_meet_those_of_pieces_and_steps_stay_apart(tmp_path):
    """Two rectangles of one zone make "rest 1" and "rest 2" of what is left; other zones may be called so already."""
    at = (0.0, 0.0, 0.0)
    zones = [
        {"name": "rest 1", "level": 3, **rectangle((-30.0, 0.0, 0.0), 10.0, 10.0)},
        {"name": "band to rest 1", "level": 3, **rectangle((30.0, 0.0, 0.0), 12.0, 12.0)},
        {"name": "band", "level": 1, **rectangle(at, 20.0, 140.0)},
        {"name": "rest", "level": 3, "source": "rest"},
    ]
    blend = {"steps": 0, "width_mm": 4.0, "between": [{"zones": ["band", "rest"], "steps": 1, "width_mm": 5.0}]}
    result = drain(
        run_job(job_from_tables(flat_tables(tmp_path, (110.0, 80.0, 10.0), at, zones=zones, blend=blend)), tmp_path)
    )
    document = check_documents(result.files, result.evidence)
    for names in (
        [region["name"] for region in document["regions"]],
        [region["id"] for region in document["regions"]],
        [zone["name"] for zone in result.evidence["zones"]],
    ):
        assert len(set(names)) == len(names)
    assert len(document["regions"]) == 7  # four zones, "rest" and its step to either side in two pieces
