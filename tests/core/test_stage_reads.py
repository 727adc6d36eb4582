"""What a stage reads of the job is in its key: each is run with all that it reads recorded."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.support.cases import Case, make_case
from tests.support.scanned import sphere
from tests.support.writers import write_ply

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.base.resources import shared_path
from padwright.core.job import schema as job_schema
from padwright.core.job.keys import keys_of
from padwright.core.job.read import parse_job, read_job
from padwright.core.job.schema import BodyPair, CheckLength, Job
from padwright.core.run.parts import MadePart
from padwright.core.run.pipeline import do_stage
from padwright.core.run.stages import STAGES, stage_of
from padwright.core.stages.alignment.placed_scans import PlacedScans, turned, typed_points
from padwright.core.stages.pad.work import pad_settings
from padwright.core.stages.scans.work import capture
from padwright.core.stages.stage import Given, Stage, known_places

# Names that go into records and texts and change no result; a part that is recalled gets them anew.
NAMES_ONLY = {"base.scan", "impression.scan", "body.scan"}  # of the last the run asks whether its stage rests


def _tables() -> dict[type, str]:
    """Return where each table of a job stands in it; of tables in lists, the list's place."""
    found: dict[type, str] = {Job: ""}

    def walk(table: type, place: str) -> None:
        for name, (_, described, _) in keys_of(table).items():
            if described.table is not None:
                here = f"{place}.{name}".lstrip(".")
                found.setdefault(described.table, here)
                walk(described.table, here)

    walk(Job, "")
    return found


@dataclass
class WhatWasRead:
    """What a stage read while it worked on a job."""

    stage: str
    job: Job
    places: set[str] = field(default_factory=set)
    files: set[str] = field(default_factory=set)


class Recorder:
    """Notes every key of a job and every file of its folder that is read while a stage is named."""

    def __init__(self, folder: Path) -> None:
        self.read: list[WhatWasRead] = []
        self.now: WhatWasRead | None = None
        self.folder = folder

    @contextmanager
    def recording(self) -> Iterator[None]:
        """Watch the tables of a job and the reading of files."""
        patch = pytest.MonkeyPatch()
        for table, place in _tables().items():
            fields = {field for field, _, _ in keys_of(table).values()}
            patch.setattr(table, "__getattribute__", self._watched(place, fields))
        opened = Path.open

        def watched_open(path: Path, *arguments: Any, **named: Any) -> Any:
            if self.now is not None and path.is_relative_to(self.folder):
                self.now.files.add(path.name)
            return opened(path, *arguments, **named)

        patch.setattr(Path, "open", watched_open)
        try:
            yield
        finally:
            patch.undo()

    def _watched(self, place: str, keys: set[str]) -> Any:
        def get(table: Any, name: str) -> Any:
            value = object.__getattribute__(table, name)
            is_table = type(value) in _TABLES and type(value) is not Job
            if self.now is not None and name in keys and not is_table:
                self.now.places.add(f"{place}.{name}".lstrip("."))
            return value

        return get

    @contextmanager
    def during(self, stage: str, job: Job) -> Iterator[None]:
        """Count what is read in here as read by a stage at work on a job."""
        self.now = WhatWasRead(stage, job)
        self.read.append(self.now)
        try:
            yield
        finally:
            self.now = None


_TABLES = _tables()
LINES = """
[datum]
plane = {plane}
line = {line}
point = {point}
[[alignment.pairs]]
base = {pairs[0]}
impression = {pairs[1]}
[[alignment.pairs]]
base = {pairs[2]}
impression = {pairs[3]}
[[alignment.pairs]]
base = {pairs[4]}
impression = {pairs[5]}
[body]
press_direction = {press}
[[zones]]
name = "bones"
level = 4
source = "load_centers"
radius_mm = 28.0
[[zones]]
name = "painted"
level = 1
source = "weights"
file = "painted.csv"
[[zones]]
name = "rest"
level = 2
source = "rest"
[mat]
file = "mat.csv"
unit = "kPa"
places_on = "base"
[[mat.places]]
cell = [0, 0]
point = {datum[0]}
[[mat.places]]
cell = [9, 11]
point = {datum[1]}
[material]
card = "own.toml"
[load]
body_mass_kg = 70.0
"""


def job_in(folder: Path, case: Case) -> Job:
    """Write a job that makes its stages read what they can read, and return it."""
    for name in ("base", "impression"):
        write_ply(getattr(case, name), folder / f"{name}.ply")
    shutil.copy(shared_path("materials") / "tpu_85a.toml", folder / "own.toml")
    (folder / "painted.csv").write_text("x,y,z,weight\n0,0,0,1\n")
    (folder / "mat.csv").write_text(
        "\n".join(",".join(str(row * column % 7 + 1) for column in range(12)) for row in range(10))
    )

    def row(point: Any) -> list[float]:
        return [round(float(each), 3) for each in point]

    ends = [(row(on_base), row(on_impression)) for length in case.lengths for on_base, on_impression in (
        (length.base_from, length.impression_from), (length.base_to, length.impression_to))]  # fmt: skip
    ends = max(
        itertools.combinations(ends, 3),
        key=lambda three: np.linalg.norm(np.cross(*(np.subtract(three[i][0], three[0][0]) for i in (1, 2)))),
    )
    datum = [on_base for on_base, _ in ends]
    lengths = "".join(
        f"[[base.check_lengths]]\nmeasured_mm = {length.measured_mm:.2f}\n"
        f"from = {row(length.base_from)}\nto = {row(length.base_to)}\n"
        for length in case.lengths[:2]
    )
    head = (
        'schema = 1\n[part]\nname = "Seat"\nnumber = "S-1"\nfamily = "seat_pad"\n'
        f'[base]\nscan = "base.ply"\nunit = "{case.unit}"\n{lengths}'
        f'[impression]\nscan = "impression.ply"\nunit = "{case.unit}"\nscale = "as base"\n'
    )
    pairs = [point for pair in ends for point in pair]
    text = LINES.format(
        datum=datum, plane=datum, line=datum[:2], point=datum[0], pairs=pairs, press=row(case.press_direction_in_base)
    )
    (folder / "job.toml").write_text(head + text, "utf-8")
    return read_job(folder / "job.toml")


@pytest.fixture(scope="module")
def recorder(tmp_path_factory: pytest.TempPathFactory) -> Recorder:
    """Run every stage, watched."""
    folder = tmp_path_factory.mktemp("watched")
    case = make_case("seat", triangles=12_000, noise_mm=0.05, pose="small", turntable=False, debris=False)
    job = job_in(folder, case)
    found = Recorder(folder)
    assert job.impression is not None
    of_own_size = replace(job, impression=replace(job.impression, check_lengths=_lengths_of_impression(case)))
    with found.recording():
        with found.during("scans", of_own_size):
            drain(capture(Given(known_places(STAGES, STAGES[0], job), of_own_size, {}, folder)))
        part = MadePart(job)
        folded = replace(job, fill=replace(job.fill, kind="folds", wall_beads=4))  # the steadier
        for stage in STAGES:
            with found.during(stage.name, job):
                part = drain(do_stage(stage, part, folder))
            if stage.name == "pad":
                _read_an_envelope(found, part, job, folder)
                _paint(part, folder / "painted.csv")
            if stage.name == "body":
                _press_a_body(found, part, job, folder)
        part = replace(part, job=folded)
        for stage in STAGES[[each.name for each in STAGES].index("regions") :]:
            with found.during(stage.name, folded):
                part = drain(do_stage(stage, part, folder))
    return found


def _lengths_of_impression(case: Case) -> tuple[CheckLength, ...]:
    return tuple(
        CheckLength(
            measured_mm=each.measured_mm, from_point=tuple(each.impression_from), to_point=tuple(each.impression_to)
        )
        for each in case.lengths
    )


def _paint(part: MadePart, path: Path) -> None:
    """Paint the half of the pad that lies along x."""
    assert part.pad is not None
    places = part.pad.mesh.vertices[::7]
    rows = [f"{x:.2f},{y:.2f},{z:.2f},{int(x > np.median(places[:, 0]))}" for x, y, z in places]
    path.write_text("\n".join(["x,y,z,weight", *rows]))


def _cube() -> TriMesh:
    corners = np.array([[x, y, z] for z in (0.0, 1.0) for y in (0.0, 1.0) for x in (0.0, 1.0)]) * 50.0
    sides = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return TriMesh(corners, np.array([each for a, b, c, d in sides for each in ((a, b, c), (a, c, d))]))


def _press_a_body(found: Recorder, part: MadePart, job: Job, folder: Path) -> None:
    """Lay a ball on the base by landmarks and press it into virtual clay."""
    scans = part.of(PlacedScans)
    base = scans.base.mesh
    ball = sphere(100.0)
    up = -turned(scans.to_part, job.body.press_direction)
    middle = base.vertices.mean(axis=0) + 130.0 * up
    write_ply(ball, folder / "body.ply")
    marks = ball.vertices[[100, 700, 1400]]
    places = typed_points(scans, marks + middle, "base")
    pairs = tuple(BodyPair(body=tuple(mark), base=tuple(place)) for mark, place in zip(marks, places, strict=True))
    long = CheckLength(
        measured_mm=float(np.linalg.norm(marks[1] - marks[0])), from_point=tuple(marks[0]), to_point=tuple(marks[1])
    )
    point = tuple(typed_points(scans, base.vertices.mean(axis=0)[None], "base")[0])
    assert job.impression is not None
    pressed = replace(
        job,
        impression=replace(job.impression, scan=None, clay_thickness_mm=30.0),
        body=replace(job.body, scan="body.ply", pairs=pairs, check_lengths=(long,), scan_load_share=0.5),
        load=replace(job.load, point=point),
    )
    with found.during("body", pressed):
        drain(do_stage(next(each for each in STAGES if each.name == "body"), replace(part, job=pressed), folder))


def _read_an_envelope(found: Recorder, part: MadePart, job: Job, folder: Path) -> None:
    """Let the settings of the pad read an envelope's file; that it does not fit matters to no one here."""
    write_ply(_cube(), folder / "solid.ply")
    enveloped = replace(job, pad=replace(job.pad, envelope="solid.ply"))
    given = Given(["pad"], enveloped, part.found, folder)
    with found.during("pad", enveloped):
        try:
            pad_settings(given, part.of(PlacedScans))
        except InputError:
            pass


def unlisted(found: Recorder, stages: Sequence[Stage]) -> list[str]:
    """Return what stages read that neither they nor those whose results they take list."""
    by_name = {stage.name: stage for stage in stages}
    wrong = []
    for one in found.read:
        known = known_places(stages, by_name[one.stage], one.job)
        wrong += [
            f"{one.stage}: {place}"
            for place in sorted(one.places - NAMES_ONLY)
            if not any(place == each or place.startswith(f"{each}.") for each in known)
        ]
        wrong += [f"{one.stage}: file {name}" for name in one.files if not known & _FILE_PLACES[name]]
    return wrong


_FILE_PLACES = {
    "base.ply": {"base.scan"},
    "impression.ply": {"impression.scan"},
    "solid.ply": {"pad.envelope"},
    "body.ply": {"body.scan"},
    "painted.csv": {"zones.file"},
    "mat.csv": {"mat.file"},
    "own.toml": {"material.card"},
}


def test_what_a_stage_reads_is_listed(recorder: Recorder) -> None:
    assert unlisted(recorder, STAGES) == []


def test_every_kind_of_file_was_read(recorder: Recorder) -> None:
    assert set().union(*(each.files for each in recorder.read)) == set(_FILE_PLACES)


ENTRIES = [(stage.name, place) for stage in STAGES for place in (*stage.reads, *stage.files)]


@pytest.mark.parametrize(("stage", "place"), ENTRIES, ids=[f"{stage}-{place}" for stage, place in ENTRIES])
def test_no_entry_can_be_left_out(recorder: Recorder, stage: str, place: str) -> None:
    def less(one: Stage) -> Stage:
        reads, files = (tuple(each for each in listed if each != place) for listed in (one.reads, one.files))
        return replace(one, reads=reads, files=files) if one.name == stage else one

    assert unlisted(recorder, [less(each) for each in STAGES]) != []


def test_a_stage_cannot_read_what_it_does_not_list(tmp_path: Path) -> None:
    (tmp_path / "a.ply").touch()
    text = 'schema = 1\n[part]\nname = "A"\nnumber = "A-1"\nfamily = "seat_pad"\n'
    text += '[base]\nscan = "a.ply"\n[pad]\nenvelope = "a.ply"\n[body]\npress_direction = [0, 0, -1]\n'
    job = parse_job(text.encode(), "job.toml", tmp_path)
    given = Given(["pad", "part.family"], job, {}, tmp_path)
    assert (given.job.pad.fit_gap_mm, given.job.part.family) == (job.pad.fit_gap_mm, "seat_pad")
    with pytest.raises(LookupError, match="base of the job is read"):
        _ = given.job.base.unit
    with pytest.raises(LookupError, match=r"part\.name of the job is read"):
        _ = given.job.part.name
    with pytest.raises(LookupError, match="no MadePart among the results of"):
        given.of(MadePart)


def test_the_records_name_places_results_and_functions_that_there_are() -> None:
    tables = {place: table for table, place in _TABLES.items()}
    for stage, place in ENTRIES:
        table, _, name = place.rpartition(".")
        assert place in tables or name in keys_of(tables[table]) or name in keys_of(job_schema.Job), (stage, place)
    for number, stage in enumerate(STAGES):
        assert set(stage.after) <= {each.name for each in STAGES[:number]}
        for name in (*(step.work for step in stage.steps), stage.evidence, stage.recalled):
            assert not name or callable(stage.function(name)), (stage.name, name)


def test_a_place_belongs_to_the_first_stage_that_reads_it() -> None:
    assert stage_of("impression.scale") == "scans"
    assert stage_of("impression.contact_depth_mm") == "reading"
    assert stage_of("printer.nozzle_mm") == "folds"
    assert stage_of("printer.bead_width_mm") == "regions"
    assert stage_of("output.stl") is None and stage_of("part.name") is None
