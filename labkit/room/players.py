"""Invented trainees at work in a room, to look at it: they come by the way that everybody comes.

Nothing that they do is measured data.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Mapping, Sequence
from contextlib import suppress
from threading import Event, Thread
from typing import Any, Final
from urllib.request import Request, urlopen

from websockets.exceptions import WebSocketException
from websockets.sync.client import connect

from labkit.language.stream import Stream

_PAUSE_S: Final = 4
_MORE_S: Final = 16
"""Seconds that somebody thinks at least, and so many more at most."""
_PATIENCE_S: Final = 30.0


def play(
    address: str,
    lab: str,
    codes: Mapping[str, str],
    answers: Mapping[str, Sequence[tuple[str, Any]]],
) -> Event:
    """Let trainees join by their codes and give their answers to a lab, until the event is set."""
    done = Event()
    for trainee, code in codes.items():
        arguments = (address, lab, trainee, code, answers[trainee], done)
        Thread(target=_played, args=arguments, daemon=True).start()
    return done


def _played(
    address: str,
    lab: str,
    trainee: str,
    code: str,
    answers: Sequence[tuple[str, Any]],
    done: Event,
) -> None:
    stream = Stream("demo pace", trainee)
    if done.wait(stream.below(_MORE_S)):
        return
    # The room may be ended at any moment, and then nobody is there to be told.
    with suppress(OSError, WebSocketException, TimeoutError):
        headers = {"origin": address, "cookie": _joined(address, code)}
        place = f"{address.replace('http', 'ws', 1)}/lab/{lab}/talk"
        with connect(place, additional_headers=headers) as socket:
            for exercise, answer in answers:
                if done.wait(_PAUSE_S + stream.below(_MORE_S)):
                    return
                message = {"do": "answer", "token": secrets.token_hex(8), "answer": answer}
                socket.send(json.dumps({"exercise": exercise, "message": message}))
                socket.recv(_PATIENCE_S)
            # Whoever is through sits there and waits for the others.
            while not done.wait(1.0):
                with suppress(TimeoutError):
                    socket.recv(0)


def _joined(address: str, code: str) -> str:
    """Join as a page does; the cookie of the seat."""
    said = json.dumps({"code": code}).encode()
    asked = Request(f"{address}/join", said, {"origin": address})
    with urlopen(asked, timeout=_PATIENCE_S) as answer:
        return str(answer.headers["set-cookie"]).partition(";")[0]
