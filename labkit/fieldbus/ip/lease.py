"""A DHCP client's states and its lease's timers (RFC 2131 section 4.4, figure 5).

`react` is the figure as a function: state and event give the next state and the message sent.
A BOOTP client (RFC 951) knows two steps only, a request sent again until a reply comes; its
address has no time limit, yet lasts no longer than the power.
Section and figure numbers of the RFCs are from memory.
"""

from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

SERVER_PORT = 67
"""UDP port on which BOOTP and DHCP servers listen (RFC 951 section 3, RFC 2131 section 4.1)."""
CLIENT_PORT = 68
"""UDP port on which BOOTP and DHCP clients listen."""
FOREVER_S = 0xFFFF_FFFF
"""Lease time that means without end, s (RFC 2131 section 3.3)."""


class ClientState(Enum):
    """States of RFC 2131 figure 5."""

    INIT = "INIT"
    SELECTING = "SELECTING"
    REQUESTING = "REQUESTING"
    BOUND = "BOUND"
    RENEWING = "RENEWING"
    REBINDING = "REBINDING"
    INIT_REBOOT = "INIT-REBOOT"
    REBOOTING = "REBOOTING"

    @property
    def has_address(self) -> bool:
        """Whether the client may use its address in this state."""
        return self in (ClientState.BOUND, ClientState.RENEWING, ClientState.REBINDING)


class ClientEvent(Enum):
    """What happens to a client."""

    START = "the client starts"
    OFFER_CHOSEN = "an offer comes and is chosen"
    ACK = "the server's acknowledgement comes"
    ACK_TAKEN = "the acknowledgement comes, but another host already has the address"
    NAK = "the server refuses"
    T1 = "timer T1 runs out"
    T2 = "timer T2 runs out"
    LEASE_ENDS = "the lease ends"


class ClientMessage(Enum):
    """What a client sends (RFC 2131 table 2)."""

    DISCOVER = "DHCPDISCOVER"
    REQUEST = "DHCPREQUEST"
    DECLINE = "DHCPDECLINE"


_S, _E, _M = ClientState, ClientEvent, ClientMessage

_FIGURE_5: dict[tuple[ClientState, ClientEvent], tuple[ClientState, ClientMessage | None]] = {
    (_S.INIT, _E.START): (_S.SELECTING, _M.DISCOVER),
    (_S.SELECTING, _E.OFFER_CHOSEN): (_S.REQUESTING, _M.REQUEST),
    (_S.REQUESTING, _E.ACK): (_S.BOUND, None),
    (_S.REQUESTING, _E.ACK_TAKEN): (_S.INIT, _M.DECLINE),
    (_S.REQUESTING, _E.NAK): (_S.INIT, None),
    (_S.BOUND, _E.T1): (_S.RENEWING, _M.REQUEST),
    (_S.RENEWING, _E.ACK): (_S.BOUND, None),
    (_S.RENEWING, _E.NAK): (_S.INIT, None),
    (_S.RENEWING, _E.T2): (_S.REBINDING, _M.REQUEST),
    (_S.REBINDING, _E.ACK): (_S.BOUND, None),
    (_S.REBINDING, _E.NAK): (_S.INIT, None),
    (_S.REBINDING, _E.LEASE_ENDS): (_S.INIT, None),
    (_S.INIT_REBOOT, _E.START): (_S.REBOOTING, _M.REQUEST),
    (_S.REBOOTING, _E.ACK): (_S.BOUND, None),
    (_S.REBOOTING, _E.ACK_TAKEN): (_S.INIT, _M.DECLINE),
    (_S.REBOOTING, _E.NAK): (_S.INIT, None),
}


def react(state: ClientState, event: ClientEvent) -> tuple[ClientState, ClientMessage | None]:
    """The next state and what the client sends; an event without an arrow changes nothing."""
    if not isinstance(state, ClientState) or not isinstance(event, ClientEvent):
        raise PlanError(f"{state!r} with {event!r} is no state with an event; use this module's.")
    return _FIGURE_5.get((state, event), (state, None))


@dataclass(frozen=True, slots=True)
class Lease:
    """A lease of so many seconds, and when its client acts (RFC 2131 section 4.4.5).

    T1 defaults to 0.5 of the lease, T2 to 0.875 of it. `seconds` 0xFFFFFFFF never ends.
    """

    seconds: int

    def __post_init__(self) -> None:
        whole(self.seconds, "the lease time in s", 1, FOREVER_S)

    @property
    def t1_s(self) -> float | None:
        """When the client begins to ask its own server for more, s; None without end."""
        return None if self.seconds == FOREVER_S else 0.5 * self.seconds

    @property
    def t2_s(self) -> float | None:
        """When it begins to ask any server, s; None without end."""
        return None if self.seconds == FOREVER_S else 0.875 * self.seconds

    def state_after(self, seconds_silent: float) -> ClientState:
        """The client's state that long after the acknowledgement if no server answers again."""
        if self.t1_s is None or self.t2_s is None or seconds_silent < self.t1_s:
            return ClientState.BOUND
        if seconds_silent < self.t2_s:
            return ClientState.RENEWING
        if seconds_silent < self.seconds:
            return ClientState.REBINDING
        return ClientState.INIT
