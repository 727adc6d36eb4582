"""Columns by themselves, as closed forms have them: without what the pad around a narrow contact adds."""

import pytest

from padwright.core.stages.load import narrow_contacts
from padwright.core.stages.load.contact_pieces import AS_COLUMNS


@pytest.fixture
def columns_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the pad around contacts, as if it had no stiffness."""
    monkeypatch.setattr(narrow_contacts, "narrow_ratio", lambda *_: AS_COLUMNS)
    monkeypatch.setattr(narrow_contacts, "_half_space", lambda *_: 0.0)
