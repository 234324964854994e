"""What reading noticed of a lab that takes something from another, as findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.lab.definition import Lab, Noticed, Remark
from labkit.proofing.findings import Finding, Severity


@dataclass(frozen=True, kw_only=True)
class _Remarked(Finding):
    """Something that reading let pass."""

    usual: ClassVar[Severity] = Severity.NOTE
    """Nothing is wrong with it."""
    told: str
    to_mend: str

    @property
    def sentence(self) -> str:
        """As reading says it."""
        return self.told

    @property
    def mend(self) -> str:
        """As reading says it."""
        return self.to_mend


@dataclass(frozen=True, kw_only=True)
class CautionLeftOut(_Remarked):
    """A caution of the lab that is extended does not show. It is told, whatever is accepted."""

    id: ClassVar[str] = "caution-left-out"
    acceptable: ClassVar[bool] = False


@dataclass(frozen=True, kw_only=True)
class CautionKept(_Remarked):
    """A caution stays where text is replaced."""

    id: ClassVar[str] = "caution-kept"


@dataclass(frozen=True, kw_only=True)
class SectionByHeading(_Remarked):
    """A section is meant by its heading, though it has an id."""

    id: ClassVar[str] = "section-by-heading"


@dataclass(frozen=True, kw_only=True)
class SectionNearlyKnown(_Remarked):
    """A new section that is perhaps meant to be one of the other lab."""

    id: ClassVar[str] = "section-nearly-known"
    usual: ClassVar[Severity] = Severity.LOOK
    """Both texts would show."""


@dataclass(frozen=True, kw_only=True)
class TakenFromAnother(_Remarked):
    """An exercise is another lab's: of which version, and what came with it."""

    id: ClassVar[str] = "taken-from"


@dataclass(frozen=True, kw_only=True)
class RuleNotTaken(_Remarked):
    """A rule about what came with an exercise did not come."""

    id: ClassVar[str] = "rule-not-taken"
    usual: ClassVar[Severity] = Severity.LOOK
    """Some draws may be none that the exercise is made for."""


@dataclass(frozen=True, kw_only=True)
class TakenOfAnotherVersion(_Remarked):
    """The other lab is of another version than the author saw."""

    id: ClassVar[str] = "taken-of-another-version"
    usual: ClassVar[Severity] = Severity.LOOK
    """The exercise may be another one now."""


_TYPES: dict[Noticed, type[_Remarked]] = {
    Noticed.caution_left_out: CautionLeftOut,
    Noticed.caution_kept: CautionKept,
    Noticed.section_by_heading: SectionByHeading,
    Noticed.section_nearly_known: SectionNearlyKnown,
    Noticed.taken: TakenFromAnother,
    Noticed.rule_not_taken: RuleNotTaken,
    Noticed.another_version: TakenOfAnotherVersion,
}


def remarked_findings(lab: Lab) -> list[Finding]:
    """A finding for each remark."""
    return [_finding(remark) for remark in lab.remarks]


def _finding(remark: Remark) -> Finding:
    return _TYPES[remark.what](place=remark.place, told=remark.sentence, to_mend=remark.mend)
