"""The draws, one after the other, past every family of findings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter
from typing import Any, Final, Protocol

from labkit.lab.definition import Lab
from labkit.lab.draw import draw
from labkit.language.problems import DefinitionError, Place
from labkit.proofing.accepting import Stands, sorted_out
from labkit.proofing.as_printed import AsPrinted
from labkit.proofing.asked_for import AskedFor
from labkit.proofing.caveats import Caveats
from labkit.proofing.copied import Copied
from labkit.proofing.evenness import Evenness, Spread
from labkit.proofing.examples import Examples
from labkit.proofing.findings import Finding, Severity
from labkit.proofing.formulas import formula_findings
from labkit.proofing.giveaway import Giveaway
from labkit.proofing.guessing import Guessing
from labkit.proofing.not_shown import not_shown
from labkit.proofing.places import Places
from labkit.proofing.remarked import remarked_findings
from labkit.proofing.rounding import Rounding
from labkit.proofing.sample import PROOF_SEED, Drawn
from labkit.proofing.screening import Screened, Screening
from labkit.proofing.slips import Slips
from labkit.proofing.solutions import Solutions
from labkit.proofing.topics import topic_findings
from labkit.proofing.trial import Trials
from labkit.proofing.typed_html import typed_html_findings
from labkit.proofing.units import unit_findings
from labkit.proofing.validity import validity_findings
from labkit.proofing.wording import Readable, Wording

GIVE_UP: Final = 3
"""Seeds without any scenario after which no more are tried."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Report:
    """What proof-reading found. `drawn` counts scenarios; `screened` says what finding them took.

    `accepted` are the findings that the lab lets stand; they are not among `findings`.
    """

    lab: Lab
    draws: int
    drawn: int
    screened: Screened
    different: int
    difficulty: Spread | None
    findings: tuple[Finding, ...]
    accepted: tuple[Stands, ...] = ()
    wording: Wording | None = None

    @property
    def thrown_away(self) -> int:
        """How many draws broke a rule."""
        return self.screened.turned_down

    @property
    def ready(self) -> bool:
        """Whether nothing must be mended."""
        return not self.of(Severity.MUST)

    @property
    def told_costs(self) -> tuple[Told, ...]:
        """What turns down much or takes long, where an author can do something about it."""
        spread = self.difficulty
        return (*self.screened.told, *([spread] if spread and spread.turns_many_down else []))

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        """The findings of one severity."""
        return tuple(finding for finding in self.findings if finding.severity is severity)

    def to_json(self) -> dict[str, Any]:
        """The report as plain JSON data."""
        spread = self.difficulty
        return {
            "lab": self.lab.id,
            "version": self.lab.version,
            "digest": self.lab.digest,
            "draws": self.draws,
            "drawn": self.drawn,
            "thrown_away": self.thrown_away,
            "screening": self.screened.to_json(),
            "different": self.different,
            "difficulty": spread.to_json() | {"time_share": self.screened.part(spread.seconds)}
            if spread
            else None,
            "wording": self.wording.to_json() if self.wording else None,
            "ready": self.ready,
            "findings": [finding.to_json() for finding in self.findings],
            "accepted": [stands.to_json() for stands in self.accepted],
        }


class Told(Protocol):
    """Something that costs draws, as a person reads it."""

    @property
    def place(self) -> Place:
        """Where to mend it."""

    @property
    def sentence(self) -> str:
        """What it costs."""

    @property
    def mend(self) -> str:
        """What an author can do about it."""


class Family(Protocol):
    """Watches the draws for one sort of findings."""

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""

    def add(self, later: Any) -> None:
        """Add what later draws gave to another one of the same sort."""

    def findings(self) -> list[Finding]:
        """What is found in all draws so far."""


class Tally:
    """What the draws of a lab gave so far, in every family of findings."""

    def __init__(self, lab: Lab) -> None:
        self.lab = lab
        self.drawn = 0
        self.screening = Screening(lab)
        self.trials = Trials(lab)
        self.solutions, self.evenness, self.readable = Solutions(lab), Evenness(lab), Readable(lab)
        self.families: tuple[Family, ...] = (
            self.solutions,
            Slips(lab),
            Rounding(lab),
            Giveaway(lab),
            AsPrinted(lab),
            AskedFor(lab),
            Places(lab),
            Examples(lab),
            Copied(lab),
            Guessing(lab),
            Caveats(lab),
            self.evenness,
            self.readable,
        )

    @property
    def hopeless(self) -> bool:
        """Whether no seed gave a scenario so far, and more need not be tried."""
        return not self.drawn and self.trials.draws >= GIVE_UP

    def draw(self, number: int) -> None:
        """Take in the draw of that number, from 1."""
        seed = PROOF_SEED.format(number)
        begun = perf_counter()
        try:
            scenario = draw(self.lab, seed, watch=self.screening)
        except DefinitionError as error:
            self.trials.without_scenario(seed, error)
            return
        finally:
            self.screening.searched(perf_counter() - begun)
        self.drawn += 1
        tried = self.trials.tried(scenario)
        for family in self.families:
            family.see(tried)

    def add(self, later: Tally) -> None:
        """Add what later draws of the same lab gave."""
        self.drawn += later.drawn
        self.screening.add(later.screening)
        self.trials.add(later.trials)
        for family, more in zip(self.families, later.families, strict=True):
            family.add(more)

    def report(self, draws: int) -> Report:
        """The report on so many draws, which were all taken in unless they are hopeless."""
        lab, screened = self.lab, self.screening.screened
        found = [
            *self.trials.findings(),
            *validity_findings(self.drawn, screened),
            *(finding for family in self.families for finding in family.findings()),
            *formula_findings(lab),
            *remarked_findings(lab),
            *not_shown(lab),
            *typed_html_findings(lab),
            *topic_findings(lab),
            *unit_findings(lab),
        ]
        found.sort(key=lambda finding: _order(lab, finding))
        apart = sorted_out(lab, found, self.drawn)
        return Report(
            lab=lab,
            draws=draws,
            drawn=self.drawn,
            screened=screened,
            different=self.solutions.different,
            difficulty=self.evenness.spread,
            findings=tuple(sorted(apart.open, key=lambda finding: _order(lab, finding))),
            accepted=apart.standing,
            wording=self.readable.wording,
        )


def proof(lab: Lab, draws: int = 1_000, progress: Progress | None = None) -> Report:
    """Proof-read `lab` over so many draws. `progress` is called with (done, all).

    The same lab gives the same report, but for the time that its rules take: the seeds are fixed.
    """
    tally = Tally(lab)
    for number in range(1, draws + 1):
        tally.draw(number)
        if tally.hopeless:
            break
        if progress:
            progress(number, draws)
    return tally.report(draws)


def _order(lab: Lab, finding: Finding) -> tuple[int, bool, str, int]:
    place = finding.place
    return (
        list(Severity).index(finding.severity),
        place.file != lab.place.file,
        place.file,
        place.line,
    )
