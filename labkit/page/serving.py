"""What every host needs: a port of this machine, and a server that says when it answers."""

from __future__ import annotations

import asyncio
import errno
import os
import socket
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from typing import Final

import uvicorn
from starlette.types import ASGIApp

from labkit.errors import LabkitError

HERE: Final = "127.0.0.1"
_PORTS_TRIED: Final = 10


class WayError(LabkitError):
    """A sentence that says why there is no way to this machine, and what to do."""


def serve_here(
    app: ASGIApp, made: socket.socket, address: str, said: Callable[[str], None], *, browser: bool
) -> None:
    """Serve pages to this machine's own browser until it is ended (Ctrl+C).

    `said` is called with the address of the first page once it answers.
    """
    config = uvicorn.Config(
        app,
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=3,
    )

    def begun() -> None:
        said(address)
        if browser:
            webbrowser.open(address)

    _Server(config, begun).run([made])


class _Server(uvicorn.Server):
    """Says when it answers."""

    def __init__(self, config: uvicorn.Config, begun: Callable[[], None]) -> None:
        super().__init__(config)
        self._begun = begun

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            await asyncio.to_thread(self._begun)


def listening(address: str, port: int) -> socket.socket:
    """A socket that listens at one address. Raises `WayError` with sentences."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    if os.name == "posix":
        # A room that was killed is opened again at once, though its connections still fade out.
        # (On Windows the same option would let two programs have one port.)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
        made.listen()
    except OSError as error:
        made.close()
        raise WayError(_not_had(address, port, error)) from None
    return made


def first_free(address: str, port: int) -> int:
    """That port, or the next one that nobody has at an address. Raises `WayError`."""
    for each in range(port, port + _PORTS_TRIED):
        with suppress(WayError), listening(address, each):
            return each
    listening(address, port).close()  # which says what hinders it
    return port


def _not_had(address: str, port: int, error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return (
            f"Port {port} is taken at {address} by another program, or by a room that is open "
            f"already. End that, or take another port: --port {port + 1 if port < 65535 else 8643}."
        )
    if error.errno == errno.EADDRNOTAVAIL:
        return (
            f"This machine has no address {address} now: a cable is out, or it joined another "
            "network. Do the same once more."
        )
    if error.errno in (errno.EACCES, errno.EPERM):
        return (
            f"This account may not open port {port} at {address}. Take one above 1024, for "
            "example --port 8642."
        )
    return f"Port {port} cannot be opened at {address}: {error.strerror}."
