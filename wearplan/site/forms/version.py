"""The version of the folder's format."""

from __future__ import annotations

FORMAT = 1
"""What this program reads and writes; a newer one is refused with a clear word."""
