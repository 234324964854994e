"""Network management: commands, the states of a node, boot-up, and what each state lets through.

Source: CiA 301 as in several public device manuals. One network has one NMT master; its command of
two bytes goes out on identifier 0, and no node confirms it.
"""

from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Final, Self

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.node_ids import HIGHEST_NODE_ID, node_id
from labkit.fieldbus.checked import flag, whole
from labkit.fieldbus.errors import PlanError

ALL_NODES: Final = 0
"""The node in an NMT command that is for all (CiA 301)."""


class NmtState(IntEnum):
    """A node's state, with the number that heartbeat and guarding carry (CiA 301)."""

    INITIALISING = 0
    STOPPED = 4
    OPERATIONAL = 5
    PRE_OPERATIONAL = 127

    @property
    def words(self) -> str:
        """As one says it."""
        return self.name.lower().replace("_", "-")

    def allows(self, what: CommunicationObject) -> bool:
        """Whether a node in this state sends or obeys such frames (CiA 301)."""
        if self is NmtState.INITIALISING:
            return what is CommunicationObject.ERROR_CONTROL
        if self is NmtState.STOPPED:
            return what in (CommunicationObject.NMT, CommunicationObject.ERROR_CONTROL)
        return self is NmtState.OPERATIONAL or not what.is_pdo


class NmtCommand(IntEnum):
    """What a master may order (CiA 301)."""

    START = 0x01
    STOP = 0x02
    ENTER_PRE_OPERATIONAL = 0x80
    RESET_NODE = 0x81
    RESET_COMMUNICATION = 0x82

    @property
    def words(self) -> str:
        """As one says it."""
        return self.name.lower().replace("pre_o", "pre-o").replace("_", " ")

    @property
    def state(self) -> NmtState:
        """Where it leads; after a reset a node boots up and is pre-operational."""
        return _LEADS_TO.get(self, NmtState.PRE_OPERATIONAL)

    @property
    def resets(self) -> bool:
        """Whether the node boots up again."""
        return self in (NmtCommand.RESET_NODE, NmtCommand.RESET_COMMUNICATION)


_LEADS_TO: Final = {
    NmtCommand.START: NmtState.OPERATIONAL,
    NmtCommand.STOP: NmtState.STOPPED,
}


@dataclass(frozen=True, slots=True)
class NmtMessage:
    """A command for one node, or for all (node 0).

    >>> NmtMessage(NmtCommand.START, 5).to_frame()
    Frame.from_hex('000', '01 05')
    """

    command: NmtCommand
    node: int = ALL_NODES

    def __post_init__(self) -> None:
        if self.command not in list(NmtCommand):
            raise PlanError(f"{self.command!r} is no NMT command; take one of NmtCommand.")
        whole(self.node, "the node of an NMT command", 0, HIGHEST_NODE_ID, "0 means all nodes")

    @classmethod
    def from_frame(cls, frame: Frame) -> Self:
        """The command read; `PlanError` where there is none in it."""
        if frame.extended or frame.remote or frame.identifier != 0:
            raise PlanError("An NMT command is a data frame on identifier 0.")
        if len(frame.data) != 2:
            raise PlanError(f"An NMT command has 2 bytes, not {len(frame.data)}.")
        command, node = frame.data
        if command not in list(NmtCommand):
            raise PlanError(f"0x{command:02X} is no NMT command of CiA 301.")
        return cls(NmtCommand(command), node)

    def to_frame(self) -> Frame:
        """The frame on the bus."""
        return Frame(CommunicationObject.NMT.base, bytes([self.command, self.node]))

    def is_for(self, node: int) -> bool:
        """Whether a node has to obey."""
        return self.node in (ALL_NODES, node)


def boot_up_frame(node: int) -> Frame:
    """What a node sends when it has come up: 0x700 + node-ID, one byte 00 (CiA 301)."""
    cob_id = CobId(CommunicationObject.ERROR_CONTROL, node)
    return Frame(cob_id.value, bytes([NmtState.INITIALISING]))


@dataclass(frozen=True, slots=True)
class NmtNode:
    """The state machine of one node.

    `starts_itself`: it goes on to operational without a command, as some devices can be set
    (common practice, no source).
    """

    node: int
    state: NmtState = NmtState.INITIALISING
    starts_itself: bool = False

    def __post_init__(self) -> None:
        node_id(self.node)
        if not isinstance(self.state, NmtState):
            raise PlanError(f"{self.state!r} is no state of a node; take one of NmtState.")
        flag(self.starts_itself, "the field 'starts_itself'")

    def power_on(self) -> tuple["NmtNode", Frame]:
        """The node after it has come up, and its boot-up message."""
        state = NmtState.OPERATIONAL if self.starts_itself else NmtState.PRE_OPERATIONAL
        return replace(self, state=state), boot_up_frame(self.node)

    def obey(self, message: NmtMessage) -> tuple["NmtNode", Frame | None]:
        """The node after a command, and its boot-up message where the command resets it."""
        if not message.is_for(self.node) or self.state is NmtState.INITIALISING:
            return self, None
        if message.command.resets:
            return self.power_on()
        return replace(self, state=message.command.state), None
