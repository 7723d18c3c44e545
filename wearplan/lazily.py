"""Names a package offers and imports only when they are asked for, listed once: in its block for type checkers."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from importlib import import_module
from typing import Any

_OFFER = re.compile(r"^    from ([\w.]+) import (\w+) as \2$", re.MULTILINE)


def lazily(package: str) -> Callable[[str], Any]:
    """A module's ``__getattr__`` that imports what its ``if TYPE_CHECKING:`` block names, line by line as
    ``from HOME import NAME as NAME``.
    """
    homes: dict[str, str] = {}

    def look_up(name: str) -> Any:
        if not homes:
            spec = sys.modules[package].__spec__
            source = getattr(spec.loader, "get_source")(package) if spec else ""  # noqa: B009  (any loader of text has it)
            homes.update({offered: home for home, offered in _OFFER.findall(source)})
        if name == "__all__":
            return sorted(homes)
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(homes[name]), name)

    return look_up
