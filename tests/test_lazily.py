"""What a room offers is listed once, and every name on the list is there."""

from __future__ import annotations

from importlib import import_module

import pytest


@pytest.mark.parametrize("room", ["plan", "demand", "wear"])
def test_every_name_a_room_offers_can_be_had(room):
    package = import_module(f"wearplan.{room}")
    assert len(package.__all__) >= 5
    for name in package.__all__:
        assert getattr(package, name) is not None
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        package.nothing  # noqa: B018
