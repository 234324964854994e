"""All that is sent to a projector, byte by byte."""

from __future__ import annotations

from typing import Any, Final

AT_PROJECTOR: Final = "192.0.2.99"


class Recorder:
    """All that is sent to one device: statuses, headers and bodies."""

    def __init__(self, app: Any) -> None:
        self._app, self.sent = app, bytearray()

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        async def noting(message: Any) -> None:
            if scope.get("client", ("",))[0] == AT_PROJECTOR:
                self.sent += str(message.get("status", "")).encode() + b"\n"
                for name, value in message.get("headers", ()):
                    self.sent += name + b": " + value + b"\n"
                self.sent += message.get("body", b"") + message.get("text", "").encode()
            await send(message)

        await self._app(scope, receive, noting)
