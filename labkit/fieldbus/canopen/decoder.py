"""A log of a CANopen bus as sentences that a trainee learns from.

What a frame means may hang on those before it: the request that a reply answers, the toggle bit of
the last guarding reply, the state that a node was in. Any frame gets a sentence; none is refused.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.canopen.dictionary import ObjectDictionary
from labkit.fieldbus.canopen.emergency import Emergency
from labkit.fieldbus.canopen.heartbeat import StateByte
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.nmt import ALL_NODES, NmtMessage, NmtState
from labkit.fieldbus.canopen.pdo import PdoMapping
from labkit.fieldbus.canopen.sdo_log import SdoLog
from labkit.fieldbus.checked import every
from labkit.fieldbus.errors import PlanError

_Said = tuple[str, bool]


@dataclass(frozen=True, slots=True)
class Sentence:
    """One logged frame in words. `trouble` marks what a technician should look into."""

    time_s: float
    frame: Frame
    text: str
    trouble: bool = False


@dataclass(frozen=True, slots=True)
class KnownPdo:
    """A PDO that the reader of a log knows: what it is called, and what is mapped into it."""

    name: str
    mapping: PdoMapping


def decode_log(
    lines: Iterable[LogLine],
    dictionaries: Mapping[int, ObjectDictionary] | None = None,
    pdos: Mapping[int, KnownPdo] | None = None,
) -> tuple[Sentence, ...]:
    """The sentences of a log, in its order.

    `dictionaries`, by node-ID, give entries their names; `pdos`, by identifier, say what is mapped.
    Without them entries are said by index and process data as it stands.
    """
    reader = _Reader(dict(pdos or {}), SdoLog(dict(dictionaries or {})))
    return tuple(
        Sentence(line.time_s, line.frame, *reader.read(line.frame))
        for line in every(lines, LogLine, "The lines of a log")
    )


def frame_words(frame: Frame) -> str:
    """One frame in words, without what came before it.

    >>> frame_words(Frame.from_hex("585", "80 00 10 00 02 00 01 06"))
    'node 5 refuses: the object can only be read, not written (abort 0x06010002), 0x1000 subindex 0'
    """
    return _Reader().read(frame)[0]


@dataclass(slots=True)
class _Reader:
    """What must be remembered of the log so far."""

    pdos: dict[int, KnownPdo] = field(default_factory=dict)
    sdo: SdoLog = field(default_factory=SdoLog)
    states: dict[int, NmtState] = field(default_factory=dict)
    toggles: dict[int, bool] = field(default_factory=dict)
    guarded: set[int] = field(default_factory=set)

    def read(self, frame: Frame) -> _Said:
        if frame.extended:
            return f"a frame with the 29-bit identifier 0x{frame.identifier:08X}", True
        known = self.pdos.get(frame.identifier)
        if known is not None and not frame.remote:
            return self._mapped(known, frame)
        try:
            cob_id = CobId.from_value(frame.identifier)
        except PlanError as error:
            return f"data {_hex(frame.data)}: {_lower(str(error))}", True
        if frame.remote:
            return self._asked(cob_id)
        try:
            return self._said(cob_id, frame)
        except PlanError as error:
            return f"{cob_id.words} that cannot be read: {error}", True

    def _asked(self, cob_id: CobId) -> _Said:
        if cob_id.node is None or not cob_id.kind.sent_by_node:
            return f"a remote frame for {cob_id.words}, which nobody answers", True
        if cob_id.kind is CommunicationObject.ERROR_CONTROL:
            self.guarded.add(cob_id.node)
            return f"the master guards node {cob_id.node}: it asks for its state", False
        return f"a remote frame asks for {cob_id.words}", False

    def _said(self, cob_id: CobId, frame: Frame) -> _Said:
        kind, node, data = cob_id.kind, cob_id.node, frame.data
        if kind is CommunicationObject.NMT:
            return self._command(NmtMessage.from_frame(frame))
        if kind is CommunicationObject.SYNC:
            return "SYNC" if not data else f"SYNC, counter {_hex(data)}", len(data) > 1
        if node is None:
            return f"{cob_id.words}, data {_hex(data)}", False
        if kind is CommunicationObject.ERROR_CONTROL:
            return self._state(node, StateByte.from_bytes(data))
        if kind is CommunicationObject.EMCY:
            return self._emergency(node, Emergency.from_bytes(data))
        if kind is CommunicationObject.SDO_REQUEST:
            return self._in_state(node, kind, self.sdo.request(node, data))
        if kind is CommunicationObject.SDO_REPLY:
            return self._in_state(node, kind, self.sdo.reply(node, data))
        return self._in_state(node, kind, (f"{cob_id.words}: {_hex(data)}", False))

    def _command(self, message: NmtMessage) -> _Said:
        whom = "all nodes" if message.node == ALL_NODES else f"node {message.node}"
        nodes = list(self.states) if message.node == ALL_NODES else [message.node]
        for node in nodes:
            self.states[node] = message.command.state
            if message.command.resets:
                # Nothing is known of it until it boots up.
                del self.states[node]
                self.toggles.pop(node, None)
        return f"the NMT master orders {whom}: {message.command.words}", False

    def _state(self, node: int, said: StateByte) -> _Said:
        if said.state is NmtState.INITIALISING and not said.toggle:
            again = self.states.get(node) is not None
            self.states[node] = NmtState.PRE_OPERATIONAL
            self.toggles.pop(node, None)
            words = f"node {node} has booted up"
            if again:
                return f"{words}, though nobody ordered a reset: look at its supply", True
            return words, False
        self.states[node] = said.state
        if node not in self.guarded and not said.toggle:
            return f"heartbeat of node {node}: {said.state.words}", False
        words = f"node {node} answers the guarding: {said.state.words}, toggle {said.toggle:d}"
        before = self.toggles.get(node)
        self.toggles[node] = said.toggle
        if before is said.toggle:
            return f"{words}, as before: a reply is missing, or two nodes answer", True
        return words, False

    def _emergency(self, node: int, said: Emergency) -> _Said:
        maker = f", maker's part {_hex(said.maker)}" if any(said.maker) else ""
        return f"emergency of node {node}: {said.words}{maker}", said.code >> 8 != 0

    def _mapped(self, known: KnownPdo, frame: Frame) -> _Said:
        need = known.mapping.data_bytes
        try:
            values = known.mapping.unpack(frame.data)
        except PlanError:
            few = f"{known.name} has {len(frame.data)} bytes where {need} are mapped"
            return f"{few}: it is not taken", True
        pairs = zip(known.mapping.objects, values, strict=True)
        said = ", ".join(f"{each.at} = {value}" for each, value in pairs) or "nothing mapped"
        if len(frame.data) > need:
            return f"{known.name}: {said}; {len(frame.data) - need} bytes too many", True
        return f"{known.name}: {said}", False

    def _in_state(self, node: int, kind: CommunicationObject, said: _Said) -> _Said:
        """The same, with a remark where the node's state does not let it send or obey this."""
        state = self.states.get(node)
        if state is None or state.allows(kind):
            return said
        return f"{said[0]}; yet node {node} is {state.words}", True


def _hex(data: bytes) -> str:
    return data.hex(" ").upper() or "none"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
