"""Only pages that came here by one of our own names are answered."""

from __future__ import annotations

from collections.abc import Collection
from ipaddress import ip_address

from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send


class KnownHost:
    """Refuses pages that came here by a name of somebody else's choosing (DNS rebinding)."""

    def __init__(self, app: ASGIApp, names: Collection[str] = ()) -> None:
        self._app, self._names = app, names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan" or self._is_known(HTTPConnection(scope).url.hostname or ""):
            await self._app(scope, receive, send)
            return
        refused = PlainTextResponse("Open this page by its own address.", 421)
        if scope["type"] == "http":
            await refused(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008})

    def _is_known(self, host: str) -> bool:
        return host in self._names or _is_an_address(host)


def _is_an_address(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        ip_address(host)
    except ValueError:
        return False
    return True
