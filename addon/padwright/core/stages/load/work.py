"""The stage: choose every zone's settings, tune them to the target, press the body on the pad."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from ...base.errors import SolveError
from ...base.notes import on_change, to_look_at
from ...base.progress import Progress, Steps
from ...job.material_cards import MaterialCard, material_of
from ..alignment.placed_scans import PlacedScans
from ..body.pressed import PressedBody
from ..folds.layout import FoldLayout
from ..material.choosing import Chosen
from ..material.curves import CurveBand
from ..material.material_model import model_from_card
from ..mats.work import MatResult
from ..pad.work import ShapedPad
from ..reading.work import ReadBodySide
from ..regions.regions import RegionCut
from ..scans.captured import CapturedScans
from ..stage import Given
from ..zones.work import PlannedZones
from .advice import advice_words, advise
from .bearing import contact_patch
from .beside_mat import MatBeside, beside_mat
from .contact import LoadResult, check_load
from .felt import STIFF_MM, felt
from .firmness import Firmness, Folded, Ground
from .fold_basis import FoldBasis
from .fold_firmness import fold_firmness
from .fold_stand import lasting_words, refuse_sway, standing
from .fold_steadier import what_holds
from .job_loads import blaming_case, empty_cases, keyed_cases, left_aside, missing_load, posture_of
from .load_case import ContactPatch, LoadCase
from .mat_words import sum_notes
from .tuning_notes import beyond
from .zone_settings import zone_settings
from .zone_tuning import goal_of, tune_zones


def choose(given: Given, _: None = None) -> Steps[Firmness]:
    """Choose the settings of every zone by the modulus of its level, in the job's material."""
    yield Progress(0.0, "choosing the settings")
    ground = _ground(given, material_of(given.job.material, given.folder))
    return zone_settings(ground) if ground.layout is None else fold_firmness(ground)


def tune(given: Given, chosen: Firmness) -> Steps[Firmness]:
    """Tune the zones to the job's target."""
    yield Progress(0.0, "tuning the zones to the load")
    assert chosen.card is not None
    return tune_zones(_ground(given, chosen.card), chosen)


def check(given: Given, chosen: Firmness) -> Steps[Firmness]:
    """Press the body on the pad."""
    yield Progress(0.0, "checking the load")
    assert chosen.card is not None
    return _pressed(_ground(given, chosen.card), chosen)


def _ground(given: Given, card: MaterialCard) -> Ground:
    side, body, mat = given.of(ReadBodySide), given.find(PressedBody), given.find(MatResult)
    return Ground(
        given.job,
        given.of(CapturedScans).family.with_fill(given.job.fill.kind),
        card,
        given.of(PlacedScans),
        side.reading,
        side.mesh,
        given.of(ShapedPad).pad,
        given.of(PlannedZones).plan,
        given.of(RegionCut),
        None if body is None else body.shape,
        None if mat is None else mat.laid,
        given.find(FoldLayout),
    )


def _pressed(ground: Ground, firmness: Firmness) -> Firmness:
    """Press the body on the pad."""
    keyed = keyed_cases(ground)
    cases = tuple(case for _, case in keyed)
    if not cases:
        missing = missing_load(ground.job)
        note = to_look_at(f"No load is given, so what it will feel like was not computed: {missing}.")
        return replace(firmness, notes=(*firmness.notes, *empty_cases(ground), note))
    patch = firmness.patch
    notes: tuple[str, ...] = ()
    if patch is None:
        patch, notes = contact_patch(ground, sorted(firmness.chosen))
    notes += (*left_aside(ground), *empty_cases(ground))
    stated, meant = ground.job.load.posture, posture_of(ground)
    if stated != meant and stated != ground.family.defaults["load", "posture"].value:
        notes += (
            on_change(
                f'The posture "{stated}" does not go with the load, {cases[0].force_n:.0f} N, which is that of '
                f'"{meant}": it is called so. Change load.share or load.posture so that both say the same.'
            ),
        )
    bands, names = _bands(ground, firmness.chosen)
    columns = None if firmness.folded is None else firmness.folded.columns
    pressed = (
        _Bearers(patch, bands, names)
        if columns is None
        else _Bearers(columns.patch, columns.bands, names, columns.zone_of)
    )
    checked = []
    for key, case in keyed:
        with blaming_case(key, case):
            checked.append((case, pressed.by(case)))
    loads = tuple(checked)
    folded = firmness.folded and _stood(firmness, firmness.folded, loads, ground)
    if folded is not None and folded.stands:
        notes += lasting_words(cases[0], folded.stands[0])
    rigid = pressed.by_stone(cases[0])
    is_stiff = loads[0][1].sinkage_mm.value < STIFF_MM
    tried = advise(ground, firmness, patch, cases[0]) if is_stiff and columns is None else ()
    said = felt(
        loads[0][1], cases[0], patch, bands, rigid=rigid,
        has_coupons=firmness.has_coupons, advice=advice_words(tried) if columns is None else "",
    )  # fmt: skip
    beside = _beside(ground, pressed, loads[0][1])
    if beside is not None and ground.mat is not None:
        notes += sum_notes(ground.mat, beside)
    tuning = firmness.tuning
    if tuning is not None and ground.job.target.loads == "first":
        goal = goal_of(ground, {})
        told = tuple(words for case, result in loads[1:] for words in beyond(case, cases[0], result, goal))
        tuning = replace(tuning, beyond=told)
    return replace(
        firmness, patch=patch, loads=loads, rigid=rigid, felt=said, advice=tried, tuning=tuning, folded=folded,
        beside=beside,
        notes=(*firmness.notes, *notes),
    )  # fmt: skip


def _beside(ground: Ground, pressed: _Bearers, result: LoadResult) -> MatBeside | None:
    """Return the first load beside what the mat showed, where there is one."""
    if ground.mat is None:
        return None
    patch = pressed.patch
    zone = patch.zone if pressed.zone_of is None else np.asarray(pressed.zone_of)[patch.zone]
    return beside_mat(ground.mat, patch, zone, pressed.names, result)


def _stood(firmness: Firmness, walls: Folded, loads: Sequence[tuple[LoadCase, LoadResult]], ground: Ground) -> Folded:
    """Return the walls with how they stand under each load. Raises SolveError where they would not."""
    if walls.columns is None:
        return walls
    model, stands = model_from_card(ground.card), []
    for case, result in loads:
        found = standing(walls.layout, walls.field, walls.columns, result, model)
        refuse_sway(case, found, partial(_what_holds, ground, firmness, walls, case))
        stands.append(found)
    return replace(walls, stands=tuple(stands))


def _what_holds(ground: Ground, firmness: Firmness, walls: Folded, case: LoadCase) -> str:
    basis, _ = FoldBasis.of(replace(ground, layout=walls.layout))
    moduli = {number: each.target_kpa for number, each in firmness.chosen.items()}
    return what_holds(basis, moduli, firmness.levels.strains, case)


@dataclass(frozen=True, eq=False)
class _Bearers:
    """What bodies are pressed on: columns with their curves, by zones or by kinds that belong to zones."""

    patch: ContactPatch
    bands: Sequence[CurveBand]
    names: Sequence[str]
    zone_of: Sequence[int] | None = None

    def by(self, case: LoadCase, **more: Any) -> LoadResult:
        return check_load(case, self.patch, self.bands, zone_names=self.names, zone_of=self.zone_of, **more)

    def by_stone(self, case: LoadCase) -> LoadResult | None:
        """Return the load by a body without flesh, where the job's has some and the pad can carry a rigid one."""
        if case.flesh is None:
            return None
        try:
            return self.by(replace(case, flesh=None), is_explained=False)
        except SolveError:
            return None


def _bands(ground: Ground, chosen: Mapping[int, Chosen]) -> tuple[list[CurveBand], list[str]]:
    """Return a curve and a name for every zone of the plan; a zone without a region bears nothing."""
    some = next(iter(chosen.values())).curve
    zones = ground.zones.zones
    return [chosen[n].curve if n in chosen else some for n in range(len(zones))], [zone.name for zone in zones]
