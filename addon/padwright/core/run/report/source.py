"""What the chapters of a report are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ...base.cached import cached_property
from ...base.files import InputFile
from ...base.mesh import Float, Int, TriMesh, joined
from ...stages.packing.long_side import long_side
from ...stages.report.plan_view import PlanView, SeenMesh
from ...stages.report.side_by_side import SideBySide
from ...stages.report.words_map import WordsMap
from ...stages.trials.records import TrialBook
from ..packing import Packed
from ..parts import MadePart
from ..places import PartPlaces


@dataclass(frozen=True, eq=False)
class ReportSource:
    """A whole part, how it was packed, and its files by name; a selection of regions has no report."""

    part: MadePart
    packed: Packed
    files: Mapping[str, bytes]  # of the run, all but the evidence and what is written for people to read
    trials: TrialBook = field(default_factory=TrialBook)  # what wearers noted of the part
    words: WordsMap = field(default_factory=WordsMap)  # the person's own, for settings
    beside: tuple[InputFile, ...] = ()  # the files read besides those of the stages
    compared: SideBySide | None = None  # with the revision before, where the job names one

    @property
    def is_mirrored(self) -> bool:
        """Whether the part is made for the other side: pictures of it are turned round, those of scans are not."""
        return self.packed.mirror is not None

    @cached_property
    def places(self) -> PartPlaces:
        """The places that a wearer points at."""
        return PartPlaces(self.part)

    @cached_property
    def places_picture(self) -> str | None:
        """Their picture without marks, as SVG; None where no plan shows the part."""
        return self.places.picture()

    @cached_property
    def ways(self) -> tuple[tuple[str, Float], ...]:
        """From where the part is looked at, in words and as a direction, (3,), to the eye.

        It is looked at from the body; a part that wraps around something from where it bears hardest, and from behind.
        """
        pad = self.part.pad
        assert pad is not None
        if pad.press_direction is not None:
            return (("seen from the body", -np.asarray(pad.press_direction, dtype=np.float64)),)
        long, middle = long_side(pad.mesh, np.zeros(3))
        reading = self.part.reading
        centers = () if reading is None else reading.load_centers
        out = np.asarray(centers[0].position_mm) - middle if centers else np.cross([0.0, 0.0, 1.0], long)
        side = out - (out @ long) * long
        if np.linalg.norm(side) < 1e-3:  # along it no side is before another
            side = np.cross(long, [1.0, 0.0, 0.0] if abs(long[0]) < 0.5 else [0.0, 1.0, 0.0])
        return (("seen from one side", side), ("seen from the other side", -side))

    @cached_property
    def pad_views(self) -> tuple[tuple[str, SeenMesh], ...]:
        """The pad from each way, in words and as it is seen."""
        assert self.part.pad is not None
        return self.seen(self.part.pad.mesh)

    @cached_property
    def region_views(self) -> tuple[tuple[str, SeenMesh], ...]:
        """All regions together as they were cut, in the frame of the pad's pictures; a part of walls by its outside."""
        assert self.part.regions is not None
        return self.seen_as_pad(joined([each.mesh for each in self.part.regions.regions]))

    @cached_property
    def region_of_face(self) -> Int:
        """Which region each face of `region_views` is of, (m,)."""
        assert self.part.regions is not None
        regions = self.part.regions.regions
        return np.repeat(np.arange(len(regions)), [len(each.mesh.faces) for each in regions])

    def seen(self, mesh: TriMesh) -> tuple[tuple[str, SeenMesh], ...]:
        """Return a mesh from each way, in words and as it is seen, framed by itself."""
        return tuple((words, SeenMesh(PlanView.onto(mesh, toward), mesh)) for words, toward in self.ways)

    def seen_as_pad(self, mesh: TriMesh) -> tuple[tuple[str, SeenMesh], ...]:
        """Return a mesh in the very frame of the pad's pictures, so that places can be compared."""
        return tuple((words, SeenMesh(each.view, mesh)) for words, each in self.pad_views)

    def seen_alike(self, mesh: TriMesh) -> tuple[tuple[str, SeenMesh], ...]:
        """Return a mesh as far around the pad as it reaches, the same way up as the pad's pictures."""
        return tuple(
            (words, SeenMesh(PlanView.framing(each.view.eye, mesh.vertices), mesh)) for words, each in self.pad_views
        )

    @cached_property
    def impression_views(self) -> tuple[tuple[str, SeenMesh], ...]:
        """The impression scan as it lies on the base; nothing without one."""
        aligned = self.part.aligned
        return () if aligned is None else self.seen_alike(aligned)
