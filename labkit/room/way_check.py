"""Trying the way from a second device before a class comes: is the room reached, and if not, why?

For as long as it takes, a page of two sentences is served where the room is to be opened, and at
this machine's other addresses, so that a device that comes in by another way is told of. A
connection is proof; what is said where none came are the likely causes, the likeliest first.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable, Sequence
from contextlib import AsyncExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from labkit.page.serving import WayError, listening
from labkit.room.way import Way, chosen_way, ways

SECONDS: Final = 120
"""How long the second device has."""
_PAGE: Final = """\
<!doctype html><html lang="en"><meta charset="utf-8"><title>labkit</title>
<meta name="viewport" content="width=device-width"><link rel="icon" href="data:,">
<body style="font: 24px/1.5 sans-serif; margin: 2em"><p>{}</p></body></html>
"""
_REACHED: Final = "This device reaches the room. You can close this page."
_ITSELF: Final = "This is the machine itself. Open the address on another device."
_LOOKS: Final = 1.0
"""Seconds between two looks whether the address is still there."""
_PATIENCE: Final = 5.0
"""Seconds that a connection has to ask for the page."""
_NEIGHBOURS: Final = Path("/proc/net/arp")
"""Who asked this machine for its address, where the system is a Linux."""


@dataclass(frozen=True, slots=True)
class Tried:
    """How the try came out: `sentences` tell it, a line each."""

    reached: bool
    sentences: tuple[str, ...]


def others_to_try(way: Way) -> list[Way]:
    """The other addresses by which a second device may reach this machine."""
    return [one for one in ways() if one != way and not one.loopback]


def try_way(way: Way, port: int, begun: Callable[[], None], seconds: float = SECONDS) -> Tried:
    """Wait until a second device opens `way` at `port`, or some seconds are over.

    `begun` is called once it can be opened. Raises `WayError` with sentences when the port cannot
    be had at all (another program has it, the address is gone), and for the machine alone.
    """
    if way.loopback:
        raise WayError(
            "No other device can reach this machine: it is in no network now. Join a Wi-Fi or plug "
            "a cable in, and do the same once more."
        )
    return asyncio.run(_Try(way, port).run(begun, seconds))


class _Try:
    def __init__(self, way: Way, port: int) -> None:
        self._way, self._port = way, port
        self._own = {one.address for one in ways()}
        self._before = _neighbours(way)
        self._came: asyncio.Future[Tried] | None = None

    async def run(self, begun: Callable[[], None], seconds: float) -> Tried:
        self._came = asyncio.get_running_loop().create_future()
        async with AsyncExitStack() as open_ports:
            first = listening(self._way.address, self._port)
            for at in (first, *self._elsewhere()):
                await open_ports.enter_async_context(
                    await asyncio.start_server(self._meet, sock=at)
                )
            begun()
            with suppress(TimeoutError):
                async with asyncio.timeout(seconds):
                    return await self._told()
        asked = sorted(_neighbours(self._way) - self._before)
        return Tried(False, tuple(_nothing_came(self._way, self._port, asked)))

    async def _told(self) -> Tried:
        """What came in; or that nothing can any more."""
        assert self._came is not None
        while not (await asyncio.wait([self._came], timeout=_LOOKS))[0]:
            try:
                chosen_way(self._way.address)
            except WayError:
                return Tried(False, tuple(_gone(self._way)))
        return self._came.result()

    def _elsewhere(self) -> list[socket.socket]:
        found = []
        for other in others_to_try(self._way):
            with suppress(WayError):
                found.append(listening(other.address, self._port))
        return found

    async def _meet(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        peer, here = (str(writer.get_extra_info(end)[0]) for end in ("peername", "sockname"))
        with suppress(
            OSError, TimeoutError, asyncio.IncompleteReadError, asyncio.LimitOverrunError
        ):
            async with asyncio.timeout(_PATIENCE):
                await reader.readuntil(b"\r\n\r\n")
                writer.write(_answer(_ITSELF if peer in self._own else _REACHED))
                await writer.drain()
        writer.close()
        if self._came and not self._came.done() and peer not in self._own:
            self._came.set_result(_came(self._way, peer, here))


def _answer(sentence: str) -> bytes:
    page = _PAGE.format(sentence).encode()
    head = (
        "HTTP/1.1 200 OK\r\nContent-Type: text/html; charset=utf-8\r\nCache-Control: no-store\r\n"
        f"Content-Length: {len(page)}\r\nConnection: close\r\n\r\n"
    )
    return head.encode() + page


def _came(way: Way, peer: str, here: str) -> Tried:
    if here == way.address:
        return Tried(True, (f"Reached from {peer}: the way is open.",))
    other = next((one for one in ways() if one.address == here), None)
    return Tried(
        False,
        (
            f"{peer} came in by another way than the one that is chosen.",
            f"It came to {other.words if other else here}.",
            f"Chosen is {way.words}.",
            f"If trainees are in the network of that device, choose its way: --interface {here}",
        ),
    )


def _gone(way: Way) -> list[str]:
    left = "; ".join(one.words for one in ways())
    return [
        f"The address {way.address} is gone: a cable is out, or this machine joined another "
        f"network. It has now: {left}."
    ]


def _nothing_came(way: Way, port: int, asked: Sequence[str]) -> list[str]:
    """The likely causes when no connection came at all, the likeliest first."""
    blocked = (
        f"This machine's firewall blocks port {port}. Let it accept TCP port {port} in private "
        "networks; if the system asks whether Python may be reached, say yes."
    )
    if asked:
        return [
            f"Nothing came through, but {' and '.join(asked)} asked for this machine meanwhile. So "
            "the way up to here is open, and most likely:",
            blocked,
        ]
    causes = [
        blocked,
        "The access point keeps its devices apart, as guest networks do. Switch that off there, or "
        "take another Wi-Fi, or cables.",
        f"The device is in another network. Its own address must lie in {way.network}; switch off "
        "its mobile data and VPN.",
    ]
    others = others_to_try(way)
    if others:
        more = "; ".join(f"{one.words}: --interface {one.address}" for one in others)
        causes.append(f"The chosen way is the wrong one. This machine also has {more}")
    return [
        "Nothing came at all. Likely causes, the likeliest first:",
        *(f"{number}. {cause}" for number, cause in enumerate(causes, 1)),
    ]


def _neighbours(way: Way) -> set[str]:
    """The addresses that the system knows in the network of a way; none where it does not tell."""
    with suppress(OSError):
        lines = _NEIGHBOURS.read_text("ascii", "replace").splitlines()[1:]
        known = (line.split() for line in lines)
        # The last word is the interface, the third says whether the device is really there.
        return {words[0] for words in known if words[-1] == way.interface and words[2] != "0x0"}
    return set()
