"""The frame of the studies: each can be sampled, claims something and has its table in docs; the runner is strict."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import run_studies
import studying

ROOT = Path(__file__).resolve().parents[1]


def test_every_study_uses_the_frame_and_has_its_table_in_docs() -> None:
    index = (ROOT / "docs" / "studies.md").read_text("utf-8")
    tables = [path.read_text("utf-8") for path in (ROOT / "docs").rglob("*.md") if path.name != "studies.md"]
    found = run_studies.studies()
    assert found
    wrong = [
        name
        for name, path in found.items()
        if "studying.main(__doc__" not in path.read_text("utf-8")
        or f"| {name} |" not in index
        or not any(f"run_studies.py {name}`" in page for page in tables)
    ]
    assert wrong == []


def test_a_claim_about_a_share_allows_less_the_more_draws_there_are() -> None:
    # Binomial at 0.9: P(5 or fewer of 8) = 3.8 %, P(3 or fewer) = 4e-4; P(165 or fewer of 200) = 0.06 %.
    assert studying.can_be(8, 8, 0.9) and studying.can_be(5, 8, 0.9)
    assert not studying.can_be(3, 8, 0.9)
    assert studying.can_be(175, 200, 0.9) and not studying.can_be(165, 200, 0.9)
    # 50,000 draws scatter by 67 (one standard deviation): three of them are allowed, four are not.
    assert studying.can_be(44_800, 50_000, 0.9) and not studying.can_be(44_730, 50_000, 0.9)
    assert studying.can_be(0, 9, 0.0) and studying.can_be(9, 9, 1.0) and not studying.can_be(8, 9, 1.0)


STUDY = '''"""Count."""
import sys, time
import studying


def study(seeds):
    {body}
    return studying.Finding(("seed",), tuple((str(seed),) for seed in seeds), {claims})


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=5, sample=2))
'''


@pytest.mark.parametrize(
    ("body", "claims", "wrong"),
    [
        ("pass", '(("it counts", True),)', ""),
        ("pass", '(("it counts", True), ("it counts well", False))', "ended with 1"),
        ("pass", "()", "ended with 1"),
        ("1 / 0", '(("it counts", True),)', "ended with 1"),
        ("end = time.process_time() + 0.3\n    while time.process_time() < end: pass", '(("so", True),)', "its sample"),
        ("time.sleep(99)", '(("it counts", True),)', "stopped after"),
    ],
    ids=["holds", "broken", "claims nothing", "raises", "too slow", "hangs"],
)
def test_a_sample_is_refused_when_it_claims_in_vain_or_takes_too_long(
    body: str, claims: str, wrong: str, tmp_path: Path
) -> None:
    path = tmp_path / "study_counting.py"
    path.write_text(STUDY.format(body=body, claims=claims), "utf-8")
    # The start of Python is in the time: the sample that takes too long works 0.3 s, the others have all they want.
    limit_s = 0.25 if wrong == "its sample" else 60.0
    patience_s = 1.0 if wrong == "stopped after" else 120.0
    found = run_studies.run_study(Path(sys.executable), path, is_sample=True, limit_s=limit_s, patience_s=patience_s)
    assert found.startswith(wrong) and bool(found) == bool(wrong)


def test_a_study_prints_its_table(tmp_path: Path) -> None:
    path = tmp_path / "study_counting.py"
    path.write_text(STUDY.format(body="pass", claims='(("it counts", True),)'), "utf-8")
    scripts = str(ROOT / "scripts")
    for options, seeds in (([], "01234"), (["--sample"], "01"), (["--draws", "1", "--first", "7"], "7")):
        answer = subprocess.run(
            [sys.executable, str(path), *options],
            env={"PYTHONPATH": scripts},
            capture_output=True,
            text=True,
            check=True,
        )
        assert answer.stdout.splitlines()[:-2] == ["| seed |", "|---|", *(f"| {seed} |" for seed in seeds)]


def test_an_unknown_study_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        run_studies.main(["nonsense"])
    assert "no study called nonsense; there are " in capsys.readouterr().err
