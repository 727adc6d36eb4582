"""The command line: what it prints, what it returns, and that it never ends the process or shows a traceback."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import types
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import ExportError, InputError, PadwrightError, ScanError, SolveError
from padwright.core.base.progress import Progress
from padwright.core.base.resources import version
from padwright.core.job.read import read_job

JOB = """\
schema = 1
[part]
name = "Seat pad"
number = "PAD-1"
family = "seat_pad"
[base]
scan = "base.ply"
unit = "mm"
[impression]
scan = "impression.ply"
unit = "mm"
"""


@dataclass
class Result:
    """What the pipeline hands back."""

    evidence: dict = field(default_factory=lambda: {"pad": {"volume_cm3": 12.5}})
    files: dict = field(default_factory=lambda: {"PAD-1.project.3mf": b"model"})
    summary: tuple = ("The pad has 12.5 cm3.",)
    told_in_full: tuple = ("The pad has 12.5 cm3.", "And more.")


@pytest.fixture
def job(tmp_path):
    (tmp_path / "job.toml").write_text(JOB)
    for scan in ("base.ply", "impression.ply"):
        (tmp_path / scan).write_bytes(b"")
    return tmp_path / "job.toml"


@pytest.fixture
def pipeline(monkeypatch):
    """A pipeline of two steps in place of the real one; `ends` may be set to what it raises."""
    module = types.ModuleType("padwright.core.run.pipeline")
    module.ends = None

    def run_job(job, folder):
        yield Progress(0.5, "aligning")
        if module.ends is not None:
            raise module.ends
        yield Progress(1.0, "packing")
        return Result()

    module.run_job = run_job
    monkeypatch.setitem(sys.modules, "padwright.core.run.pipeline", module)
    monkeypatch.setattr("padwright.core.run.pipeline", module, raising=False)
    return module


def test_run_writes_the_files_and_prints_the_summary(job, pipeline, capsys, tmp_path):
    out = tmp_path / "made"
    assert cli.main(["run", str(job), "--out", str(out)]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("The pad has 12.5 cm3.\n") and "PAD-1.project.3mf" in said.out and said.err == ""
    assert (out / "PAD-1.project.3mf").read_bytes() == b"model"
    assert json.loads((out / "PAD-1.run.json").read_text())["pad"]["volume_cm3"] == 12.5


def test_without_out_the_files_lie_beside_the_job(job, pipeline, capsys):
    assert cli.main(["run", str(job)]) == 0
    assert (job.parent / "out" / "PAD-1.run.json").is_file()


def test_json_prints_the_evidence_and_nothing_else(job, pipeline, capsys):
    assert cli.main(["run", str(job), "--json", "-v"]) == 0
    assert json.loads(capsys.readouterr().out) == {"pad": {"volume_cm3": 12.5}}


def test_verbose_shows_each_step_with_a_bar(job, pipeline, capsys):
    assert cli.main(["run", str(job), "-v"]) == 0
    lines = capsys.readouterr().err.splitlines()
    assert lines == [
        "[###############...............]  50 %  aligning",
        "[##############################] 100 %  packing",
    ]


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (InputError("The scale is off.", hint="Set the unit."), 2),
        (ScanError("No scan."), 3),
        (SolveError("Not sure."), 4),
        (ExportError("Disk full."), 4),
        (PadwrightError("Plain."), 4),
        (KeyboardInterrupt(), 130),
    ],
)
def test_exit_codes_and_what_is_said(error, code, job, pipeline, capsys, tmp_path):
    pipeline.ends = error
    assert cli.main(["run", str(job), "--out", str(tmp_path / "made")]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == ("interrupted.\n" if code == 130 else f"error: {error.message} {error.hint}".strip() + "\n")
    assert not (tmp_path / "made").exists()


def test_a_bug_shows_its_traceback(job, pipeline):
    pipeline.ends = ZeroDivisionError("a bug")
    with pytest.raises(ZeroDivisionError):
        cli.main(["run", str(job)])


def test_a_faulty_job_stops_before_any_work(job, pipeline, capsys):
    job.write_text(JOB.replace("unit", "unti"))
    assert cli.main(["run", str(job)]) == 2
    assert "job.toml:8: base.unti: there is no such key; did you mean base.unit?" in capsys.readouterr().err
    assert not (job.parent / "out").exists()


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        ([], "required: COMMAND"),
        (["rnu"], "invalid choice: 'rnu'"),
        (["run"], "required: JOB"),
        (["run", "x.toml", "--ot", "y"], "unrecognized arguments: --ot"),
        (["new"], "one of the arguments --family --demo is required"),
        (["new", "--demo", "demo", "--out", "job.toml"], "--out is for one job file"),
        (["new", "--demo", ""], "it is empty"),
        (["new", "--family", "chair"], "invalid choice: 'chair'"),
        (["look"], "required: FILE"),
    ],
)
def test_a_wrong_command_line_returns_2(argv, says, capsys):
    assert cli.main(argv) == 2
    assert says in capsys.readouterr().err


@pytest.mark.parametrize("argv", [["--help"], ["run", "--help"], ["--version"]])
def test_help_and_version_return_0_without_ending_the_process(argv, capsys):
    assert cli.main(argv) == 0
    assert capsys.readouterr().out


def test_out_that_is_a_file_is_told_before_any_work(job, pipeline, capsys):
    pipeline.ends = ZeroDivisionError("must not get this far")
    assert cli.main(["run", str(job), "--out", str(job)]) == 2
    assert "is a file, not a folder" in capsys.readouterr().err


def test_names_that_the_terminal_cannot_show_do_not_stop_the_run(job, tmp_path):
    """A terminal of plain ASCII; the message has a name with other letters."""
    job.write_text(JOB.replace("base.ply", "bäse.ply"), encoding="utf-8")
    ended = run_python("-m", "padwright", "run", str(job), PYTHONIOENCODING="ascii:strict")
    assert ended.returncode == 2
    assert 'base.scan: the file "b?se.ply" is not there' in ended.stderr


def test_the_module_runs_and_gives_its_exit_code(tmp_path):
    ended = run_python("-m", "padwright", "--version")
    assert (ended.returncode, ended.stdout) == (0, f"padwright {version()}\n")
    ended = run_python("-m", "padwright", "run", str(tmp_path / "none.toml"))
    assert ended.returncode == 2 and ended.stderr.startswith("error: The job file") and "Traceback" not in ended.stderr


def test_the_command_line_loads_no_compiled_library_before_it_needs_one():
    """Help must come at once, also in the modeller."""
    ended = run_python(
        "-c",
        "import sys, padwright.cli.main; print([m for m in ('igl', 'manifold3d', 'trimesh', 'scipy')"
        " if m in sys.modules])",
    )
    assert ended.stdout == "[]\n"


def run_python(*argv: str, **env: str) -> subprocess.CompletedProcess[str]:

    addon = str(Path(__file__).parents[2] / "addon")
    return subprocess.run(
        [sys.executable, *argv],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "PYTHONPATH": addon, **env},
    )


def test_an_error_that_blames_a_key_is_told_with_file_and_line(job, pipeline, capsys):
    pipeline.ends = InputError("It is wrong.", hint="Mend it.")
    pipeline.ends.key = ("impression", "unit")
    assert cli.main(["run", str(job)]) == 2
    assert capsys.readouterr().err == "error: job.toml:11: impression.unit: It is wrong. Mend it.\n"


TETRAHEDRON = "OFF\n4 4 0\n0 0 0\n0.3 0 0\n0 0.3 0\n0 0 0.3\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n"


@pytest.mark.parametrize(
    ("lengths", "says"),
    [
        (
            "[[base.check_lengths]]\nmeasured_mm = 300\nfrom = [0, 0, 0]\nto = [0.3, 0, 0]\n",
            "job.toml:9: base.check_lengths:",
        ),
        ("", "job.toml:8: base.unit:"),
    ],
)
def test_a_wrong_unit_is_told_with_line_key_and_the_likely_unit(lengths, says, job, capsys):
    """The real pipeline: a scan in meters that the job says is in mm, with and without a check length."""
    job.write_text(JOB.replace(".ply", ".off").replace("[impression]", f"{lengths}[impression]"))
    for scan in ("base.off", "impression.off"):
        (job.parent / scan).write_text(TETRAHEDRON)
    assert cli.main(["run", str(job)]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"error: {says}") and 'The unit is likely "m"' in said


INTERRUPTED = """
import os, signal, sys, types, time
{first}
from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.base.progress import Progress
module = types.ModuleType('padwright.core.run.pipeline')
def run_job(job, folder):
    yield Progress(0.1, 'working')
    os.kill(os.getpid(), signal.SIGINT)
    {then}
module.run_job = run_job
sys.modules['padwright.core.run.pipeline'] = module
sys.exit(cli.main(['run', sys.argv[1], '--out', sys.argv[2]]))
"""
NO_INTERRUPT = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no interrupt signal for one process")


@pytest.fixture
def in_background():
    """Start children as a shell does with `&` and `nohup`: they are not to hear the terminal's interrupt."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    yield
    signal.signal(signal.SIGINT, before)


def interrupted_in_foreground(job: Path, made: Path) -> None:
    # What the child inherits depends on how the tests were started, so it begins as in a terminal.
    script = INTERRUPTED.format(first="signal.signal(signal.SIGINT, signal.default_int_handler)", then="time.sleep(20)")
    ended = run_python("-c", script, str(job), str(made))
    assert (ended.returncode, ended.stdout, ended.stderr) == (130, "", "interrupted.\n")
    assert not made.exists()


@NO_INTERRUPT
def test_an_interrupt_ends_with_130_and_leaves_nothing(job, tmp_path):
    """The real program, interrupted while it works."""
    interrupted_in_foreground(job, tmp_path / "made")


@NO_INTERRUPT
def test_an_interrupt_is_heard_where_the_tests_run_in_the_background(job, tmp_path, in_background):
    interrupted_in_foreground(job, tmp_path / "made")


@NO_INTERRUPT
def test_in_the_background_the_terminals_interrupt_is_not_for_us(job, tmp_path, in_background):
    script = INTERRUPTED.format(first="", then="raise InputError('It went on.')")
    ended = run_python("-c", script, str(job), str(tmp_path / "made"))
    assert (ended.returncode, ended.stderr) == (2, "error: It went on.\n")


def test_an_interrupt_while_the_program_loads_is_told_as_one():
    script = (
        "import runpy, sys\n"
        "class Stop:\n"
        "    def find_spec(self, name, *rest):\n"
        "        if name == 'padwright.cli.main':\n"
        "            raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Stop())\n"
        "runpy.run_module('padwright', run_name='__main__')\n"
    )
    ended = run_python("-c", script)
    assert (ended.returncode, ended.stdout, ended.stderr) == (130, "", "interrupted.\n")


def test_too_little_memory_is_told_in_a_sentence(job, pipeline, capsys, tmp_path):
    pipeline.ends = MemoryError()
    assert cli.main(["run", str(job), "--out", str(tmp_path / "made")]) == 4
    assert capsys.readouterr().err.startswith("error: The memory of this machine does not suffice. Thin")
    assert not (tmp_path / "made").exists()


@pytest.fixture
def numbered(pipeline):
    """The pipeline of two steps, its evidence with the part's number as a real run has it."""

    def run_job(given, folder):
        yield from ()
        return Result(
            evidence={"part": {"number": given.part.number}}, files={f"{given.part.number}.project.3mf": b"m"}
        )

    pipeline.run_job = run_job


def test_the_folder_of_another_part_is_refused_and_left_as_it_is(job, numbered, capsys, tmp_path):
    assert cli.main(["run", str(job)]) == 0
    before = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    job.write_text(JOB.replace("PAD-1", "PAD-2"))
    assert cli.main(["run", str(job)]) == 2
    assert "holds part PAD-1; this job makes part PAD-2" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == before
    assert cli.main(["run", str(job), "--out", str(tmp_path / "out-PAD-2")]) == 0


def test_the_same_part_is_made_again_in_its_folder(job, numbered):
    assert [cli.main(["run", str(job)]) for _ in range(2)] == [0, 0]


def test_blocks_to_press_may_lie_in_the_folder(job, numbered, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "COUPONS-1.run.json").write_text(json.dumps({"number": "COUPONS-1"}))
    assert cli.main(["run", str(job)]) == 0


@pytest.mark.parametrize(
    ("terminal", "flags", "shown"),
    [
        (True, [], True),
        (False, [], False),
        (True, ["--no-progress"], False),
        (False, ["--progress"], True),
        (False, ["-v"], True),
        (True, ["-v", "--no-progress"], False),
    ],
)
def test_progress_is_shown_on_a_terminal_or_as_asked(terminal, flags, shown, job, pipeline, capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: terminal)
    assert cli.main(["run", str(job), *flags]) == 0
    assert ("aligning" in capsys.readouterr().err) == shown


def test_keys_set_reach_the_job(job, pipeline, capsys):
    seen = []
    real = pipeline.run_job

    def run_job(given, folder):
        seen.append(given)
        return (yield from real(given, folder))

    pipeline.run_job = run_job
    assert cli.main(["run", str(job), "--set", "pad.fit_gap_mm=0.7", "--set", "part.number=PAD-7"]) == 0
    assert (seen[0].pad.fit_gap_mm, seen[0].part.number) == (0.7, "PAD-7")
    assert read_job(job).part.number == "PAD-1"
    assert cli.main(["run", str(job), "--set", "pad.fit_gap_mm=wide"]) == 2
    assert "error: --set: pad.fit_gap_mm: expected a number" in capsys.readouterr().err
