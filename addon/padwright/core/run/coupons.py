"""Blocks to press as files, and back: the same writers as for parts, and a record that `calibrate` reads."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np

from ..base.errors import InputError
from ..base.files import InputFile
from ..base.ramps import FIRMNESS
from ..base.resources import version
from ..job.cards import Caution, Level
from ..job.keys import keys_of
from ..job.material_cards import MaterialCard, read_material
from ..job.renames import SETTINGS, renewed
from ..job.schema import STRUCTURES
from ..stages.material.coupons.coupons import Coupon, CouponSet, CouponWish, PlannedCoupon, plan_coupons
from ..stages.material.coupons.fold_coupons import FoldCoupon, FoldWish, plan_fold_coupons
from ..stages.material.coupons.fold_shapes import FoldShape
from ..stages.material.fill import RegionGeometry
from ..stages.material.material_model import model_from_card
from ..stages.material.region_settings import RegionSettings
from ..stages.packing.coupon_sheet import coupon_sheet, readings_form
from ..stages.packing.fold_sheet import fold_sheet
from ..stages.packing.sidecar import TOOL, run_time_utc, stl_name, threemf_name, write_sidecar
from ..stages.packing.sidecar_parts import PartRecord, Provenance, ScaleRecord, SidecarParts
from ..stages.packing.stl import write_stl
from ..stages.packing.threemf import PartSheet, to_bed_matrix, write_threemf
from ..stages.packing.thumbnail import firmness_color, thumbnail_png
from ..stages.regions.bodies import pack_bodies
from ..stages.regions.regions import Region
from .settings_document import material_record

RECORD = "coupons"
"""Name of the blocks' record in the run document."""

_STRIP = "bridges"
"""Region id of the strip beside blocks of folds."""

_CAUTIONS = (
    Caution(
        code="PRESS_BY_HAND",
        severity="caution",
        brief="Lean on the board by hand; never stand or jump on it; not for children.",
        text="Lean on the board with your hands, both feet on the floor. Never stand, kneel or jump on it: a block "
        "tips or shoots out. Keep fingers out from under it. Not for children.",
        source="common practice, no source",
    ),
)


@dataclass(frozen=True, eq=False)
class PackedCoupons:
    """The files of a set of blocks."""

    number: str
    plan: CouponSet
    files: Mapping[str, bytes]  # by name
    evidence: Mapping[str, Any]  # for the run document


def pack_coupons(card: MaterialCard, wish: CouponWish | FoldWish) -> PackedCoupons:
    """Return the blocks for a material as files in memory: blocks of fill, or of folded walls with a strip of bridges.

    Raises InputError when a wish is out of range or the blocks do not fit the bed; ExportError when a block would not
    print as a solid.
    """
    model = model_from_card(card)
    is_folded = isinstance(wish, FoldWish)
    plan = plan_fold_coupons(model, card, wish) if isinstance(wish, FoldWish) else plan_coupons(model, card, wish)
    number = f"COUPONS-{card.id}{'-folds' if is_folded else ''}"
    levels, level_of = _levels(plan)
    regions = [_region(block, level_of[block.coupon.number], at) for at, block in enumerate(plan.blocks)]
    settings = {block_id(block): block.coupon.settings for block in plan.blocks}
    if plan.strip is not None:
        strip, firmness = plan.strip, regions[0].firmness_level
        regions.append(Region(_STRIP, "Strip of bridges", firmness, strip, strip.volume / 1000.0, len(regions)))
        settings[_STRIP] = plan.blocks[0].coupon.settings
    bodies = pack_bodies(regions)
    to_bed = to_bed_matrix(bodies)
    created = run_time_utc()
    files: dict[str, bytes] = {stl_name(number, body.id): write_stl(body, number, to_bed) for body in bodies}
    card_bytes = json.dumps(_card_record(card), sort_keys=True).encode()
    down = np.array([0.0, 0.0, -1.0])
    parts = SidecarParts(
        part=PartRecord(
            f"Blocks to press, {card.name}"[:200], number, "1", down, to_bed, description="pressed to calibrate",
            origin="corner of the bed, z up, in mm",
        ),
        bodies=bodies,
        settings=settings,
        levels=levels,
        material=material_record(card),
        provenance=Provenance(
            version(), created,
            (InputFile("other", f"{card.id}.toml", hashlib.sha256(card_bytes).hexdigest()),),
            ScaleRecord(1.0, 0.0, "unknown", "none"),
        ),
        cautions=_CAUTIONS,
        predicted={block_id(block): {"modulus_kPa": _modulus(block)} for block in plan.blocks},
        stl_sha256={body.id: hashlib.sha256(files[stl_name(number, body.id)]).hexdigest() for body in bodies},
    )  # fmt: skip
    sidecar = write_sidecar(parts)
    colors = [firmness_color(body.firmness_level, [level.display_color for level in levels]) for body in bodies]
    sheet = PartSheet(parts.part.name, number, card.name, created, f"{TOOL} {version()}", "Blocks to press")
    files[threemf_name(number)] = write_threemf(
        bodies, sheet, sidecar=sidecar, to_bed=to_bed, thumbnail=thumbnail_png(bodies, down, colors=colors)
    )
    files[f"{number}.settings.json"] = sidecar
    files[f"{number}.sheet.txt"] = (fold_sheet if is_folded else coupon_sheet)(plan, number, card.name).encode()
    evidence = {
        "tool": {"name": TOOL, "version": version()},
        "created_utc": created,
        RECORD: {
            "number": number,
            "material": _card_record(card),
            "most_load_kg": plan.most_load_kg,
            "blocks": [_block_record(block) for block in plan.blocks],
        },
        "notes": list(plan.notes),
    }
    return PackedCoupons(number, plan, files, evidence)


def form_of(packed: PackedCoupons) -> tuple[str, bytes]:
    """Return name and content of the table to fill in; it is the person's from then on and no file of the run."""
    return "readings.csv", readings_form(packed.plan, packed.number).encode()


def block_id(block: PlannedCoupon) -> str:
    """Return the region id of a block."""
    return f"block-{block.coupon.number}"


def _block_name(block: PlannedCoupon) -> str:
    return f"Block {block.coupon.number}: {block.coupon.words}"


def _modulus(block: PlannedCoupon) -> dict[str, Any]:
    band = block.curve
    return {
        "value": band.value.secant_kpa(), "low": band.low.secant_kpa(), "high": band.high.secant_kpa(),
        "basis": band.basis, "at_strain_pct": 10.0, "note": "free to spread between slippery plates",
    }  # fmt: skip


def _region(block: PlannedCoupon, level: float, zone: int) -> Region:
    return Region(block_id(block), _block_name(block), level, block.mesh, block.mesh.volume / 1000.0, zone)


def _levels(plan: CouponSet) -> tuple[list[Level], dict[int, float]]:
    """Return a scale from the softest to the firmest block, and where each lies on it, along the logarithm."""
    moduli = {block.coupon.number: block.curve.value.secant_kpa() for block in plan.blocks}
    softest = min(plan.blocks, key=lambda block: moduli[block.coupon.number])
    firmest = max(plan.blocks, key=lambda block: moduli[block.coupon.number])
    low, high = moduli[softest.coupon.number], moduli[firmest.coupon.number]
    levels = [_level(1, "softest block", FIRMNESS[0], softest)]
    if high > low:
        levels.append(_level(2, "firmest block", FIRMNESS[-1], firmest))
    span = np.log(high / low) or 1.0
    return levels, {number: 1.0 + float(np.log(value / low) / span) for number, value in moduli.items()}


def _level(level: int, name: str, color: str, block: PlannedCoupon) -> Level:
    printed = {each.name for each in fields(Level)} & {each.name for each in fields(RegionSettings)}
    return Level(
        level=level,
        name=name,
        target_modulus_kpa=block.curve.value.secant_kpa(),
        display_color=color,
        source=f"the model of {block_id(block)}",
        **{each: getattr(block.coupon.settings, each) for each in printed},
    )


def _block_record(block: PlannedCoupon) -> dict[str, Any]:
    coupon = block.coupon
    shape = {"shape": asdict(coupon.shape)} if isinstance(coupon, FoldCoupon) else {}
    return {
        "number": coupon.number,
        "words": coupon.words,
        "edge_mm": coupon.edge_mm,
        "geometry": asdict(coupon.geometry),
        "settings": coupon.settings.as_json(),
        "loads_kg": list(block.loads_kg),
        "sinks_mm": [sink.as_json() for sink in block.sinks_mm],
        "tenth_load_kg": block.tenth_load_kg.as_json(),
        "reading_error_share": block.tenth_error,
        "mass_g": block.mass_g,
        **shape,
    }


def _card_record(card: MaterialCard) -> dict[str, Any]:
    record = {name: getattr(card, field) for name, (field, _, _) in keys_of(MaterialCard).items()}
    for table in ("calibration", "fold_calibration"):
        found = getattr(card, table)
        if found is not None:
            record[table] = {
                name: list(value) if isinstance(value, tuple) else value for name, value in asdict(found).items()
            }
    return {name: value for name, value in record.items() if value is not None}


_SIZES = {
    "nozzle_diameter_mm": (0.1, 3.0), "bead_width_mm": (0.1, 5.0), "layer_thickness_mm": (0.02, 5.0),
    "solid_share_pct": (0.0, 100.0), "contour_count": (0, 50), "body_side_layer_count": (0, 200),
    "base_side_layer_count": (0, 200),
}  # fmt: skip

_SHAPE_SIZES = {
    "core_mm": (1.0, 100.0), "skin_mm": (0.1, 20.0), "pitch_mm": (0.2, 100.0), "slope_deg": (0.0, 75.0),
    "walls_a_half": (2, 100),
}  # fmt: skip


def _is_block(coupon: Coupon) -> bool:
    """Say if a block from a record is one that can have been printed."""
    sizes = [(getattr(coupon.settings, name), *limits) for name, limits in _SIZES.items()]
    sizes += [(getattr(coupon.geometry, item.name), 1e-3, 1e6) for item in fields(coupon.geometry)]
    sizes += [(coupon.edge_mm, 1.0, 1000.0), (coupon.number, 1, 1000)]
    if isinstance(coupon, FoldCoupon):
        sizes += [(getattr(coupon.shape, name), *limits) for name, limits in _SHAPE_SIZES.items()]
        sizes.append((coupon.shape.wall_mm, 0.05, 0.95 * coupon.shape.pitch_mm))
    known = coupon.settings.fill_structure in STRUCTURES
    return known and all(low <= float(value) <= high for value, low, high in sizes)


def _block_of(record: Mapping[str, Any]) -> Coupon:
    settings = RegionSettings(**renewed(record["settings"], {}, SETTINGS).tables)
    number, edge = int(record["number"]), float(record["edge_mm"])
    geometry = RegionGeometry(**record["geometry"])
    if "shape" in record:
        return FoldCoupon(number, settings, edge, geometry, FoldShape(**record["shape"]))
    return Coupon(number, settings, edge, geometry)


def read_record(data: bytes, name: str) -> tuple[str, MaterialCard, tuple[Coupon, ...]]:
    """Return number, material card and blocks from the run document of `coupons`.

    Raises InputError when it is no such document.
    """
    try:
        record = json.loads(data)[RECORD]
        number, material = str(record["number"]), record["material"]
        coupons = tuple(_block_of(each) for each in record["blocks"])
        if not all(_is_block(each) for each in coupons) or len({each.number for each in coupons}) != len(coupons):
            raise ValueError
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError, RecursionError) as error:
        raise InputError(
            f'"{name}" does not say which blocks were printed ({type(error).__name__}).',
            hint='Name the ".run.json" that `coupons` wrote.',
        ) from None
    return number, read_material(material, {}, name), coupons
