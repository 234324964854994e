"""What an exercise of the kind `plan_board` is made of."""

from __future__ import annotations

from typing import NotRequired, TypedDict

from labkit.kinds.common.of_family import OfFamily


class Mounted(TypedDict):
    """A module as its nameplate says, and the slot that it is in."""

    id: str
    what: str
    type: str
    revision: str
    slot: int


class PlanBoardAsk(OfFamily):
    """What is mounted, as drawn; whether there is an Ethernet port and a scanner; rates, kbit/s."""

    slots: int
    modules: list[Mounted]
    ethernet: bool
    scanner: bool
    rates: list[float]


class EthernetKey(TypedDict):
    """The plan of the Ethernet side: by address that is taken, whose it is."""

    subnet: str
    taken: dict[str, str]
    temporary: str | None


class ScannerKey(TypedDict):
    """The scanner's network: its rate in kbit/s; by node address that is taken, whose it is."""

    rate: float
    taken: dict[str, str]
    free: list[int]


class PlanBoardKey(TypedDict):
    """The plan of what the board has."""

    ethernet: NotRequired[EthernetKey]
    scanner: NotRequired[ScannerKey]


class Card(TypedDict):
    """A module's card."""

    slot: str
    name: str
    revision: str
    note: str


class PortSettings(TypedDict):
    """What is set at the Ethernet port."""

    address: str
    prefix: str


class ScannerSettings(TypedDict):
    """What is set at the scanner."""

    node: str
    rate: str


class Answer(TypedDict):
    """By module its card; all as typed."""

    cards: dict[str, Card]
    ethernet: NotRequired[PortSettings]
    scanner: NotRequired[ScannerSettings]
