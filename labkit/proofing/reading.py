"""What cannot be read, in the form of a finding: its proof-reading ends there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from labkit.language.problems import DefinitionError
from labkit.proofing.findings import Finding


@dataclass(frozen=True, kw_only=True)
class Unreadable(Finding):
    """A problem that the reader told."""

    id: ClassVar[str] = "unreadable"
    acceptable: ClassVar[bool] = False
    message: str
    reader_mend: str

    @property
    def sentence(self) -> str:
        """The reader's sentence."""
        return self.message

    @property
    def mend(self) -> str:
        """The reader's mend."""
        return self.reader_mend


def unreadable_json(error: DefinitionError) -> dict[str, Any]:
    """The report on a lab that cannot be read, as plain JSON data."""
    findings = [
        Unreadable(place=problem.place, message=problem.message, reader_mend=problem.mend)
        for problem in error.problems
    ]
    return {"ready": False, "draws": 0, "findings": [finding.to_json() for finding in findings]}
