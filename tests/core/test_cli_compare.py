"""`compare` on the command line says before it takes its time that the part has to be made again, or refuses to."""

import shutil
import sys
import types
from pathlib import Path

import pytest

from padwright.cli.main import main
from padwright.core.base.errors import SolveError

DEMO = Path(__file__).resolve().parents[2] / "shared" / "demo"


@pytest.fixture
def demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job without its files, and a pipeline that fails once it is begun."""

    def run_job(job, folder):
        raise SolveError("It was begun.")
        yield

    pipeline = types.ModuleType("padwright.core.run.pipeline")
    pipeline.run_job = run_job  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "padwright.core.run.pipeline", pipeline)
    for name in ("base.ply", "impression.ply", "job.toml"):
        shutil.copy(DEMO / name, tmp_path / name)
    return tmp_path


def compare(demo: Path, *more: str) -> int:
    return main(["compare", str(demo / "job.toml"), "--printed", str(demo / "base.ply"), "--unit", "mm", *more])


def test_a_part_that_is_made_again_is_told_before(demo: Path, capsys) -> None:
    assert compare(demo) == 4
    said = capsys.readouterr().err.splitlines()
    assert said[0] == f"note: {demo / 'out'} holds no run of this part, so the part is made again to compare with."
    assert "It was begun." in said[1]


def test_a_folder_that_is_said_to_hold_the_part_and_does_not_is_refused(demo: Path, capsys) -> None:
    (demo / "empty").mkdir()
    for name in ("empty", "none"):
        assert compare(demo, "--out", str(demo / name)) == 2
        said = capsys.readouterr().err
        assert f'"{demo / name}" holds no run of part DEMO-1.' in said and "leave --out out" in said
    assert not (demo / "empty.compare").exists()
