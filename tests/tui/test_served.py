"""The app in a browser on this machine: no other page and no other name gets an answer."""

from __future__ import annotations

import re

import pytest

from wearplan.tui import browser


@pytest.mark.parametrize(
    ("host", "origin", "answered"),
    [
        ("localhost:8017", None, True),
        ("localhost:8017", "http://localhost:8017", True),
        ("127.0.0.1:8017", "http://127.0.0.1:8017", True),
        ("localhost:8017", "http://localhost:9000", False),
        ("localhost:8017", "https://localhost:8017", False),
        ("localhost:8017", "http://example.org", False),
        ("localhost:8017", "null", False),
        ("example.org:8017", None, False),
        ("localhost", None, False),
        ("", None, False),
    ],
)
def test_only_pages_of_this_server_are_answered(host: str, origin: str | None, answered: bool) -> None:
    assert browser.is_own(host, origin, 8017) is answered


def test_the_page_names_no_address_outside_and_the_policy_allows_none() -> None:
    page = (browser.TEMPLATES / "app_index.html").read_text(encoding="utf-8")
    assert not re.search(r"//", page)
    for part in browser.policy(8017).split(";"):
        for source in part.split()[1:]:
            assert (
                source.startswith("'") or source == "data:" or re.match(r"ws://(localhost|127\.0\.0\.1):8017$", source)
            )


def test_it_listens_on_the_loopback_alone_and_refuses_a_stranger() -> None:
    pytest.importorskip("textual_serve")
    import asyncio

    from aiohttp.test_utils import TestClient, TestServer

    async def flow() -> list[int]:
        served = browser.make_server(None, 8017)
        assert served.host == "localhost"
        async with TestClient(TestServer(await served._make_app())) as client:
            asked = ({"Host": "localhost:8017"}, {"Host": "localhost:8017", "Origin": "http://example.org"},
                     {"Host": "example.org:8017"})  # fmt: skip
            found = []
            for path in ("/", "/ws"):
                for headers in asked[1:] if path == "/ws" else asked:
                    found.append((await client.get(path, headers=headers)).status)
            return found

    assert asyncio.run(flow()) == [200, 403, 403, 403, 403]


def test_without_the_extra_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "textual_serve.server", None)
    with pytest.raises(browser.NoBrowser, match="pip install"):
        browser.make_server(None, 8017)
