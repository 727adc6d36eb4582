"""What a viewport's shading was before something was shown in it."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from padwright.blender.view import shading


class Viewport:
    """A shading whose settings belong to its type, as the modeller's do."""

    def __init__(self) -> None:
        self.type = "WIREFRAME"
        self.of_type = {"WIREFRAME": {"color_type": "RANDOM"}, "SOLID": {"color_type": "OBJECT"}}

    @property
    def color_type(self) -> str:
        return self.of_type[self.type]["color_type"]

    @color_type.setter
    def color_type(self, value: str) -> None:
        self.of_type[self.type]["color_type"] = value


@pytest.fixture(autouse=True)
def forgotten():
    shading.forget()
    yield
    shading.forget()


def test_settings_of_a_type_come_back_with_it():
    own = Viewport()
    shading.change("values", own, {"type": "SOLID", "color_type": "VERTEX"})
    assert (own.type, own.color_type) == ("SOLID", "VERTEX")
    shading.put_back("values", [own])
    assert (own.type, own.of_type) == ("WIREFRAME", Viewport().of_type)


def test_what_is_shown_together_is_put_back_each_by_itself():
    own = SimpleNamespace(type="SOLID", color_type="RANDOM", light="STUDIO")
    shading.change("regions", own, {"color_type": "MATERIAL"})
    shading.change("values", own, {"color_type": "VERTEX", "light": "FLAT"})
    shading.put_back("values", [own])
    assert (own.color_type, own.light) == ("MATERIAL", "STUDIO")
    own.type = "RENDERED"  # by the person
    shading.put_back("regions", [own])
    assert (own.type, own.color_type) == ("RENDERED", "RANDOM")


def test_another_file_has_viewports_of_its_own():
    own = SimpleNamespace(color_type="RANDOM")
    shading.change("regions", own, {"color_type": "MATERIAL"})
    shading.forget()
    shading.put_back("regions", [own])
    shading.put_back("values", [own], {"color_type": "OBJECT"})
    assert own.color_type == "OBJECT"
