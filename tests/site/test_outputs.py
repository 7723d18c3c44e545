"""Pages and tables: a good one is never half written over, a link never followed."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from wearplan.site.write import durable
from wearplan.site.write.outputs import write_output


def test_a_full_disk_leaves_the_page_that_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.html"
    page.write_text("good", encoding="utf-8")

    def full(handle: int, payload: bytes) -> None:
        os.write(handle, payload[:3])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(durable, "write_all", full)
    with pytest.raises(OSError, match="page"):
        write_output(page, "a much longer page")
    assert page.read_text(encoding="utf-8") == "good"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


def test_a_link_is_replaced_and_not_followed(tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("mine", encoding="utf-8")
    page = tmp_path / "out" / "page.html"
    page.parent.mkdir()
    page.symlink_to(precious)
    write_output(page, "page")
    assert precious.read_text(encoding="utf-8") == "mine"
    assert not page.is_symlink()
    assert page.read_text(encoding="utf-8") == "page"


def test_a_device_is_written_to_as_it_is() -> None:
    write_output(Path(os.devnull), "page")
    assert not Path(os.devnull).is_file()
