"""A session looked back at, as a page or a list of lines tells it.

The numbers are those of `labkit.bench.debrief`; here they get words.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any, Final

from labkit.bench.debrief import (
    Advice,
    Look,
    Suspects,
    good_path,
    look_back,
    usual_measurements,
)
from labkit.bench.faults import Fault
from labkit.bench.layout import Layout
from labkit.bench.measurements import Look as LookInside
from labkit.bench.measurements import Measurement, Ohms, Reading, SupplyCurrent, Volts
from labkit.bench.possible import possible_faults
from labkit.bench.session import Session, Step
from labkit.bench.setup import Setup
from labkit.bench.several import Letters, showings
from labkit.bench.twins import twins_of

PLAYED_AT_MOST: Final = 100
"""Faults in the running up to which what the traffic shows is worked out: each takes a run. Where
a family's runs are quick, it is worked out however many there are."""
AT_A_GLANCE: Final = (Ohms, Volts, LookInside, SupplyCurrent)
"""What is worked out of every fault in the running, however many there are."""


def suspects(setup: Setup, faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Every single fault in the running at the start, those of this bench among them.

    Of twins that no measurement tells apart, a fault of the bench takes the place of its twin.
    """
    own = sorted(faults, key=lambda fault: fault.words_on(setup.layout))
    twins = {twin for fault in own for twin in twins_of(setup.layout, fault)}
    return (*(f for f in possible_faults(setup) if f not in own and f not in twins), *own)


def told(session: Session) -> dict[str, Any]:
    """The look back as JSON: {"start", "single", "steps", "later", "path"}.

    "start" is how many faults were possible; a step is {"words", "text", "refused", "minutes",
    "before", "after", "counted", "better"}, "better" {"words", "left", "minutes"} or None; "later"
    the number of steps from the first repair on; "path" a list of {"words", "text", "minutes",
    "left"}.

    Where the bench had several faults at once, "single" is false, and what was better, or a good
    path, is not told: both are counted for one fault alone. Then there is "about", what is told
    instead, and "names", which fault each letter stands for. A step, also after a repair, is
    {"words", "text", "refused", "minutes", "told"}, "told" a list of sentences: see
    `labkit.bench.several`.
    """
    setup, faults = session.start.setup, session.start.faults
    running = suspects(setup, faults)
    meter = [m for m in usual_measurements(setup) if isinstance(m, AT_A_GLANCE)]
    taken = [step.did for step in session.steps if isinstance(step.did, Ohms)]
    known = Suspects(session.start.with_faults(()), running, [*meter, *taken])
    if len(faults) > 1:
        return _told_of_several(session, running, known)
    choices: list[Measurement] = [*meter]
    if known.quick:
        choices += [setup.first_look(), setup.report]
    looks = look_back(session, running, choices, leave_out=_too_long(known), known=known)
    return {
        "start": len(running),
        "single": True,
        "steps": [_step(look) for look in looks],
        "later": len(session.steps) - len(looks),
        "path": _path(session, running, choices, known),
    }


def _told_of_several(session: Session, running: Sequence[Fault], known: Suspects) -> dict[str, Any]:
    letters = Letters(session.start)
    looks = look_back(session, running, (), leave_out=_too_long(known), known=known)
    steps = []
    for number, showing in enumerate(showings(session)):
        told = letters.sentences(showing)
        if number < len(looks):
            told += _explained(looks[number])
        steps.append({**_done(showing.step), "told": told})
    return {
        "single": False,
        "about": f"{letters.introduced} At the start {len(running)} single faults were possible. "
        "What would have told more is worked out for one fault alone, so it is left out.",
        "names": letters.names(),
        "steps": steps,
    }


def _explained(look: Look) -> list[str]:
    """How many single faults explain all that was read, where the step changed it."""
    if not look.counted or look.before == look.after:
        return []
    if look.after:
        return [f"{look.after} single faults explain what was read so far."]
    return ["No single fault explains what was read so far: there are several."]


def _too_long(known: Suspects) -> Callable[[Measurement, int], bool]:
    """What is left out of the count: many faults whose traffic takes long to play."""

    def left_out(measurement: Measurement, running: int) -> bool:
        of_meter = isinstance(measurement, AT_A_GLANCE)
        return running > PLAYED_AT_MOST and not of_meter and not known.quick

    return left_out


def _path(
    session: Session,
    running: Sequence[Fault],
    choices: Sequence[Measurement],
    known: Suspects,
) -> list[dict[str, Any]]:
    """The better of two good paths: one begins as the bench stands, one by switching the power.

    The better one leaves fewer faults, or else takes less time.
    """
    ways = [_way(session, running, choices, known, at_once=at_once) for at_once in (False, True)]
    return min(
        ways, key=lambda way: (_left(way, running), math.fsum(step["minutes"] for step in way))
    )


def _left(way: Sequence[dict[str, Any]], running: Sequence[Fault]) -> int:
    return int(way[-1]["left"]) if way else len(running)


def _way(
    session: Session,
    faults: Sequence[Fault],
    choices: Sequence[Measurement],
    known: Suspects,
    *,
    at_once: bool,
) -> list[dict[str, Any]]:
    """Good measurements one after another; the power is switched where nothing more is told."""
    bench, running, way = session.start, tuple(faults), list[dict[str, Any]]()
    for turn in range(3):
        if turn or at_once:
            bench = bench.standing(replace(bench.situation, power=not bench.situation.power))
            switch = "power on" if bench.situation.power else "power off"
            way.append(_switched(switch, session.costs.get(switch, 0.0), len(running)))
        here = Session.at(bench, session.costs)
        for advice, seen, left in good_path(here, running, choices, known=known):
            running = known.left(running, advice.measurement, bench.situation, seen)
            way.append(_advised(advice, seen, left, bench.layout))
        if len(running) <= 1:
            break
    while way and way[-1]["left"] == (way[-2]["left"] if len(way) > 1 else len(faults)):
        way.pop()
    return way


def _switched(words: str, minutes: float, left: int) -> dict[str, Any]:
    return {"words": words, "text": "done", "minutes": minutes, "left": left}


def _advised(advice: Advice, seen: Reading, left: int, layout: Layout) -> dict[str, Any]:
    return {
        "words": advice.measurement.words_on(layout),
        "text": seen.text,
        "minutes": advice.minutes,
        "left": left,
    }


def lines(back: dict[str, Any]) -> list[str]:
    """The same for a page of text."""
    if not back["single"]:
        return _lines_of_several(back)
    found = [f"At the start {back['start']} single faults were possible."]
    for number, step in enumerate(back["steps"], 1):
        before = step["before"]
        faults = f"possible fault{'s' * (before != 1)}"
        count = f"{before} {faults} before, {step['after']} after"
        if not step["counted"]:
            count = "What it ruled out was not worked out"
        found.append(
            f"{number}. {step['words']} ({step['minutes']:g} min): {step['text']}. {count}."
        )
        if step["better"]:
            better = step["better"]
            found.append(
                f"   Better: {better['words']}, which leaves {better['left']:.0f} on average."
            )
    found.append("A good path from the start:")
    for number, step in enumerate(back["path"], 1):
        found.append(f"{number}. {step['words']}: {step['text']}, {step['left']} left.")
    return found


def _lines_of_several(back: dict[str, Any]) -> list[str]:
    found = [back["about"], back["names"]]
    for number, step in enumerate(back["steps"], 1):
        done = f"{number}. {step['words']} ({step['minutes']:g} min): {step['text']}."
        found.append(" ".join([done, *step["told"]]))
    return found


def _done(step: Step) -> dict[str, Any]:
    reading = step.reading
    return {
        "words": step.words,
        "text": reading.text if reading else "done",
        "refused": not step.done,
        "minutes": step.minutes,
    }


def _step(look: Look) -> dict[str, Any]:
    return {
        **_done(look.step),
        "before": look.before,
        "after": look.after,
        "counted": look.counted,
        "better": _better(look),
    }


def _better(look: Look) -> dict[str, Any] | None:
    """The advice, unless the step was as good as it."""
    advice: Advice | None = look.better
    if advice is None or not look.counted or look.after <= advice.expected_left + 0.5:
        return None
    return {
        "words": advice.measurement.words_on(look.step.before.layout),
        "left": round(advice.expected_left, 1),
        "minutes": advice.minutes,
    }
