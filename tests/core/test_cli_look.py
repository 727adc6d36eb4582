"""What `look` says of a scan, and of what is none."""

from __future__ import annotations

import json

import numpy as np
import pytest

from padwright.cli import main as cli
from padwright.core.stages.scans.dark_scale import dark_scale
from padwright.core.stages.scans.surface_colors import ColorSamples
from support.painted import BLUE, RED, glb_file, obj_files, rings, textured
from support.scanned import grid

TETRAHEDRON = "OFF\n4 4 0\n0 0 0\n0.3 0 0\n0 0.3 0\n0 0 0.3\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n"


def test_look_tells_size_state_and_faults(tmp_path, capsys):
    (tmp_path / "whole.off").write_text(TETRAHEDRON)
    (tmp_path / "open.off").write_text(TETRAHEDRON.replace("4 4 0", "4 3 0").replace("3 1 2 3\n", ""))
    (tmp_path / "bad.off").write_text(TETRAHEDRON.replace("0 0.3 0", "0 nan 0"))
    assert cli.main(["look", str(tmp_path / "whole.off"), str(tmp_path / "open.off")]) == 0
    whole, _, opened = capsys.readouterr().out.partition("open.off: ")
    assert "in m  that is 300 x 300 x 300 mm" in whole and "closed, 0.0045 cubic units" in whole
    assert "open: 1 border, 1.273 units around" in opened
    code = cli.main(["look", "--json", *(str(tmp_path / f"{name}.off") for name in ("none", "whole", "bad"))])
    said = capsys.readouterr()
    assert code in (2, 3) and "none.off: The file " in said.err and "cannot be read" in said.err
    facts = json.loads(said.out)[0]
    assert (facts["triangles"], facts["size"], facts["closed"], facts["unit"]) == (4, [0.3, 0.3, 0.3], True, None)
    assert facts["volume"] == pytest.approx(0.3**3 / 6)


def test_look_says_what_is_no_scan(tmp_path, capsys):
    (tmp_path / "notes.stl").write_text("Not a scan at all.")
    assert cli.main(["look", str(tmp_path / "notes.stl")]) == 3
    assert capsys.readouterr().err.startswith(f"error: {tmp_path / 'notes.stl'}: ")
    assert cli.main(["look", str(tmp_path)]) == 2
    assert "is a folder" in capsys.readouterr().err


def test_look_names_the_colors_of_a_texture_with_their_areas(tmp_path, capsys):
    steps = np.arange(-60.0, 61.0, 3.0)
    scan = textured(grid(steps, steps, lambda x, y: 0 * x), rings(((20, 0), 25, 1.5, RED), ((-30, 0), 20, 1.5, BLUE)))
    for name, data in obj_files(scan).items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "clay.glb").write_bytes(glb_file(scan))
    assert cli.main(["look", "--json", str(tmp_path / "clay.obj"), str(tmp_path / "clay.glb")]) == 0
    for facts in json.loads(capsys.readouterr().out):
        clay, *pens = facts["colors"]
        assert clay["share"] > 0.9 and [each["name"] for each in pens] == ["red", "blue"]
        for pen, radius in zip(pens, (25, 20), strict=True):
            # Samples lie some 0.2 mm apart, along lines 1.5 mm wide.
            assert pen["area"] == pytest.approx(2 * np.pi * radius * 1.5, rel=0.05)
    assert cli.main(["look", str(tmp_path / "clay.obj")]) == 0
    said = capsys.readouterr().out
    assert "if in mm" in said and "(most of it: the clay)" in said and "  red " in said
    (tmp_path / "clay.png").unlink()
    assert cli.main(["look", str(tmp_path / "clay.obj")]) == 0
    said = capsys.readouterr().out
    assert "Its colors cannot be read" in said and 'clay.png" cannot be read' in said


def pressed(places: np.ndarray) -> np.ndarray:
    """Return a foil that two places pressed, as a film that reddens: dark in both, with grain."""
    depth = sum(np.exp(-((places[:, 0] - x) ** 2 + places[:, 1] ** 2) / 500.0) for x in (-25.0, 25.0))
    grain = np.random.default_rng(1).normal(0.0, 10.0, len(places))
    return np.array([240.0, 235.0, 225.0]) - np.outer(depth, [130.0, 190.0, 170.0]) + grain[:, None]


def with_pens(places: np.ndarray) -> np.ndarray:
    return rings(((20, 0), 25, 1.5, RED), ((-30, 0), 20, 1.5, (52.0, 47.0, 42.0)))(places)


@pytest.mark.parametrize(("paint", "is_foil"), [(pressed, True), (with_pens, False), (rings(shade=0.6), False)])
def test_look_names_a_pressed_foil_as_a_use_of_what_darkens_without_a_break(paint, is_foil, tmp_path, capsys):
    steps = np.arange(-60.0, 61.0, 3.0)
    (tmp_path / "clay.glb").write_bytes(glb_file(textured(grid(steps, steps, lambda x, y: 0 * x), paint)))
    assert cli.main(["look", str(tmp_path / "clay.glb")]) == 0
    assert ('source = "pressed_foil"' in capsys.readouterr().out) == is_foil
    assert cli.main(["look", "--json", str(tmp_path / "clay.glb")]) == 0
    found = json.loads(capsys.readouterr().out)[0]["dark_scale"]
    if is_foil:  # paper of 235 of 255 has a CIELAB lightness of 93.6; the darkest is about 105, 42, 52: 26
        assert found["light"] == pytest.approx(93.6, abs=5.0) and found["dark"] == pytest.approx(26.0, abs=8.0)
    else:
        assert found is None


@pytest.mark.parametrize("start", [b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0", b"II*\x00", b"MM\x00*"])
def test_look_says_which_command_reads_a_picture(start, tmp_path, capsys):
    (tmp_path / "foil.png").write_bytes(start + bytes(40))
    assert cli.main(["look", str(tmp_path / "foil.png")]) == 3
    assert "is a picture, not a mesh" in (said := capsys.readouterr().err) and "padwright mat FILE" in said


@pytest.mark.parametrize("area", [0.0, float("inf"), float("nan")])
def test_a_surface_without_an_area_that_counts_has_no_scale_from_light_to_dark(area):
    gray = np.repeat(np.linspace(0, 255, 200).astype(np.uint8)[:, None], 3, axis=1)
    assert dark_scale(ColorSamples(np.zeros((200, 3)), gray, np.ones(200))) is not None
    assert dark_scale(ColorSamples(np.zeros((200, 3)), gray, np.full(200, area))) is None
