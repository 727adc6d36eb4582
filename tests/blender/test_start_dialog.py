"""The dialog that starts a part: it asks for what the family needs, and says at once what cannot be used."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import pytest


class Lines:
    """Takes what is drawn."""

    def __init__(self):
        self.fields, self.said = [], []

    def prop(self, _data, name):
        self.fields.append(name)

    def column(self, **_):
        return self

    def label(self, text, icon):
        self.said.append(text)


def drawn(inside, **typed):
    values = {"family": "seat_pad", "part_name": "Pad", "number": "A-7", "is_no_certified_gear": False, **typed}
    lines, kind = Lines(), inside("blender.operators_part").PADWRIGHT_OT_start_part
    dialog = SimpleNamespace(layout=lines, **values)
    dialog._checked = lambda: kind._checked(dialog)
    kind.draw(dialog, bpy.context)
    return lines.fields, " ".join(lines.said)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, ""),
        ({"number": "my/7"}, "The part number cannot be used"),
        ({"part_name": ""}, "The part name cannot be used"),
        ({"family": "liner_pad"}, 'tick "Not for Certified Gear"'),
    ],
)
def test_what_cannot_be_used_is_said_while_typing(inside, typed, said):
    _, found = drawn(inside, **typed)
    assert said in found if said else found == ""


def test_certified_gear_is_asked_only_where_it_matters(inside):
    assert "is_no_certified_gear" not in drawn(inside)[0]
    assert "is_no_certified_gear" in drawn(inside, family="liner_pad")[0]
