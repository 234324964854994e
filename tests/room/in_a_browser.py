"""A browser in the room, without one: its own cookies, and pages of this host only."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, ClassVar

from anyio.from_thread import BlockingPortal
from starlette.testclient import TestClient

from labkit.room.room import Room
from labkit.room.trainers import Trainers

HERE = "http://192.0.2.1:8642"
FROM_HERE = {"origin": HERE}


class Browser:
    """A browser in the room: its own cookies, and pages of this host only.

    All of them are in one loop, as a room has but one: what one loop sends to a socket of another
    may never wake who waits there.
    """

    loop: ClassVar[BlockingPortal | None] = None

    def __init__(self, app: Any, address: str = "192.0.2.7") -> None:
        self.client = TestClient(app, base_url=HERE, client=(address, 50000))
        self.client.portal = self.loop

    def post(self, path: str, said: object, **headers: str) -> Any:
        return self.client.post(path, content=json.dumps(said), headers={**FROM_HERE, **headers})

    def socket(self, origin: str = HERE) -> Any:
        """The socket of a page that shows the workbook."""
        place = f"{HERE.replace('http', 'ws')}/lab/tiny/talk"
        return self.client.websocket_connect(place, headers={"origin": origin})

    def joined(self, room: Room, trainee: str) -> Browser:
        answer = self.post("/join", {"code": room.on_cards[trainee], "take": True})
        assert answer.json() == {"joined": True}
        return self

    def signed_in(self, trainers: Trainers) -> Browser:
        said = {"key": trainers.key, "name": "Mira"}
        assert self.post("/trainer/sign-in", said).status_code == 200
        return self

    def answers(self, exercise: str, answer: object, token: str = "t1") -> Any:
        message = {"do": "answer", "token": token, "answer": answer}
        return self.post("/lab/tiny/say", {"exercise": exercise, "message": message})

    def does(self, act: str, **what: object) -> Any:
        """What a trainer does."""
        return self.post("/trainer/do", {"act": act, **what})


Open = Callable[..., Browser]
