"""Files enlarged for shrinkage: larger on the bed, true to size in all else, and told."""

from __future__ import annotations

import io
import re
import zipfile

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.estimate import Estimate
from padwright.core.base.notes import Weight, weight_of
from padwright.core.geometry.frames import rotations_from_vectors
from padwright.core.job.read import parse_job
from padwright.core.run.compare_printed import corrected_text
from padwright.core.run.compare_words import shrinkage_words
from padwright.core.stages.compare.correct import corrections, weighed
from padwright.core.stages.compare.records import Shrinkage
from padwright.core.stages.compare.scale import PrintLength, ScanLength, longest_way, told_sizes
from padwright.core.stages.packing.stl import write_stl
from padwright.core.stages.packing.threemf import PartSheet, to_bed_matrix, write_threemf
from padwright.core.stages.printing.enlarged import bed_scale
from padwright.core.stages.regions.bodies import RegionBody, rounded_counts
from padwright.core.stages.scans.read import read_scan
from support.pad_shapes import box_pad

BOX = box_pad((40.0, 30.0, 10.0), 2.0).mesh
BODY = RegionBody("rest", "rest", 2.0, rounded_counts(BOX.vertices), BOX.faces)
TURN = rotations_from_vectors(np.array([0.2, -0.4, 0.9]))
SHEET = PartSheet("Pad", "PAD-1", "TPU", "2026-01-31T12:00:00Z", "Padwright")


def test_a_print_that_shrinks_by_what_the_files_are_enlarged_for_comes_out_true() -> None:
    shrinkage = (1.2, 0.8, -0.3)
    assert bed_scale(shrinkage) * (1.0 - np.array(shrinkage) / 100.0) == pytest.approx(np.ones(3), abs=1e-12)
    assert bed_scale(None) == pytest.approx(np.ones(3))


def test_an_stl_is_enlarged_along_the_bed_s_axes_and_its_normals_stay_square() -> None:
    to_bed, scale = to_bed_matrix([BODY], TURN), bed_scale((2.0, 1.0, 0.0))
    true = read_scan(write_stl(BODY, "PAD-1", to_bed), "a.stl").mesh
    data = write_stl(BODY, "PAD-1", to_bed, scale)
    made = read_scan(data, "a.stl").mesh
    assert np.ptp(made.bounds, axis=0) == pytest.approx(np.ptp(true.bounds, axis=0) * scale, abs=1e-3)
    facet = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    facets = np.frombuffer(data[84:], dtype=facet)
    edge = facets["corners"][:, 1] - facets["corners"][:, 0]
    # Single floats of a place 50 mm off are good to 4e-6 mm, of edges 1 mm long.
    assert np.abs(np.einsum("nk,nk->n", edge, facets["normal"])).max() < 1e-3


def test_a_3mf_keeps_its_shapes_and_enlarges_them_by_its_transform() -> None:
    to_bed, scale = to_bed_matrix([BODY], TURN), bed_scale((2.0, 1.0, 0.5))
    texts = []
    for each in (None, scale):
        data = write_threemf([BODY], SHEET, sidecar=b"{}", to_bed=to_bed, bed_scale=each)
        texts.append(zipfile.ZipFile(io.BytesIO(data)).read("3D/3dmodel.model").decode())
    found = [
        np.array(re.findall(r'transform="([^"]+)"', text)[0].split(), dtype=float).reshape(4, 3).T for text in texts
    ]
    assert found[1] == pytest.approx(np.diag(scale) @ found[0], abs=1e-6)
    assert texts[0].split("<build")[0] == texts[1].split("<build")[0]


def shrinkage(name: str, value: float, error: float, *, is_measured: bool = True) -> Shrinkage:
    half = 1.645 * error
    found = Estimate(value, value - half, value + half, "measured")
    return Shrinkage(name, np.eye(3)["xyz".index(name)], found, found, error, is_measured)


def test_what_is_not_clear_is_not_corrected() -> None:
    unclear = [shrinkage("x", 0.15, 0.1), shrinkage("y", -0.1, 0.1), shrinkage("z", 3.0, 2.0, is_measured=False)]
    assert corrections(unclear, weighed(180.0, 1.0, Estimate(176.0, 168.0, 185.0, "model")), None, 100.0) == ((), ())


def test_what_was_corrected_before_is_added_to() -> None:
    clear = [shrinkage("x", 1.0, 0.05), shrinkage("y", 0.0, 0.05), shrinkage("z", 0.0, 0.05)]
    (found,), _ = corrections(clear, None, (1.0, 0.5, 0.0), 100.0)
    # 1 % beyond 1 %: the print is 0.99 times 0.99 of what a file without a correction asked for.
    assert found.value == [pytest.approx(100.0 * (1.0 - 0.99**2), abs=0.01), 0.5, 0.0]


def test_axes_that_cannot_be_told_apart_get_one_value() -> None:
    alike = [shrinkage("x", 1.05, 0.1), shrinkage("y", 0.95, 0.1), shrinkage("z", 0.0, 0.1)]
    (found,), _ = corrections(alike, None, None, 100.0)
    assert found.value == [pytest.approx(1.0), pytest.approx(1.0), 0.0]
    # sqrt(2) times 0.1
    assert "x and y, +1.05 and +0.95 %, cannot be told apart (0.14) and get what they have in common" in found.why


def test_axes_whose_errors_are_shared_are_told_apart_all_the_same() -> None:
    apart = [shrinkage("x", 1.0, 0.15), shrinkage("y", 0.8, 0.15), shrinkage("z", 0.0, 0.1)]
    # Most of both errors is that of the one length by hand: their difference is good to 0.063, a third of 0.2.
    covariance = np.diag([0.002, 0.002, 0.01]) + 0.15**2 - 0.002
    assert corrections(apart, None, None, 100.0)[0][0].value == [0.9, 0.9, 0.0]
    (found,), _ = corrections(apart, None, None, 100.0, covariance)
    assert found.value == [1.0, 0.8, 0.0]
    assert "told apart" not in found.why


@pytest.mark.parametrize("off", [7.0, -4.0, 3.2])
def test_a_print_that_shrank_by_more_than_such_filaments_do_is_doubted_and_nothing_is_proposed(off: float) -> None:
    wrong = [shrinkage("x", off, 0.1), shrinkage("y", off, 0.1), shrinkage("z", 0.5, 0.1)]
    changes, (note,) = corrections(wrong, None, None, 100.0)
    assert changes == () and weight_of(note) is Weight.CHANGED
    way = "too small" if off > 0.0 else "too large"
    assert f"No shrinkage is proposed: the print would be {abs(off):.1f} % {way} along x" in note
    assert "The scan's unit or scale, or a length by hand, is more likely wrong" in note


def test_a_print_that_shrank_as_such_filaments_do_is_corrected_without_a_doubt() -> None:
    (found,), notes = corrections([shrinkage(name, 2.0, 0.1) for name in "xyz"], None, None, 100.0)
    assert found.value == [2.0, 2.0, 2.0] and notes == ()


def test_two_readings_of_one_value_are_weighed_by_their_errors() -> None:
    alike = [shrinkage("x", 1.1, 0.1), shrinkage("y", 0.8, 0.2), shrinkage("z", 0.0, 0.1)]
    covariance = np.diag([0.1**2, 0.2**2, 0.1**2])
    # Aitken: (1.1 / 0.01 + 0.8 / 0.04) / (1 / 0.01 + 1 / 0.04)
    assert corrections(alike, None, None, 100.0, covariance)[0][0].value == [1.04, 1.04, 0.0]


def test_a_weight_within_the_bounds_says_nothing_and_one_far_beyond_is_no_flow() -> None:
    predicted = Estimate(176.0, 168.0, 185.0, "model")
    assert weighed(167.5, 1.0, predicted).is_explained
    assert not weighed(166.5, 1.0, predicted).is_explained
    changes, notes = corrections([], weighed(90.0, 1.0, predicted), None, 100.0)
    assert changes == ()
    assert "no matter of flow" in notes[0]


def told(on_scan: list[ScanLength], on_print: list[PrintLength]):  # type: ignore[no-untyped-def]
    seen = np.log([0.97, 0.98, 0.975])  # a scan 2 % too small of a print 1 % smaller along x alone
    covariance = np.diag([1e-6, 1e-6, 1e-4])
    return told_sizes(
        seen,
        covariance,
        np.array([200.0, 100.0, 20.0]),
        on_scan,
        on_print,
        None,
        np.eye(3),
        np.array([200.0, 100.0, 0.0]),
    )


def test_one_length_on_scan_or_print_tells_shrinkage_from_the_scan_s_scale() -> None:
    for lengths in (
        ([ScanLength(100.0, 98.0, 0.1)], []),
        ([], [PrintLength("x", 198.0, 0.1)]),
        # Along the diagonal of the plane: 200 by 100 mm, the first of which came out 1 % smaller.
        ([], [PrintLength("long", float(np.hypot(198.0, 100.0)), 0.1)]),
    ):
        scale, sizes, covariance = told(*lengths)
        # What a length is wrong by, both axes share: their difference is the fit's alone.
        apart = covariance[0, 0] + covariance[1, 1] - 2.0 * covariance[0, 1]
        assert apart == pytest.approx(2.0 * 0.1**2, rel=0.01)
        assert scale.factor == pytest.approx(1.02, abs=0.002)
        assert sizes[0].shrinkage_pct.value == pytest.approx(1.0, abs=0.2)
        assert not sizes[2].is_measured


def test_the_longest_extent_is_looked_for_on_the_print_not_on_the_part() -> None:
    # As asked for the tips along x are farthest apart, 200 mm; on this print the corners are, as y shrank less than x.
    flat = np.array([[-100.0, 0.0], [100.0, 0.0], [-70.0, -71.0], [70.0, -71.0], [-70.0, 71.0], [70.0, 71.0]])
    vertices = np.concatenate([np.c_[flat, np.full(6, height)] for height in (0.0, 1.0)])
    assert abs(longest_way(vertices, np.ones(3))[0]) == pytest.approx(200.0)
    sizes = np.array([0.985, 1.0, 1.0])
    way = longest_way(vertices, 0.9 * sizes)
    np.testing.assert_allclose(np.abs(way), [140.0, 142.0, 1.0])
    measured = float(np.linalg.norm(way * sizes))
    _, told, _ = told_sizes(
        np.log(1.02 * sizes),
        np.diag([1e-6, 1e-6, 1e-4]),
        np.ptp(vertices, axis=0),
        [],
        [PrintLength("long", measured, 0.1)],
        None,
        np.eye(3),
        way,
    )
    # Logarithms of sizes are added where sizes are: wrong by the square of 1.5 %.
    assert told[0].shrinkage_pct.value == pytest.approx(1.5, abs=0.03)
    assert told[1].shrinkage_pct.value == pytest.approx(0.0, abs=0.03)


def test_without_a_length_nothing_absolute_is_told() -> None:
    scale, sizes, _ = told([], [])
    assert scale.standard_error is None
    assert all(each.shrinkage_pct is None for each in sizes)
    assert sizes[0].against_mean_pct.value - sizes[1].against_mean_pct.value == pytest.approx(1.0, abs=0.05)


def test_the_bounds_of_a_size_go_with_the_word_before_them() -> None:
    small = Estimate(1.0, 0.9, 1.1, "measured")
    large = Estimate(-0.05, -0.2, 0.1, "measured")
    one = Shrinkage("x", np.eye(3)[0], small, large, 0.1, True)
    assert shrinkage_words(one) == "1.00 % smaller (0.90 to 1.10)"
    alone = Shrinkage("x", np.eye(3)[0], None, large, 0.1, True)
    assert shrinkage_words(alone) == "0.05 % larger than the mean of the directions (-0.10 to 0.20)"


def test_contradicting_lengths_are_refused() -> None:
    with pytest.raises(InputError, match="contradict"):
        told([ScanLength(100.0, 98.0, 0.1), ScanLength(100.0, 100.0, 0.1)], [])


def test_the_corrected_job_keeps_what_the_person_wrote(tmp_path) -> None:  # type: ignore[no-untyped-def]
    text = (
        "# mine\nschema = 1\n[part]\nname = 'Pad' # ours\nnumber = 'PAD-1'\nfamily = 'seat_pad'\n[base]\n"
        "scan = 'base.stl'\nunit = 'mm'\n[pad]\nenvelope = 'base.stl'\n[printer] # old\nnozzle_mm = 0.4 # brass\n"
    )
    (tmp_path / "base.stl").write_bytes(b"x")
    job = parse_job(text.encode(), "job.toml", tmp_path)
    clear = [shrinkage("x", 1.0, 0.05), shrinkage("y", 0.5, 0.05), shrinkage("z", 0.0, 0.05)]
    found = type("Found", (), {"corrections": corrections(clear, None, None, 100.0)[0]})()
    made = corrected_text(text, job, found, tmp_path / "out", tmp_path, tmp_path, "job.toml")
    again = parse_job(made.encode(), "job-2.toml", tmp_path)
    assert again.printer.shrinkage_pct == (1.0, 0.5, 0.0)
    assert (again.part.revision, again.part.previous) == ("2", "out")
    assert [line for line in text.splitlines() if line not in made.splitlines()] == []
