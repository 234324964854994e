"""Everything that marking the hand-ins of a class needs, put together once a process."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import require_same_secret
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.editions import Edition, edition_of
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Deal, Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.receiving import Reader
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario

_SCENARIOS_KEPT: Final = 60
"""A room full: its marks, pages and analysis share the scenarios; more people would fill memory."""


@dataclass(frozen=True)
class Examiner:
    """The deal, the class's secret and the labs by which marks are given."""

    folder: ClassFolder
    deal: Deal
    secret: str
    editions: dict[str, Edition]
    reader: Reader
    _scenarios: OrderedDict[str, Scenario] = field(
        default_factory=OrderedDict, init=False, compare=False, repr=False
    )

    @classmethod
    def of(cls, folder: ClassFolder, texts: dict[str, str] | None = None) -> Examiner:
        """The examiner of a class. `texts` names later editions than the dealt one: lab → id.

        Raises `ClassError` when the class was not dealt yet or is not as it was dealt.
        """
        deal = read_deal(folder)
        if not deal.dealt:
            raise ClassError(f"{folder.path} was not dealt yet: run 'labkit deal' first.")
        secret = folder.secret()
        require_same_secret(folder, secret, deal)
        ids = texts or {}
        editions = {name: edition_of(folder, name, deal, ids.get(name)) for name in deal.labs}
        return cls(folder, deal, secret, editions, Reader(deal, secret, folder.fields.id))

    @property
    def labs(self) -> dict[str, Lab]:
        """The labs by which marks are given."""
        return {name: edition.lab for name, edition in self.editions.items()}

    @property
    def texts(self) -> dict[str, str]:
        """The editions by which marks are given: lab → id."""
        return {name: edition.id for name, edition in self.editions.items()}

    def scenario(self, item: Dealt) -> Scenario:
        """What a trainee was dealt. Raises `ClassError` when it comes out otherwise."""
        if item.workbook not in self._scenarios:
            lab = self.editions[item.lab].lab
            drawn = scenario_of(self.secret, self.folder.fields.id, lab, item)
            self._scenarios[item.workbook] = drawn
            if len(self._scenarios) > _SCENARIOS_KEPT:
                self._scenarios.popitem(last=False)
        self._scenarios.move_to_end(item.workbook)
        return self._scenarios[item.workbook]


@dataclass(frozen=True)
class Setting:
    """What leads another process to the same examiner: plain data only."""

    path: str
    texts: tuple[tuple[str, str], ...]
    stamp: tuple[int, int]

    @classmethod
    def of(cls, folder: ClassFolder, texts: dict[str, str]) -> Setting:
        """The setting of a class as it is now."""
        state = folder.deal_file.stat()
        return cls(
            str(folder.path.resolve()), tuple(texts.items()), (state.st_mtime_ns, state.st_size)
        )


@lru_cache(maxsize=2)
def examiner_of(setting: Setting) -> Examiner:
    """The examiner of a setting, put together once a process."""
    return Examiner.of(ClassFolder.open(Path(setting.path)), dict(setting.texts))
