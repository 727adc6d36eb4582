"""Words on the screen: every operator, property and panel has them, in the modeller's own style."""

from __future__ import annotations

import re

import bpy
import pytest

SMALL = {"a", "an", "and", "as", "at", "by", "for", "from", "in", "into", "of", "on", "or", "per", "the", "to", "with"}
UNITS = {"(g)", "(°)", "(mm)", "(kg)", "(kPa)", "(%)"}
BASE = {prop.identifier for kind in (bpy.types.Operator, bpy.types.PropertyGroup) for prop in kind.bl_rna.properties}
HELPERS = {"filepath", "filter_glob", "check_existing", "rna_type", "name"}


def operators():
    return [getattr(bpy.ops.padwright, name).get_rna_type() for name in dir(bpy.ops.padwright)]


def groups():
    """Return every property group that hangs on the scene, at any depth."""
    found = {}
    waiting = [bpy.types.Scene.bl_rna.properties["padwright"].fixed_type]
    while waiting:
        kind = waiting.pop()
        found[kind.identifier] = kind
        for prop in kind.properties:
            inner = prop.fixed_type if prop.type in ("POINTER", "COLLECTION") else None
            if inner is not None and inner.identifier.startswith("PADWRIGHT_") and inner.identifier not in found:
                waiting.append(inner)
    return list(found.values())


def is_title(text: str) -> bool:
    words = [word for word in text.split() if word not in UNITS]
    return all(word in SMALL if number and word.islower() else word[0].isupper() or word[0].isdigit()
               for number, word in enumerate(words))  # fmt: skip


@pytest.fixture
def symbols(inside):
    """Return the symbols of units that a choice may be: those it is written as in a job, some without a capital."""
    return frozenset(inside("core.job.mat_table").KPA_PER_UNIT)


def is_choice_title(item, symbols) -> bool:
    """Say if a choice has a title; one of a unit is called by the unit's symbol, exactly as it is written."""
    return is_title(item.name) or (item.name == item.identifier and item.name in symbols)


def is_tooltip(text: str) -> bool:
    return (bool(text) and text[0].isupper() and text[-1].isalnum()) or text.endswith(")")


def test_there_are_operators():
    assert len(operators()) >= 20


def test_operators_have_a_title_and_a_tooltip():
    wrong = [each.identifier for each in operators() if not (is_title(each.name) and is_tooltip(each.description))]
    assert wrong == []


def test_properties_have_a_title_and_a_tooltip(symbols):
    wrong = []
    for kind in [*operators(), *groups()]:
        for prop in kind.properties:
            if prop.identifier in HELPERS:
                continue
            if not (is_title(prop.name) and is_tooltip(prop.description)):
                wrong.append(f"{kind.identifier}.{prop.identifier}: {prop.name} / {prop.description}")
            if prop.type == "ENUM":
                wrong += [
                    f"{kind.identifier}.{prop.identifier}.{item.identifier}: {item.name} / {item.description}"
                    for item in prop.enum_items
                    if not (is_choice_title(item, symbols) and is_tooltip(item.description))
                ]
    assert wrong == []


def test_a_unit_of_pressure_says_what_it_is_in_kpa(inside, symbols):
    items = bpy.types.Scene.bl_rna.properties["padwright"].fixed_type.properties["mat_unit"].enum_items
    kpa = inside("core.job.mat_table").KPA_PER_UNIT
    units = [item for item in items if item.identifier in symbols]
    assert {item.identifier for item in units} == set(kpa)
    assert len({item.description for item in items}) == len(items)  # none repeats another's
    for item in units[1:]:  # the first is kPa itself
        times, of = re.search(r": 1 is ([\d.]+) (\w+)$", item.description).groups()
        assert (float(f"{kpa[item.identifier]:.3g}"), "kPa") == (float(times), of)


def test_units_are_named():
    for kind in groups():
        for prop in kind.properties:
            if prop.identifier.endswith("_mm"):
                assert prop.name.endswith("(mm)"), prop.identifier


def test_no_class_is_left_out(inside):
    """The tests above walk what the modeller knows; every registered class must be among it."""
    walked = {each.identifier for each in (*operators(), *groups())}
    classes = inside("blender.registration").CLASSES
    named = {each.__name__ for each in classes if issubclass(each, (bpy.types.Operator, bpy.types.PropertyGroup))}
    assert named == walked


def test_panels_have_a_title(inside):
    panels = [each for each in inside("blender.registration").CLASSES if issubclass(each, bpy.types.Panel)]
    assert len(panels) >= 9
    assert [each.__name__ for each in panels if not (each.bl_label and is_title(each.bl_label))] == []
    assert {each.bl_category for each in panels} == {"Padwright"}


@pytest.mark.parametrize("british", ["centre", "colour", "neighbour", "metre", "grey", "millimetre", "licence"])
def test_labels_are_in_us_english(inside, british):
    texts = [each.bl_label for each in inside("blender.registration").CLASSES if issubclass(each, bpy.types.Panel)]
    for kind in [*operators(), *groups()]:
        texts += [kind.name, kind.description]
        for prop in kind.properties:
            texts += [prop.name, prop.description]
            if prop.type == "ENUM":
                texts += [text for item in prop.enum_items for text in (item.name, item.description)]
    assert [text for text in texts if british in text.lower()] == []


def test_what_changes_data_can_be_undone(inside):
    files = {f"PADWRIGHT_OT_{each}" for each in ("export_part", "export_selection", "save_job", "open_page")}
    for kind in inside("blender.registration").CLASSES:
        if issubclass(kind, bpy.types.Operator):
            assert ("UNDO" in kind.bl_options) == (kind.__name__ not in files), kind
