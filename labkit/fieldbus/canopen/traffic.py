"""How busy a bus is with its PDOs, and how late each may come: worst-case load and responses.

The responses are those of `labkit.fieldbus.can.response`; every frame at its longest. Times in ms.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from labkit.fieldbus.can.length import duration_us
from labkit.fieldbus.can.response import Message, MessageSet
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.lengths import rate_limits
from labkit.fieldbus.canopen.pdo import PDO_BYTES, PdoSettings
from labkit.fieldbus.canopen.transmission import Trigger, trigger
from labkit.fieldbus.checked import every, flag, number, text, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

SYNC_NAME: Final = "SYNC"
WINDOW_SOURCE: Final = "CiA 301, object 0x1007 (from memory)"


@dataclass(frozen=True, slots=True)
class PdoTraffic:
    """A PDO that somebody sends: its name on the plan, its record, its bytes.

    `changes_ms` is the least time between two changes of its values, where that is known of the
    machine. `by_timer_only`: its event timer alone makes it go. `deadline_ms` is by when it must
    have come, counted from its occasion.
    """

    name: str
    settings: PdoSettings
    data_bytes: int = PDO_BYTES
    changes_ms: float | None = None
    by_timer_only: bool = False
    deadline_ms: float | None = None

    def __post_init__(self) -> None:
        text(self.name, "the name of a PDO")
        flag(self.by_timer_only, "the field 'by_timer_only'", of=self.name)
        whole(self.data_bytes, "the bytes of a PDO", 0, PDO_BYTES)
        if self.changes_ms is not None:
            number(self.changes_ms, "the time between changes", "ms", above=True)

    def least_period_ms(self, sync_period_ms: float | None) -> float:
        """The least time between two sendings; `PlanError` where nothing bounds it.

        By SYNC, so many periods of it. By event, the inhibit time, or the time between changes
        where that is longer and no event timer sends between them. By timer only, its time.
        """
        found = trigger(self.settings.transmission_type)
        if found in (Trigger.SYNC, Trigger.SYNC_AFTER_CHANGE):
            if not sync_period_ms:
                raise PlanError(f"{self.name} is sent by SYNC, and no SYNC is made; give a period.")
            return sync_period_ms * max(self.settings.transmission_type, 1)
        if found in (Trigger.EVENT_OF_MAKER, Trigger.EVENT_OF_PROFILE):
            return self._by_event_ms()
        raise PlanError(
            f"{self.name} has transmission type {self.settings.transmission_type}, "
            f"{found.words}: nobody knows how often; choose another type."
        )

    def _by_event_ms(self) -> float:
        inhibit, timer = self.settings.inhibit_100us / 10, float(self.settings.event_timer_ms)
        if self.by_timer_only:
            if timer:
                return max(inhibit, timer)
            raise PlanError(f"{self.name} is sent by its event timer, which is off; set a time.")
        # A change may come right behind a sending of the timer: then only the inhibit time counts.
        least = inhibit if timer else max(inhibit, self.changes_ms or 0.0)
        if least:
            return least
        raise PlanError(
            f"{self.name} is sent by event without an inhibit time: nothing keeps it from filling "
            "the bus; set an inhibit time."
        )


@dataclass(frozen=True)
class Traffic:
    """All that is sent again and again at one bit rate: PDOs, SYNC, heartbeats.

    `sync_period_ms` None: no SYNC. `heartbeats_ms`: producer time by node-ID.

        >>> from labkit.fieldbus.canopen.pdo import Direction
        >>> drive = PdoSettings(Direction.TRANSMIT, 1, 0x185, transmission_type=1)
        >>> traffic = Traffic(125, (PdoTraffic("drive, PDO 1", drive, 6),), 10, {5: 500})
        >>> f"{100 * traffic.load:.1f} %"
        '13.7 %'
    """

    bit_rate_kbps: float
    pdos: tuple[PdoTraffic, ...]
    sync_period_ms: float | None = None
    heartbeats_ms: Mapping[int, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        rate_limits(self.bit_rate_kbps)
        object.__setattr__(self, "pdos", every(self.pdos, PdoTraffic, "The PDOs"))
        if self.sync_period_ms is not None:
            number(self.sync_period_ms, "the SYNC period", "ms", above=True)

    @property
    def messages(self) -> MessageSet:
        """The same as CAN messages with periods and deadlines.

        PDOs that are not used are left out; `PlanError` where two share an identifier.
        """
        return MessageSet.of(self.bit_rate_kbps, self._messages())

    @property
    def load(self) -> float:
        """Worst-case bus load, 1 is all of it."""
        return self.messages.utilisation

    def check_sync_window(self, window_us: int) -> RuleResult:
        """SYNC and all PDOs that follow it against the synchronous window (0x1007), in µs.

        All of them at their longest, one behind the other, and the longest other frame before
        them: the worst SYNC. No SYNC, no window: `PlanError`.
        """
        limit = whole(window_us, "the synchronous window", 1, 0xFFFF_FFFF, "32 bits hold it, in µs")
        if self.sync_period_ms is None:
            raise PlanError("No SYNC is made, so there is no window behind it; give a period.")
        by_sync = {each.name for each in self._used() if _by_sync(each)} | {SYNC_NAME}
        ours = [each.bits for each in self.messages.messages if each.name in by_sync]
        others = [each.bits for each in self.messages.messages if each.name not in by_sync]
        time = duration_us(sum(ours) + max(others, default=0), self.bit_rate_kbps)
        where = f"SYNC and {len(ours) - 1} PDOs"
        return RuleResult("synchronous window", time, float(limit), "µs", where, WINDOW_SOURCE)

    def _used(self) -> list[PdoTraffic]:
        return [each for each in self.pdos if each.settings.used]

    def _messages(self) -> Iterable[Message]:
        if self.sync_period_ms is not None:
            yield Message(SYNC_NAME, CommunicationObject.SYNC.base, self.sync_period_ms, 0)
        for pdo in self._used():
            period = pdo.least_period_ms(self.sync_period_ms)
            settings, deadline = pdo.settings, pdo.deadline_ms
            yield Message(pdo.name, settings.identifier, period, pdo.data_bytes, deadline)
        for node, period in self.heartbeats_ms.items():
            cob_id = CobId(CommunicationObject.ERROR_CONTROL, node)
            yield Message(f"heartbeat of node {node}", cob_id.value, period, 1)


def _by_sync(pdo: PdoTraffic) -> bool:
    kind = trigger(pdo.settings.transmission_type)
    return kind in (Trigger.SYNC, Trigger.SYNC_AFTER_CHANGE)
