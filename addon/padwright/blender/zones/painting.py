"""What the artist paints: which vertex group is whose, which zones are painted, and paint kept on a pad built anew.

A zone keeps the name of its group, so that both may be renamed. A group is the artist's from the first stroke on: when
it differs from what was last written into it, or is locked.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from ...core.base.errors import InputError
from ...core.base.mesh import Float
from .. import attributes, bridge

_GROUPS = "padwright_groups"  # on the pad: names of its vertex groups when zones and groups were last in step


def links(part: Any) -> dict[int, str]:
    """Return the name of each zone's vertex group on the pad, by the zone's number; zones without one are left out.

    A group that was renamed is known by its place among those that kept their names.
    """
    if part.pad is None:
        return {}
    names = [group.name for group in part.pad.vertex_groups]
    known = json.loads(part.pad.get(_GROUPS, "[]"))
    renamed: dict[str, str] = {}
    if len(known) == len(names):
        renamed = {old: new for old, new in zip(known, names, strict=True) if old not in names and new not in known}
    found: dict[int, str] = {}
    for number, zone in enumerate(part.zones):
        name = renamed.get(zone.group, zone.group)
        if name and name in names and name not in found.values():
            found[number] = name
    for number, zone in enumerate(part.zones):  # a group made by hand under the zone's name
        if number not in found and zone.name in names and zone.name not in found.values():
            found[number] = zone.name
    return found


def tie(part: Any) -> None:
    """Note in every zone what its vertex group is called now."""
    if part.pad is None:
        return
    found = links(part)
    for number, zone in enumerate(part.zones):
        zone.group = found.get(number, "")
    remember_groups(part.pad)


def remember_groups(pad: bpy.types.Object) -> None:
    """Keep the names of the pad's vertex groups, to tell later which was renamed."""
    pad[_GROUPS] = json.dumps([group.name for group in pad.vertex_groups])


def rename_group(part: Any, zone: Any) -> None:
    """Give a zone's vertex group the zone's name, unless another group has it."""
    pad = part.pad
    if pad is None or not zone.group or zone.group == zone.name or not zone.name or zone.name in pad.vertex_groups:
        return
    group = pad.vertex_groups.get(zone.group)
    if group is not None:
        group.name = zone.name
        zone.group = group.name
        remember_groups(pad)


def group_of(part: Any, number: int) -> bpy.types.VertexGroup:
    """Return a zone's vertex group, made when it is not there."""
    tie(part)
    zone = part.zones[number]
    group = part.pad.vertex_groups.get(zone.group) if zone.group else None
    if group is None:
        group = part.pad.vertex_groups.new(name=zone.name)
        zone.group = group.name
        remember_groups(part.pad)
    return group


def drop_group(part: Any, zone: Any) -> None:
    """Remove a zone's vertex group and what was noted of it."""
    group = part.pad.vertex_groups.get(zone.group) if part.pad is not None and zone.group else None
    if group is not None:
        part.pad.vertex_groups.remove(group)
        remember_groups(part.pad)
    zone.group = zone.written = zone.paint = ""
    zone.is_painted = False


def free_name(part: Any, name: str) -> str:
    """Return a name for a new zone that no zone and no vertex group has yet."""
    taken = {zone.name for zone in part.zones}
    if part.pad is not None:
        taken |= {group.name for group in part.pad.vertex_groups}
    return next(each for number in range(1, 1000) if (each := name if number == 1 else f"{name} {number}") not in taken)


def shares(part: Any) -> dict[int, Float]:
    """Return the share of every pad vertex, (n,), in each zone that has a vertex group, by the zone's number."""
    found = links(part)
    read = attributes.read_groups(part.pad, list(found.values())) if found else {}
    return {number: read[name] for number, name in found.items()}


def painted(part: Any) -> dict[int, Float]:
    """Return the shares of the zones that the artist has painted, by the zone's number."""
    names = links(part)
    return {
        number: share
        for number, share in shares(part).items()
        if share.any()
        and (fingerprint(share) != part.zones[number].written or part.pad.vertex_groups[names[number]].lock_weight)
    }


def note_painted(part: Any) -> dict[int, Float]:
    """Set the mark of every zone that is painted, and return their shares as `painted` does."""
    tie(part)
    found = painted(part)
    for number, zone in enumerate(part.zones):
        zone.is_painted = number in found
        zone.paint = fingerprint(found[number]) if number in found else ""
    return found


def fingerprint(share: np.ndarray) -> str:
    """Return a short text that changes when a brush has touched a vertex group."""
    steps = np.round(share * 1000.0).astype(np.int32)
    return hashlib.sha256(steps.tobytes()).hexdigest()[:16]


def paint(part: Any, number: int, share: Float) -> None:
    """Write a zone's shares as if the artist had painted them."""
    check_pad(part, len(share))
    attributes.write_group(part.pad, group_of(part, number).name, share)
    part.zones[number].written = ""
    note_painted(part)


def show_data(part: Any, found: dict[int, Float]) -> None:
    """Write what data gave into the groups of zones that are not painted; it is not taken for paint later."""
    is_kept = note_painted(part)
    for number, share in found.items():
        check_pad(part, len(share))
        if number not in is_kept:
            attributes.write_group(part.pad, group_of(part, number).name, share)
    read = shares(part)
    for number, zone in enumerate(part.zones):
        if number in found and number not in is_kept:
            zone.written = fingerprint(read[number])


def check_pad(part: Any, count: int) -> None:
    """Refuse to write onto a pad with other vertices than the result is of.

    Raises InputError when the pad was edited, joined or is gone.
    """
    there = 0 if part.pad is None else len(part.pad.data.vertices)
    if there != count:
        raise InputError(
            f"The pad was edited: it has {there} vertices and was built with {count}.",
            hint="Build the pad again; what you painted is carried over.",
        )


@dataclass(frozen=True, eq=False)
class Kept:
    """What of a pad is the artist's; its length is the number of painted zones."""

    places: Float  # (n, 3) float, of the vertices, in the pad's own coordinates
    groups: dict[str, Float]  # (n,) each, shares of painted zones and of the artist's own groups
    locked: set[str]
    zones: set[str]  # which of the groups are zones

    def __len__(self) -> int:
        """Return the number of painted zones."""
        return len(self.zones)


def take(part: Any) -> Kept:
    """Return what of the pad is the artist's, to be put on a pad built anew."""
    if part.pad is None or not part.pad.vertex_groups:
        return Kept(np.zeros((0, 3)), {}, set(), set())
    tie(part)
    is_kept = painted(part)
    zones = {part.zones[number].group for number in is_kept}
    data = {zone.group for zone in part.zones if zone.group} - zones
    names = [group.name for group in part.pad.vertex_groups if group.name not in data]
    locked = {group.name for group in part.pad.vertex_groups if group.lock_weight}
    return Kept(bridge.read_mesh(part.pad).vertices, attributes.read_groups(part.pad, names), locked, zones)


def put(part: Any, kept: Kept) -> None:
    """Paint the pad as it was painted before: every vertex as the nearest one was."""
    from scipy.spatial import cKDTree

    if kept.groups:
        _, nearest = cKDTree(kept.places).query(bridge.read_mesh(part.pad).vertices)
    for name, share in kept.groups.items():
        attributes.write_group(part.pad, name, share[nearest])
        part.pad.vertex_groups[name].lock_weight = name in kept.locked
    for zone in part.zones:
        if zone.group in kept.zones:
            zone.written = ""
    remember_groups(part.pad)
