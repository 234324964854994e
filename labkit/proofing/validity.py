"""Do the validity rules throw too many draws away, and which of them does?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.proofing.findings import Finding, Severity
from labkit.proofing.screening import Screened

LOOK_SHARE: Final = 0.90
"""Rules that throw away more than this share of the draws are told."""
MUST_SHARE: Final = 0.98
"""Beyond this share dealing gets slow, and some trainee will get no scenario."""


@dataclass(frozen=True, kw_only=True)
class RulesReject(Finding):
    """The rules throw most draws away."""

    id: ClassVar[str] = "rules-reject"
    rejected: int
    drawn: int
    rule: str
    because: str
    by_rule: int

    @property
    def severity(self) -> Severity:
        """Many is slow; nearly all is a lab that cannot be dealt."""
        return Severity.MUST if self.rejected / self.drawn > MUST_SHARE else Severity.LOOK

    @property
    def sentence(self) -> str:
        """The share, and the rule that rejects most."""
        return (
            f"the rules throw away {100 * self.rejected / self.drawn:.1f} % of what is drawn (told "
            f"above {100 * LOOK_SHARE:.0f} %, must be mended above {100 * MUST_SHARE:.0f} %). The "
            f"rule '{self.rule}' ({self.because}) does {100 * self.by_rule / self.rejected:.0f} % "
            "of it."
        )

    @property
    def mend(self) -> str:
        """Draw from what is valid."""
        return "Draw from narrower ranges, so that most draws keep this rule, or loosen it."


def validity_findings(valid: int, screened: Screened) -> list[Finding]:
    """What `valid` scenarios cost in draws thrown away."""
    rejected = screened.turned_down
    drawn = rejected + valid
    if not rejected or rejected / drawn <= LOOK_SHARE:
        return []
    worst = max(screened.rules, key=lambda cost: cost.turned_down)
    return [
        RulesReject(
            place=worst.place,
            rejected=rejected,
            drawn=drawn,
            rule=worst.text,
            because=worst.rule.because,
            by_rule=worst.turned_down,
        )
    ]
