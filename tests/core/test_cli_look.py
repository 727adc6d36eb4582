"""What `look` says of a scan, and of what is none."""

from __future__ import annotations

import json

import pytest

from padwright.cli import main as cli

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
