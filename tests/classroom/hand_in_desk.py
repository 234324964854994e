"""A desk at which hand-ins of one trainee are made and looked at."""

from __future__ import annotations

import json
from typing import Any

from tiny_class import Room

from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.receiving import Examined
from labkit.exchange.hand_in import signed_text
from labkit.exchange.signing import sign


class Desk:
    """An examiner, a whole hand-in of Ann, and her key."""

    def __init__(self, room: Room) -> None:
        self.examiner = Examiner.of(room.folder)
        self.data = room.hand_in("ann").read_bytes()
        task = json.loads((room.home("ann") / "tiny.task.json").read_bytes())
        self.key = str(task["signing_key"])

    @property
    def content(self) -> dict[str, Any]:
        return dict(json.loads(self.data))

    def look(self, data: bytes) -> Examined:
        return self.examiner.reader.examine("x.handin.json", data)

    def signed(self, content: Any) -> bytes:
        """What a trainee who knows how to sign can make: they have their own key."""
        signature = sign(self.key, signed_text(content))
        return json.dumps({**content, "signature": signature}, ensure_ascii=False).encode(
            "utf-8", "surrogatepass"
        )
