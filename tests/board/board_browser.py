"""A browser at the board, without one: its own cookies, and pages of this host only."""

from __future__ import annotations

import json
from collections.abc import Callable
from time import monotonic, sleep
from typing import Any

from starlette.testclient import TestClient

from labkit.board.asked import Asked

HERE = "http://127.0.0.1:8640"
FROM_HERE = {"origin": HERE}


class BoardBrowser:
    """A browser on the trainer's machine, at a class in the folder `class`."""

    def __init__(self, app: Any) -> None:
        self.client = TestClient(app, base_url=HERE)

    def signed_in(self, asked: Asked, name: str = "Mira") -> BoardBrowser:
        assert self.post("/sign-in", {"key": asked.trainers.key, "name": name}).status_code == 200
        return self

    def post(self, path: str, said: object = None, **headers: str) -> Any:
        content = json.dumps(said or {})
        return self.client.post(path, content=content, headers={**FROM_HERE, **headers})

    def asks(self, part: str) -> Any:
        """What is told of the class."""
        return self.client.get(f"/class/class/{part}")

    def does(self, part: str, **said: object) -> Any:
        """What is done with the class."""
        return self.post(f"/class/class/{part}", said)

    def when_done(self) -> dict[str, Any]:
        """The long work for the class, once it is done."""
        until = monotonic() + 120
        while monotonic() < until:
            work: dict[str, Any] = self.asks("work").json()["work"]
            if not work["going_on"]:
                return work
            sleep(0.05)
        raise AssertionError("the work does not end")


AtBoard = Callable[[], BoardBrowser]
