"""The commands around printed blocks: make them, and turn what was read on them into a material card."""

from __future__ import annotations

import argparse
import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..core.base.errors import InputError
from ..core.base.files import MOST_TABLE_BYTES, read_named, write_new
from ..core.job.schema import LONGEST_NAME
from .fitted_cards import fill_card, fold_card
from .numbers import number, numbers
from .options import add_command, folder, write_out

_ONCE = {"densities": "shares", "patterns": "structures"}
"""Options of earlier versions and what they are called now."""

_FILAMENTS_MM = (1.75, 2.85)
"""Diameters that filament is sold in; no nozzle is that wide."""


def add_coupon_commands(commands: Any) -> None:
    """Add `coupons` and `calibrate` to the command line; each sets `body`, which returns lines for the person."""
    _add_coupons(commands)
    _add_calibrate(commands)


def _add_coupons(commands: Any) -> None:
    make = add_command(
        commands,
        "coupons",
        "make printable blocks that tell what a filament does",
        "--material tpu_85a --nozzle 0.4 --out blocks  # the sheet there says how to press them",
        "--shares 15,30 --structures gyroid --out few  # fewer blocks",
        "--folds --out fold_blocks  # blocks of folded walls",
    )
    make.add_argument(
        "--material",
        metavar="CARD",
        help="material card or a card file of your own (default: tpu_85a)",
    )
    make.add_argument("--nozzle", metavar="MM", type=number(0.1, 3), help="nozzle diameter (default: 0.4)")
    make.add_argument("--bead", metavar="MM", type=number(0.1, 5), help="bead width (default: 1.125 nozzles)")
    make.add_argument("--layer", metavar="MM", type=number(0.02, 2), help="layer thickness (default: half a nozzle)")
    make.add_argument(
        "--shares",
        metavar="LIST",
        type=numbers(3, 50, percent=True),
        help="fill shares of the blocks, percent (default: 10,15,25)",
    )
    make.add_argument(
        "--structures",
        metavar="LIST",
        help="fill structures, of gyroid, honeycomb, square_grid (default: gyroid,honeycomb)",
    )
    for old, now in _ONCE.items():
        kind = numbers(3, 50, percent=True) if now == "shares" else str
        make.add_argument(f"--{old}", dest=old, type=kind, help=argparse.SUPPRESS)
    make.add_argument(
        "--contours",
        metavar="LIST",
        type=numbers(0, 6, whole=True),
        help="closed beads along the outline (default: 0,2)",
    )
    _add_folds(make)
    make.add_argument("--no-solid", action="store_true", help="leave the solid block out")
    make.add_argument(
        "--body-mass",
        metavar="KG",
        type=number(20, 250),
        default=70.0,
        help="of who presses; half of it is the most a block is asked to bear (default: 70)",
    )
    make.add_argument(
        "--bed",
        metavar="LIST",
        type=numbers(20, 5000, count=2),
        default="220,220",
        help="width and depth of the bed, mm (default: 220,220)",
    )
    make.add_argument("--out", metavar="DIR", type=folder, required=True, help="folder for the files")
    make.set_defaults(body=make_coupons)


def _add_folds(make: argparse.ArgumentParser) -> None:
    make.add_argument(
        "--folds", action="store_true", help="blocks of folded walls instead of fills, for a kitchen scale"
    )
    make.add_argument(
        "--walls", metavar="LIST", type=numbers(1, 8, whole=True), help="with --folds: walls, in beads (default: 2,3)"
    )
    make.add_argument(
        "--slopes",
        metavar="LIST",
        type=numbers(5, 60),
        help="with --folds: slopes from upright, degrees (default: 45,25)",
    )
    make.add_argument(
        "--wall-height", metavar="MM", type=number(6, 40), help="with --folds: between the skins (default: 18)"
    )
    make.add_argument("--pitch", metavar="MM", type=number(1, 20), help="with --folds: from wall to wall (default: 6)")


def _add_calibrate(commands: Any) -> None:
    fit = add_command(
        commands,
        "calibrate",
        "turn what was read on printed blocks into a material card",
        "blocks/readings.csv --out my-tpu.toml  # a job names it: material.card",
        'blocks/readings.csv --name "Red spool" --out red.toml  # say which it is',
    )
    fit.add_argument("readings", metavar="READINGS", help="the filled-in readings.csv")
    fit.add_argument(
        "--coupons", metavar="FILE", help="COUPONS-....run.json of the blocks (default: the one beside READINGS)"
    )
    fit.add_argument(
        "--as-read",
        action="store_true",
        help="take the readings as they are, though they look like a slip; no block is left aside",
    )
    fit.add_argument("--name", metavar="NAME", help="what to call the filament in the card")
    fit.add_argument("--out", metavar="FILE", required=True, help="the card to write; never overwrites one")
    fit.set_defaults(body=calibrate_card)


def make_coupons(args: argparse.Namespace) -> list[str]:
    """Write the blocks into a folder.

    Raises InputError when a wish cannot be met; ExportError when files cannot be written.
    """
    from ..core.job.material_cards import load_material
    from ..core.run.coupons import form_of, pack_coupons
    from ..core.stages.packing.bundle import run_document, write_bundle

    notes = []
    for old, now in _ONCE.items():
        if getattr(args, old) is not None:
            setattr(args, now, getattr(args, old))
            notes.append(f"Read under its old name: --{old}; it is --{now} now.")
    if args.nozzle in _FILAMENTS_MM:
        raise InputError(
            f"--nozzle {args.nozzle:g} is the diameter of filament; a nozzle is narrower.",
            hint="Write the number on the nozzle, most often 0.4.",
        )
    wish = _wish(args)
    packed = pack_coupons(load_material(args.material or "tpu_85a"), wish)
    commit = f"{packed.number}.run.json"
    out = Path(args.out)
    bundle = write_bundle(
        out, {**packed.files, commit: run_document(packed.evidence, packed.files)}, commit_name=commit
    )
    name, form = form_of(packed)
    lines = [
        f"Block {block.coupon.number}: {block.coupon.words}, {block.coupon.edge_mm:g} mm, {block.loads_kg[-1]:g} kg at "
        f"most, a tenth of its height at {_kg(block.tenth_load_kg.value)} kg ({_kg(block.tenth_load_kg.low)} to "
        f"{_kg(block.tenth_load_kg.high)})"
        for block in packed.plan.blocks
    ]
    lines += [f"note: {note}" for note in (*notes, *packed.plan.notes, *bundle.notes)]
    try:
        write_new(bundle.folder / name, form)
    except FileExistsError:
        lines.append(f"note: {name} is there already and is left as it is.")
    sheet = f"{packed.number}.sheet.txt"
    lines.append(f"Written to {bundle.folder}: {', '.join(bundle.names)}, {name}. How to press them: {sheet}.")
    return lines


def _kg(load: float) -> str:
    return f"{load:.0f}" if load >= 5.0 else f"{load:.2g}"


_OF_FILLS = ("shares", "structures", "contours")
_OF_FOLDS = ("walls", "slopes", "wall_height", "pitch")


def _wish(args: argparse.Namespace) -> Any:
    """Return what the options ask for; those of the other kind of blocks are refused."""
    from ..core.stages.material.coupons.coupons import CouponWish
    from ..core.stages.material.coupons.fold_coupons import FoldWish

    strange = [name for name in (_OF_FILLS if args.folds else _OF_FOLDS) if getattr(args, name) is not None]
    if strange:
        option = "--" + strange[0].replace("_", "-")
        kind = "fills; blocks of folded walls have none" if args.folds else "blocks of folded walls"
        raise InputError(
            f"{option} is for {kind}.", hint=f"{'Leave it out' if args.folds else 'Add --folds'}, or make two sets."
        )
    structures = None if args.structures is None else tuple(each.strip() for each in args.structures.split(","))
    asked: dict[str, Any] = {
        "structures": structures,
        "solid_shares_pct": None if args.shares is None else tuple(args.shares),
        "contours": None if args.contours is None else tuple(int(count) for count in args.contours),
        "nozzle_mm": args.nozzle,
        "bead_width_mm": args.bead,
        "layer_thickness_mm": args.layer,
    }
    asked = {name: value for name, value in asked.items() if value is not None}
    wish = CouponWish(
        **asked,
        has_solid=not args.no_solid,
        body_mass_kg=args.body_mass,
        bed_mm=(args.bed[0], args.bed[1]),
        stated=frozenset(asked) | ({"material"} if args.material else frozenset()),
    )
    if not args.folds:
        return wish
    folds = {
        "beads": None if args.walls is None else tuple(int(beads) for beads in args.walls),
        "slopes_deg": None if args.slopes is None else tuple(args.slopes),
        "core_mm": args.wall_height,
        "pitch_mm": args.pitch,
    }
    return FoldWish(wish, **{name: value for name, value in folds.items() if value is not None})


def calibrate_card(args: argparse.Namespace) -> list[str]:
    """Fit the material and write its card.

    Raises InputError when the readings or the record of the blocks cannot be used, or the card is there already;
    SolveError when the fit does not settle.
    """
    from ..core.job.material_cards import write_material
    from ..core.run.coupons import read_record
    from ..core.stages.material.coupons.calibrate_checks import refuse_unmoved
    from ..core.stages.material.coupons.fold_coupons import FoldCoupon
    from ..core.stages.material.coupons.readings import MOST_READINGS_BYTES, read_readings

    path, out = Path(args.readings), Path(args.out)
    if out.exists():
        raise InputError(f'"{out}" is there already and is left as it is.', hint="Give another --out.")
    data = read_named(path, "The table of readings", most_bytes=MOST_READINGS_BYTES)
    record = Path(args.coupons) if args.coupons else _record_beside(path)
    number, card, coupons = read_record(
        read_named(record, "The record of the blocks", most_bytes=MOST_TABLE_BYTES), record.name
    )
    readings = read_readings(data, path.name, coupons)
    refuse_unmoved(coupons, readings)
    if args.name and (len(args.name) > LONGEST_NAME or not args.name.isprintable()):
        raise InputError(f"--name has {len(args.name)} characters; one line of up to {LONGEST_NAME} is taken.")
    digest = hashlib.sha256(data).hexdigest()[:16]
    source = f"blocks of {number}; {path.name}, sha256 {digest}"
    is_folded = any(isinstance(coupon, FoldCoupon) for coupon in coupons)
    fitted, told = (fold_card if is_folded else fill_card)(card, coupons, readings, source, is_trusted=args.as_read)
    is_own = card.calibration is not None or card.fold_calibration is not None
    named = args.name or (card.name if is_own else f"{card.name}, calibrated"[:200])
    new = replace(fitted, id=_slug(out.stem, card.id), name=named)
    write_out(out, write_material(new).encode())
    return [*told, f'Wrote {out}. In a job: [material] card = "{out.name}"']


def _record_beside(path: Path) -> Path:
    found = sorted(path.parent.glob("COUPONS-*.run.json"))
    if len(found) != 1:
        raise InputError(
            f'Beside "{path.name}" there are {len(found)} run documents of blocks; it takes one.',
            hint="Name it with --coupons.",
        )
    return found[0]


def _slug(stem: str, other: str) -> str:
    import re

    text = re.sub(r"[^A-Za-z0-9._-]", "_", stem)[:40]
    return text if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*[A-Za-z0-9_-]", text) else other
