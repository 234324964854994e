"""DeviceNet (IEC 62026-3): the network as planned, its rules, power, addresses and messages.

A plan is a `Network` of segments, taps, drops, devices and supplies; lengths in m, currents in A,
data rates in kbit/s. What cannot be built raises `labkit.fieldbus.PlanError`; broken rules are
`labkit.fieldbus.RuleResult`s. The README in `labkit/fieldbus/` shows a plan, its power and a log.
"""

# isort: skip_file
# (sorted, each name below would get an import statement of its own)

from importlib import import_module
from typing import TYPE_CHECKING

_NAMES_IN = {
    "addresses": "AS_DELIVERED check_addresses complete_addresses",
    "cable": (
        "CABLES CONTACT_RESISTANCE CUMULATIVE_DROP_LIMIT DATA_RATES DROP_LIMIT MAX_DROP_CURRENT "
        "CableType DataSheet cable_type data_rate drop_current_limit"
    ),
    "comparison": "MethodComparison MethodOutcome compare_methods look_up_results",
    "conductors": "Conductors",
    "connections": (
        "CONNECTION_INSTANCE EXPLICIT_PACKET_RATE_MS TIMEOUT_PACKETS Allocation BusFrame "
        "ConnectionKind allocate_request allocation allocation_requests device_report "
        "master_report packet_rate_request poll_exchange release_request request_frames "
        "response_frames strobe_exchange timeout_ms"
    ),
    "decoder": "Sentence decode_log",
    "device_sheet": "DeviceSheet Sizes",
    "drawing": "draw_in_bands draw_network",
    "feeding": "solve_power solve_section",
    "feedtree": "LoadsCannotBeFedError",
    "fragments": (
        "AckStatus Fragment FragmentType Reassembly Step explicit_frames io_frame_lengths "
        "io_frames join"
    ),
    "fullmethod": (
        "CONDUCTOR_DROP_LIMIT TRUNK_DROP_LIMIT FullCalculation FullRow FullSide ProfilePoint "
        "full_calculation node_voltages section_drop trunk_resistance voltage_profile"
    ),
    "heard": "Ear Heard HeardNode PlannedBus PlannedNode",
    "heard_and_planned": "hold_against_plan",
    "identifiers": "HIGHEST_IDENTIFIER AddressRole Identifier Purpose node_address",
    "identity": "PRODUCT_KEYS Identity IdentityKey",
    "indicators": "MODULE_INDICATOR MODULE_MEANING NETWORK_MEANING Health Indicator",
    "inrush": "charging_time",
    "lengths": (
        "Path check_lengths cumulative_drop_length cumulative_drops farthest_points longest_path "
        "longest_path_length mixed_trunk single_drop single_drops"
    ),
    "lookup": "LOOK_UP_TABLE look_up_current look_up_next look_up_row look_up_row_before",
    "messages": (
        "BodyFormat DuplicateCheck ExplicitHeader ExplicitRequest ExplicitResponse is_response "
        "strobe_command strobe_outputs"
    ),
    "network": "Network",
    "node": "Fault Link Node NodeState Reaction",
    "objects": "GeneralError ObjectClass Service attribute_name error_sentence object_name",
    "parts": (
        "HIGHEST_ADDRESS NOMINAL_VOLTAGE TERMINATOR_RESISTANCE Device Drop Segment Supply Tap "
        "Terminator"
    ),
    "placement": "BestPosition acceptable_supply_positions best_supply_position",
    "plan_json": "network_from_json network_to_json schema",
    "reading": "network_in_words",
    "scanlist": "EntryTraffic ScanEntry ScanList ScanTime",
    "sections": "Section sections_of whole_trunk",
    "solution": (
        "HIGHEST_NODE_VOLTAGE LOWEST_NODE_VOLTAGE DropCurrent NodePower PieceCurrent "
        "PowerSolution SupplyCurrent TrunkPoint"
    ),
    "startup": (
        "CHECK_WAIT_S BusOff CheckSent Event InputsChange PowerOff PowerOn Received SelfTestDone "
        "TimePasses come_on_line react"
    ),
    "switches": "DipSwitches RotarySwitches address_mistakes rate_code",
    "wiring": (
        "TERMINATOR_TOLERANCE check_drop_currents check_node_count check_supplies check_terminators"
    ),
}
_MODULE_OF = {name: module for module, names in _NAMES_IN.items() for name in names.split()}
__all__ = list(_MODULE_OF)

if TYPE_CHECKING:
    from labkit.fieldbus.devicenet.addresses import (
        AS_DELIVERED as AS_DELIVERED,
        check_addresses as check_addresses,
        complete_addresses as complete_addresses,
    )
    from labkit.fieldbus.devicenet.cable import (
        CABLES as CABLES,
        CONTACT_RESISTANCE as CONTACT_RESISTANCE,
        CUMULATIVE_DROP_LIMIT as CUMULATIVE_DROP_LIMIT,
        DATA_RATES as DATA_RATES,
        DROP_LIMIT as DROP_LIMIT,
        MAX_DROP_CURRENT as MAX_DROP_CURRENT,
        CableType as CableType,
        DataSheet as DataSheet,
        cable_type as cable_type,
        data_rate as data_rate,
        drop_current_limit as drop_current_limit,
    )
    from labkit.fieldbus.devicenet.comparison import (
        MethodComparison as MethodComparison,
        MethodOutcome as MethodOutcome,
        compare_methods as compare_methods,
        look_up_results as look_up_results,
    )
    from labkit.fieldbus.devicenet.conductors import Conductors as Conductors
    from labkit.fieldbus.devicenet.connections import (
        CONNECTION_INSTANCE as CONNECTION_INSTANCE,
        EXPLICIT_PACKET_RATE_MS as EXPLICIT_PACKET_RATE_MS,
        TIMEOUT_PACKETS as TIMEOUT_PACKETS,
        Allocation as Allocation,
        BusFrame as BusFrame,
        ConnectionKind as ConnectionKind,
        allocate_request as allocate_request,
        allocation as allocation,
        allocation_requests as allocation_requests,
        device_report as device_report,
        master_report as master_report,
        packet_rate_request as packet_rate_request,
        poll_exchange as poll_exchange,
        release_request as release_request,
        request_frames as request_frames,
        response_frames as response_frames,
        strobe_exchange as strobe_exchange,
        timeout_ms as timeout_ms,
    )
    from labkit.fieldbus.devicenet.decoder import Sentence as Sentence, decode_log as decode_log
    from labkit.fieldbus.devicenet.device_sheet import (
        DeviceSheet as DeviceSheet,
        Sizes as Sizes,
    )
    from labkit.fieldbus.devicenet.drawing import draw_in_bands as draw_in_bands
    from labkit.fieldbus.devicenet.drawing import draw_network as draw_network
    from labkit.fieldbus.devicenet.feeding import (
        solve_power as solve_power,
        solve_section as solve_section,
    )
    from labkit.fieldbus.devicenet.feedtree import LoadsCannotBeFedError as LoadsCannotBeFedError
    from labkit.fieldbus.devicenet.fragments import (
        AckStatus as AckStatus,
        Fragment as Fragment,
        FragmentType as FragmentType,
        Reassembly as Reassembly,
        Step as Step,
        explicit_frames as explicit_frames,
        io_frame_lengths as io_frame_lengths,
        io_frames as io_frames,
        join as join,
    )
    from labkit.fieldbus.devicenet.fullmethod import (
        CONDUCTOR_DROP_LIMIT as CONDUCTOR_DROP_LIMIT,
        TRUNK_DROP_LIMIT as TRUNK_DROP_LIMIT,
        FullCalculation as FullCalculation,
        FullRow as FullRow,
        FullSide as FullSide,
        ProfilePoint as ProfilePoint,
        full_calculation as full_calculation,
        node_voltages as node_voltages,
        section_drop as section_drop,
        trunk_resistance as trunk_resistance,
        voltage_profile as voltage_profile,
    )
    from labkit.fieldbus.devicenet.heard import (
        Ear as Ear,
        Heard as Heard,
        HeardNode as HeardNode,
        PlannedBus as PlannedBus,
        PlannedNode as PlannedNode,
    )
    from labkit.fieldbus.devicenet.heard_and_planned import hold_against_plan as hold_against_plan
    from labkit.fieldbus.devicenet.identifiers import (
        HIGHEST_IDENTIFIER as HIGHEST_IDENTIFIER,
        AddressRole as AddressRole,
        Identifier as Identifier,
        Purpose as Purpose,
        node_address as node_address,
    )
    from labkit.fieldbus.devicenet.identity import (
        PRODUCT_KEYS as PRODUCT_KEYS,
        Identity as Identity,
        IdentityKey as IdentityKey,
    )
    from labkit.fieldbus.devicenet.indicators import (
        MODULE_INDICATOR as MODULE_INDICATOR,
        MODULE_MEANING as MODULE_MEANING,
        NETWORK_MEANING as NETWORK_MEANING,
        Health as Health,
        Indicator as Indicator,
    )
    from labkit.fieldbus.devicenet.inrush import charging_time as charging_time
    from labkit.fieldbus.devicenet.lengths import (
        Path as Path,
        check_lengths as check_lengths,
        cumulative_drop_length as cumulative_drop_length,
        cumulative_drops as cumulative_drops,
        farthest_points as farthest_points,
        longest_path as longest_path,
        longest_path_length as longest_path_length,
        mixed_trunk as mixed_trunk,
        single_drop as single_drop,
        single_drops as single_drops,
    )
    from labkit.fieldbus.devicenet.lookup import (
        LOOK_UP_TABLE as LOOK_UP_TABLE,
        look_up_current as look_up_current,
        look_up_next as look_up_next,
        look_up_row as look_up_row,
        look_up_row_before as look_up_row_before,
    )
    from labkit.fieldbus.devicenet.messages import (
        BodyFormat as BodyFormat,
        DuplicateCheck as DuplicateCheck,
        ExplicitHeader as ExplicitHeader,
        ExplicitRequest as ExplicitRequest,
        ExplicitResponse as ExplicitResponse,
        is_response as is_response,
        strobe_command as strobe_command,
        strobe_outputs as strobe_outputs,
    )
    from labkit.fieldbus.devicenet.network import Network as Network
    from labkit.fieldbus.devicenet.node import (
        Fault as Fault,
        Link as Link,
        Node as Node,
        NodeState as NodeState,
        Reaction as Reaction,
    )
    from labkit.fieldbus.devicenet.objects import (
        GeneralError as GeneralError,
        ObjectClass as ObjectClass,
        Service as Service,
        attribute_name as attribute_name,
        error_sentence as error_sentence,
        object_name as object_name,
    )
    from labkit.fieldbus.devicenet.parts import (
        HIGHEST_ADDRESS as HIGHEST_ADDRESS,
        NOMINAL_VOLTAGE as NOMINAL_VOLTAGE,
        TERMINATOR_RESISTANCE as TERMINATOR_RESISTANCE,
        Device as Device,
        Drop as Drop,
        Segment as Segment,
        Supply as Supply,
        Tap as Tap,
        Terminator as Terminator,
    )
    from labkit.fieldbus.devicenet.placement import (
        BestPosition as BestPosition,
        acceptable_supply_positions as acceptable_supply_positions,
        best_supply_position as best_supply_position,
    )
    from labkit.fieldbus.devicenet.plan_json import (
        network_from_json as network_from_json,
        network_to_json as network_to_json,
        schema as schema,
    )
    from labkit.fieldbus.devicenet.reading import network_in_words as network_in_words
    from labkit.fieldbus.devicenet.scanlist import (
        EntryTraffic as EntryTraffic,
        ScanEntry as ScanEntry,
        ScanList as ScanList,
        ScanTime as ScanTime,
    )
    from labkit.fieldbus.devicenet.sections import (
        Section as Section,
        sections_of as sections_of,
        whole_trunk as whole_trunk,
    )
    from labkit.fieldbus.devicenet.solution import (
        HIGHEST_NODE_VOLTAGE as HIGHEST_NODE_VOLTAGE,
        LOWEST_NODE_VOLTAGE as LOWEST_NODE_VOLTAGE,
        DropCurrent as DropCurrent,
        NodePower as NodePower,
        PieceCurrent as PieceCurrent,
        PowerSolution as PowerSolution,
        SupplyCurrent as SupplyCurrent,
        TrunkPoint as TrunkPoint,
    )
    from labkit.fieldbus.devicenet.startup import (
        CHECK_WAIT_S as CHECK_WAIT_S,
        BusOff as BusOff,
        CheckSent as CheckSent,
        Event as Event,
        InputsChange as InputsChange,
        PowerOff as PowerOff,
        PowerOn as PowerOn,
        Received as Received,
        SelfTestDone as SelfTestDone,
        TimePasses as TimePasses,
        come_on_line as come_on_line,
        react as react,
    )
    from labkit.fieldbus.devicenet.switches import (
        DipSwitches as DipSwitches,
        RotarySwitches as RotarySwitches,
        address_mistakes as address_mistakes,
        rate_code as rate_code,
    )
    from labkit.fieldbus.devicenet.wiring import (
        TERMINATOR_TOLERANCE as TERMINATOR_TOLERANCE,
        check_drop_currents as check_drop_currents,
        check_node_count as check_node_count,
        check_supplies as check_supplies,
        check_terminators as check_terminators,
    )
else:
    # Hidden from type checkers, which would take any name at all for one of ours.

    def __getattr__(name: str) -> object:
        """A public name; its module is imported now: who needs one part does not wait for all."""
        if name not in _MODULE_OF:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        found = getattr(import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
