"""The app in a browser on this machine. There is no login, so nothing but this machine is answered."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

HOST = "localhost"
TEMPLATES = Path(__file__).parent / "styles" / "browser"
NO_EXTRA = "the browser needs the extra: pip install 'wearplan[browser]'; the app in a terminal does not"


class NoBrowser(Exception):
    """The extra is not installed; the text says how to get it."""


def own_names(port: int) -> frozenset[str]:
    """What a browser on this machine may call this server in ``Host``."""
    return frozenset(f"{name}:{port}" for name in (HOST, "127.0.0.1", "[::1]"))


def is_own(host: str, origin: str | None, port: int) -> bool:
    """Whether a request comes from a page of this server: another page, or another name for this machine, is refused.

    Without this any page open in the same browser could type into the app.
    """
    names = own_names(port)
    return host in names and (origin is None or origin in {f"http://{name}" for name in names})


def policy(port: int) -> str:
    """Nothing is loaded from, or sent to, any address outside."""
    sockets = " ".join(f"ws://{name}" for name in sorted(own_names(port)) if not name.startswith("["))
    return (
        f"default-src 'self'; script-src 'self' 'unsafe-eval' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        f"img-src 'self' data:; font-src 'self' data:; connect-src 'self' {sockets}; frame-ancestors 'none'"
    )


def make_server(folder: Path | None, port: int) -> Any:
    """A server of the app for this machine alone.

    Raises
    ------
    NoBrowser
        Where textual-serve is not installed.
    """
    try:
        from aiohttp import web
        from textual_serve.server import Server
    except ImportError as error:
        raise NoBrowser(NO_EXTRA) from error

    async def own_only(request: Any, handler: Callable[[Any], Awaitable[Any]]) -> Any:
        if not is_own(request.headers.get("Host", ""), request.headers.get("Origin"), port):
            return web.Response(status=403, text="Only pages of this server on this machine are answered.")
        response = await handler(request)
        if not response.prepared:
            response.headers["Content-Security-Policy"] = policy(port)
        return response

    class Loopback(Server):  # type: ignore[misc, unused-ignore]
        async def _make_app(self) -> Any:
            app = await super()._make_app()
            app.middlewares.append(web.middleware(own_only))
            return app

        async def on_startup(self, app: Any) -> None:
            print(f"wearplan is at http://{HOST}:{port} for browsers on this machine only (no login). Ctrl+C ends it.")

    words = [sys.executable, "-m", "wearplan.cli", "open", *([str(folder.resolve())] if folder is not None else [])]
    return Loopback(shlex.join(words), host=HOST, port=port, title="wearplan", templates_path=TEMPLATES)


def serve(folder: Path | None, port: int) -> None:
    """Serve until Ctrl+C."""
    make_server(folder, port).serve()
