"""A drive's use of tools on its draws, packed so that it can travel from a worker and be kept."""

from __future__ import annotations

import base64
import copyreg
import pickle
import zlib
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wearplan.demand import DriveUse


def _held(values: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(values)


# the records' mappings cannot be changed, and pickle has no word for such a mapping
copyreg.pickle(MappingProxyType, lambda mapping: (_held, (dict(mapping),)))


def pack(use: DriveUse) -> str:
    """As a line of text."""
    return base64.b64encode(zlib.compress(pickle.dumps(use, protocol=5))).decode("ascii")


def unpack_use(text: str) -> DriveUse:
    """Back from `pack`. Only for what this program wrote itself: into the user's own state folder, or to its parent."""
    found: DriveUse = pickle.loads(zlib.decompress(base64.b64decode(text)))
    return found
