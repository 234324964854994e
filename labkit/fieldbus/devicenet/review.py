"""Which rules a proposed drawing breaks, where, and how to mend it: by calculation alone.

A finding is one error, though it may show at two places: a terminator that stands on a drop and
the open end that it is missing from; two devices with one address.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from types import MappingProxyType
from typing import Final

from labkit.fieldbus.devicenet.addresses import check_addresses
from labkit.fieldbus.devicenet.lengths import (
    cumulative_drops,
    single_drops,
    trunk_rules,
)
from labkit.fieldbus.devicenet.parts import TERMINATOR_RESISTANCE, Tap
from labkit.fieldbus.devicenet.power import full_calculation
from labkit.fieldbus.devicenet.proposal import Part, Proposal
from labkit.fieldbus.devicenet.reading import joined, plain
from labkit.fieldbus.devicenet.wiring import (
    check_drop_currents,
    check_supplies,
    check_supply_rating,
    check_terminators,
)
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

TERMINATORS: Final = "terminators"
EARTH: Final = "earth"
TRUNK: Final = "trunk"
DROP: Final = "drop"
DROPS: Final = "drops"
DROP_CURRENT: Final = "drop-current"
FUSE: Final = "fuse"
SUPPLY_PLACE: Final = "supply-place"
SUPPLY_RATING: Final = "supply-rating"
ADDRESS: Final = "address"

_LOCAL_CODE: Final = "The local code may ask for less: it goes first."


@dataclass(frozen=True, slots=True)
class Finding:
    """One error: the rule, the parts (ids) at which it shows, the figures, and how to mend it."""

    rule: str
    parts: tuple[str, ...]
    told: str
    mend: str


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule in one place.

    `words` may be said of a part; `kinds` are those of parts of which the rule has something to
    say, `about` tells where to look for it; `find` finds what breaks it; `why` says of a part that
    does not break it why it is right, with its own figures.
    """

    words: str
    kinds: tuple[str, ...]
    about: str
    find: Callable[[Proposal], Iterator[Finding]]
    why: Callable[[Proposal, Part], str]


def findings(proposal: Proposal) -> tuple[Finding, ...]:
    """Every error of a proposal, rule by rule. Raises `PlanError` for cable of unknown figures."""
    return tuple(found for rule in RULES.values() for found in rule.find(proposal))


def why_right(proposal: Proposal, part: Part, name: str) -> str:
    """Why a part is right by a rule that it does not break: a sentence with its own figures."""
    rule = RULES[name]
    if part.kind not in rule.kinds:
        return f"nothing at this place can break the rule that is named: {rule.about}."
    return rule.why(proposal, part)


def _terminators(proposal: Proposal) -> Iterator[Finding]:
    """A terminator that strayed is paired with an end that misses one: it is one error."""
    network = proposal.network
    missing = [
        side
        for side, result in zip(
            ("left end", "right end"), check_terminators(network)[0:4:2], strict=True
        )
        if not result.ok
    ]
    for tap, end in zip_longest(proposal.drop_terminators, missing):
        on_drop = f"on the drop at {plain(network.tap(tap).position)} m" if tap else ""
        if tap and end:
            told = f"a terminator stands {on_drop}, and the {end} of the trunk has none."
            yield Finding(TERMINATORS, (tap, end), told, f"move it to the {end} of the trunk.")
        elif tap:
            told = f"a third terminator stands {on_drop}."
            yield Finding(TERMINATORS, (tap,), told, "take it off: both ends have theirs.")
        else:
            told = f"the {end} of the trunk has no terminator."
            mend = f"fit one of {plain(TERMINATOR_RESISTANCE)} Ω there."
            yield Finding(TERMINATORS, (end,), told, mend)


def _why_terminators(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    if part.kind == "end":
        return (
            f"a terminator of {plain(TERMINATOR_RESISTANCE)} Ω belongs at this end, and is there."
        )
    return "no terminator stands on this drop."


def _earth(proposal: Proposal) -> Iterator[Finding]:
    strays = [part for part in proposal.parts if part.kind == "earth"]
    missing = [] if proposal.supply_is_earthed else ["supply"]
    for stray, supply in zip_longest(strays, missing):
        if stray and supply:
            told = f"V− and shield are earthed at {plain(stray.position)} m and not at the supply."
            yield Finding(EARTH, (stray.id, supply), told, "earth them at the supply alone.")
        elif stray:
            told = (
                f"V− and shield are earthed a second time at {plain(stray.position)} m, away from "
                "the supply: a current may flow through the shield from one earth to the other."
            )
            yield Finding(
                EARTH, (stray.id,), told, "take this earth off; that at the supply stays."
            )
        else:
            told = "V− and shield are earthed nowhere."
            yield Finding(EARTH, (supply,), told, "earth them together at the supply.")


def _why_earth(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    return "V− and shield are earthed here, at the supply, as they must be."


def _trunk(proposal: Proposal) -> Iterator[Finding]:
    broken = [result for result in trunk_rules(proposal.network) if not result.ok]
    if not broken:
        return
    parts = tuple(part.id for part in proposal.parts if part.kind == "trunk")
    mixed = len(proposal.network.cables) > 1
    mend = (
        "put thick cable in place of thin, shorten the trunk, or choose a lower data rate."
        if mixed
        else "shorten the trunk, or choose a lower data rate or another cable."
    )
    yield Finding(TRUNK, parts, f"{_trunk_in_words(proposal, broken[0])}.", mend)


def _why_trunk(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    results = trunk_rules(proposal.network)
    return f"{_trunk_in_words(proposal, min(results, key=lambda r: r.margin / r.limit))}."


def _trunk_in_words(proposal: Proposal, result: RuleResult) -> str:
    counted = (
        "the longest way counts as" if len(proposal.network.cables) > 1 else "the longest way is"
    )
    of_what = " of thick cable" if len(proposal.network.cables) > 1 else ""
    return (
        f"{counted} {plain(result.value)} m{of_what}, {plain(result.limit)} m are allowed at "
        f"{proposal.network.data_rate} kbit/s"
    )


def _drop(proposal: Proposal) -> Iterator[Finding]:
    for tap, result in _by_tap(proposal, single_drops(proposal.network)):
        if not result.ok:
            told = _drop_in_words(result)
            yield Finding(DROP, (tap.name,), told, "set the tap nearer to the device.")


def _why_drop(proposal: Proposal, part: Part) -> str:
    return _drop_in_words(_of_tap(proposal, part, single_drops(proposal.network)))


def _drop_in_words(result: RuleResult) -> str:
    return f"its drop is {plain(result.value)} m long, {plain(result.limit)} m are allowed."


def _drops(proposal: Proposal) -> Iterator[Finding]:
    result = cumulative_drops(proposal.network)
    if not result.ok:
        taps = tuple(proposal.network.tap_names)
        told = f"{_drops_in_words(proposal, result)}."
        yield Finding(DROPS, taps, told, "shorten drops, or choose a lower data rate.")


def _why_drops(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    return f"{_drops_in_words(proposal, cumulative_drops(proposal.network))}."


def _drops_in_words(proposal: Proposal, result: RuleResult) -> str:
    return (
        f"all drops together are {plain(result.value)} m long, {plain(result.limit)} m are allowed "
        f"at {proposal.network.data_rate} kbit/s"
    )


def _drop_current(proposal: Proposal) -> Iterator[Finding]:
    for tap, result in _by_tap(proposal, check_drop_currents(proposal.network)):
        if not result.ok:
            told = _drop_current_in_words(result)
            yield Finding(DROP_CURRENT, (tap.name,), told, "shorten the drop, or part its devices.")


def _why_drop_current(proposal: Proposal, part: Part) -> str:
    return _drop_current_in_words(_of_tap(proposal, part, check_drop_currents(proposal.network)))


def _drop_current_in_words(result: RuleResult) -> str:
    return (
        f"its devices draw {plain(result.value)} A, and a drop of this length carries "
        f"{plain(result.limit)} A."
    )


def _fuse(proposal: Proposal) -> Iterator[Finding]:
    broken = [result for result in _fuse_results(proposal) if not result.ok]
    if not broken:
        return
    told = " ".join(
        f"the {result.where.partition(' ')[0]} fuse of {plain(result.value)} A protects cable that "
        f"carries {plain(result.limit)} A."
        for result in broken
    )
    mend = f"fit a fuse no larger than the cable carries. {_LOCAL_CODE}"
    yield Finding(FUSE, ("supply",), told, mend)


def _why_fuse(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    fuses = [
        f"{result.where.partition(' ')[0]} fuse {plain(result.value)} A, the cable carries "
        f"{plain(result.limit)} A"
        for result in _fuse_results(proposal)
    ]
    return f"{'; '.join(fuses) or 'no fuse is drawn'}."


def _fuse_results(proposal: Proposal) -> list[RuleResult]:
    rule = "fuse for the cable behind it"
    return [result for result in check_supplies(proposal.network) if result.rule == rule]


def _supply_place(proposal: Proposal) -> Iterator[Finding]:
    full = full_calculation(proposal.network)
    if full.ok:
        return
    broken = " and ".join(side.side for side in full.sides if any(not r.ok for r in side.results))
    told = f"{_sides_in_words(proposal)}: too much on the {broken}."
    mend = f"move the supply to the {broken}." if " and " not in broken else "feed it from two."
    yield Finding(SUPPLY_PLACE, ("supply",), told, mend)


def _why_supply_place(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    return f"{_sides_in_words(proposal)}."


def _sides_in_words(proposal: Proposal) -> str:
    full = full_calculation(proposal.network)
    sides = [
        f"{side.total:.2f} V on the {side.side} ({plain(side.trunk_current)} A)"
        for side in full.sides
    ]
    return f"each power conductor loses {' and '.join(sides)}, {full.limit:.2f} V are allowed"


def _supply_rating(proposal: Proposal) -> Iterator[Finding]:
    for result in check_supply_rating(proposal.network):
        if not result.ok:
            told = f"{_rating_in_words(result)}."
            yield Finding(SUPPLY_RATING, ("supply",), told, "take a supply that gives more.")


def _why_supply_rating(proposal: Proposal, part: Part) -> str:  # noqa: ARG001
    told = [f"{_rating_in_words(result)}." for result in check_supply_rating(proposal.network)]
    return told[0] if told else "no rating is drawn."


def _rating_in_words(result: RuleResult) -> str:
    return (
        f"it is rated {plain(result.value)} A, and all devices together draw "
        f"{plain(result.limit, 3)} A"
    )


def _address(proposal: Proposal) -> Iterator[Finding]:
    network = proposal.network
    for problem in check_addresses(network.addresses):
        if problem.kind != "duplicate":
            raise PlanError(problem.sentence)
        taps = dict.fromkeys(network.tap_of(device).name for device in problem.devices)
        told = f"{joined(problem.devices)} both have node address {problem.address}."
        if len(problem.devices) > 2:
            told = f"{joined(problem.devices)} all have node address {problem.address}."
        yield Finding(ADDRESS, tuple(taps), told, "give each device an address of its own.")


def _why_address(proposal: Proposal, part: Part) -> str:
    devices = proposal.network.tap(part.id).drop.all_devices
    addresses = joined([str(device.address) for device in devices])
    return f"no other device has address {addresses}." if addresses else "no device is there."


def _by_tap(
    proposal: Proposal, results: tuple[RuleResult, ...]
) -> Iterator[tuple[Tap, RuleResult]]:
    """Each tap with its worst single drop."""
    rest = iter(results)
    for tap in proposal.network.taps:
        of_tap = [next(rest) for _ in tap.cable_drops]
        yield tap, min(of_tap, key=lambda result: result.margin)


def _of_tap(proposal: Proposal, part: Part, results: tuple[RuleResult, ...]) -> RuleResult:
    return next(result for tap, result in _by_tap(proposal, results) if tap.name == part.id)


RULES: Final[Mapping[str, Rule]] = MappingProxyType(
    {
        TERMINATORS: Rule(
            "terminator where none belongs, or missing",
            ("end", "tap"),
            "terminators are looked for at the trunk's ends and on drops",
            _terminators,
            _why_terminators,
        ),
        EARTH: Rule(
            "earthed at a wrong place, or nowhere",
            ("supply", "earth"),
            "it is about where V− and shield are earthed",
            _earth,
            _why_earth,
        ),
        TRUNK: Rule(
            "trunk too long for its cable and data rate",
            ("trunk",),
            "it is about the pieces of trunk",
            _trunk,
            _why_trunk,
        ),
        DROP: Rule("drop too long", ("tap",), "it is about single drops", _drop, _why_drop),
        DROPS: Rule(
            "all drops together too long", ("tap",), "it is about the drops", _drops, _why_drops
        ),
        DROP_CURRENT: Rule(
            "too much current for the drop's length",
            ("tap",),
            "it is about single drops",
            _drop_current,
            _why_drop_current,
        ),
        FUSE: Rule(
            "fuse too large for the cable behind it",
            ("supply",),
            "the fuses are at the supply",
            _fuse,
            _why_fuse,
        ),
        SUPPLY_PLACE: Rule(
            "supply at the wrong place: one side loses too much",
            ("supply",),
            "it is about the supply",
            _supply_place,
            _why_supply_place,
        ),
        SUPPLY_RATING: Rule(
            "supply too small for all devices",
            ("supply",),
            "it is about the supply",
            _supply_rating,
            _why_supply_rating,
        ),
        ADDRESS: Rule(
            "node address there twice",
            ("tap",),
            "node addresses are set at devices",
            _address,
            _why_address,
        ),
    }
)
"""Every rule, in the order in which findings are told."""
