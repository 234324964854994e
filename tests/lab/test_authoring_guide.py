"""The authoring guide, followed word by word: its commands, its files, what it says is printed."""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from labkit.doors import installed
from labkit.families.devicenet.network_reading import DeviceNetFamily
from labkit.families.modbus.network_reading import ModbusFamily
from labkit.lab.reading.fields import HeaderFields
from labkit.lab.reading.source import read_source
from labkit.language.expression import function_names
from labkit.proofing import (
    blindly,
    copied,
    evenness,
    examples,
    guessing,
    halving,
    places,
    screening,
    slips,
    validity,
    wording,
)
from labkit.proofing.accepting import ENOUGH
from labkit.proofing.findings import kinds_of_finding
from labkit.proofing.giveaway import LOOK_SHARE as GIVEN_LOOK
from labkit.proofing.giveaway import MUST_SHARE as GIVEN_MUST
from labkit.proofing.solutions import ENOUGH_DRAWS, FEW_ANSWERS, FEW_SCENARIOS

GUIDE = (Path(__file__).parents[2] / "instructors" / "authoring.md").read_text(encoding="utf-8")
STEPS, REFERENCE = GUIDE.split("# Part two: to look things up")


@dataclass(frozen=True)
class Block:
    """A fenced block: its language, its text, and the sentence before it."""

    language: str
    text: str
    before: str


def blocks(text: str) -> Iterator[Block]:
    """The fenced blocks of the guide, the outer ones where one holds others."""
    at = 0
    for match in re.finditer(r"^(`{3,})(\w*)\n(.*?)^\1\n", text, re.DOTALL | re.MULTILINE):
        yield Block(match[2], match[3], text[at : match.start()].strip())
        at = match.end()


@contextmanager
def _in(folder: Path) -> Iterator[None]:
    home = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(home)


class Trainer:
    """Somebody who does what the guide says, and nothing else."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.printed = ""
        self.file = folder
        self.old = ""
        self.commands: list[str] = []
        self.compared = 0

    def follow(self, block: Block) -> None:
        """Do what one block asks."""
        into = re.findall(r"into\s+`([^`]+)`", block.before)
        lines_of = re.findall(r"lines of `([^`]+)`", block.before)
        if block.language == "sh":
            self.run(block.text)
        elif block.language == "text":
            self.compare(block.text)
        elif into:
            self.file = self.folder / into[-1]
            self.file.parent.mkdir(parents=True, exist_ok=True)
            self.file.write_text(block.text, encoding="utf-8")
        elif block.before == "into":
            text = self.file.read_text(encoding="utf-8")
            assert text.count(self.old) == 1, self.old
            self.file.write_text(text.replace(self.old, block.text), encoding="utf-8")
        else:
            if lines_of:
                self.file = self.folder / lines_of[-1]
            self.old = block.text

    def run(self, commands: str) -> None:
        """Type the commands of a block; what they print is kept."""
        from labkit.cli import app

        self.printed = ""
        for line in commands.splitlines():
            name, *words = shlex.split(line)
            assert name == "labkit"
            self.commands.append(words[0])
            with _in(self.folder):
                done = CliRunner().invoke(app, words)
            assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
            self.printed += done.stdout

    def compare(self, shown: str) -> None:
        """Hold what the guide shows against what was printed; progress bars are not shown."""
        lines = [line.rstrip() for line in self.printed.splitlines() if "━" not in line]
        assert "\n".join(lines).strip() == shown.strip()
        self.compared += 1


def test_the_guide_is_true_word_by_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    served: list[str] = []

    def serve(file: Path, *_: object, **__: object) -> None:
        served.append(file.parent.name)

    monkeypatch.setattr("labkit.preview.serving.serve_preview", serve)
    monkeypatch.delenv("UV_RUN_RECURSION_DEPTH", raising=False)
    monkeypatch.delenv("LABKIT_CALLED", raising=False)
    monkeypatch.setenv("COLUMNS", "120")
    trainer = Trainer(tmp_path)
    for block in blocks(STEPS):
        trainer.follow(block)
    assert served == ["one-terminator"]
    assert set(trainer.commands) == {"new", "preview", "proof", "deal", "labs"}
    assert trainer.compared == 7
    dealt = sorted(file.name for file in (tmp_path / "packing-hall").rglob("*.ipynb"))
    assert dealt == ["one-terminator.ipynb"] * 2


def test_every_block_that_is_shown_parses() -> None:
    assert {block.language for block in blocks(STEPS)} == {"sh", "text", "yaml", "csv", "markdown"}
    for block in blocks(GUIDE):
        if block.language == "yaml":
            assert yaml.safe_load(block.text)
        if block.language == "markdown" and block.text.startswith("---\n"):
            assert read_source(block.text, "guide").header.data["id"]


def test_the_guide_names_every_kind_function_and_header_field() -> None:
    for kind in installed.kinds():
        assert f"| `{kind}` |" in REFERENCE
    for name in (*function_names(), *DeviceNetFamily.functions, *ModbusFamily.functions):
        assert re.search(rf"\b{name}\b", REFERENCE), name
    for name, field in HeaderFields.model_fields.items():
        assert f"`{field.alias or name}`" in REFERENCE, name


def test_the_guide_lists_every_finding_and_its_thresholds() -> None:
    found = {*kinds_of_finding()}
    assert (
        set(re.findall(r"^\| `([a-z-]+)` \|", REFERENCE.split("## What proof finds")[1], re.M))
        == found
    )
    rows = dict(re.findall(r"^\| `([a-z-]+)` \| (.*) \|$", REFERENCE, re.M))
    for name, shares in {
        "rules-reject": (validity.LOOK_SHARE, validity.MUST_SHARE),
        "slip-told-as-another": (slips.LOOK_TAKEN,),
        "tolerance-takes-slip": (slips.MUST_TOLERATE,),
        "gives-away": (GIVEN_LOOK, GIVEN_MUST),
        "example-is-right": (examples.MUST_SHARE,),
        "same-as-another": (copied.LOOK_SHARE, copied.MUST_SHARE),
        "found-by-halving": (halving.NOTE_SHARE,),
        "earned-blindly": (blindly.LOOK_SHARE,),
        "guessable": (guessing.LOOK_SHARE, guessing.MUST_SHARE, guessing.MUST_OPTION),
    }.items():
        for share in shares:
            assert f"{100 * share:.0f} %" in rows[name], (name, share)
    assert f"{100 * places.LOOK_OVER_CHANCE:.0f} points" in rows["tells-place"]
    assert f"{halving.DIRECTIONS} directions" in rows["found-by-halving"]
    assert f"{halving.TRIES} answers" in rows["found-by-halving"]
    assert f"grade above {wording.HARD_GRADE}." in rows["hard-to-read"]
    assert f"over {100 * wording.LONG_SHARE:.0f} %" in rows["long-to-read"]
    assert f"{wording.WORDS_A_MINUTE} words" in rows["long-to-read"]
    assert f"in {ENOUGH} draws" in rows["accepts-nothing"]
    for name, kind in kinds_of_finding().items():
        assert kind.acceptable or f"`{name}`" in REFERENCE.split("### What may stand")[1], name
    assert f"below {FEW_SCENARIOS}" in rows["few-scenarios"]
    assert f"{ENOUGH_DRAWS} draws" in rows["few-answers"]
    assert f"fewer than {FEW_ANSWERS}" in rows["few-answers"]
    assert f"{100 * guessing.LOOK_OVER_CHANCE:.0f} points" in rows["guessable"]


def test_the_guide_says_when_the_cost_of_a_rule_is_told() -> None:
    told = " ".join(REFERENCE.split("### What the rules cost")[1].split())
    assert screening.MANY_FAIL == 0.5
    assert "Where at least half of them are thrown away" in told
    assert f"at which {100 * screening.FAIL_HERE:.0f} % or more of all fail" in told
    assert screening.MOST_TOLD == 3
    assert "three at most" in told
    assert f"takes {100 * screening.MUCH_TIME:.0f} % of the time or more" in told
    assert evenness.MANY_OUTSIDE == 2 / 3
    assert "where two thirds of the draws or more are not" in told
