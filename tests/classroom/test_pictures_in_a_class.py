"""The pictures of a lab come into the class with it, and what was dealt before them stays."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from PIL import Image
from tiny_class import MakeRoom, Room, corrected

from labkit.classroom.corrections.correcting import correct
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.lab.reading.pictures import Pictures
from labkit.language.problems import DefinitionError

PICTURE = "![A reel of cable](reel.png)"


def png(colour: str) -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (30, 20), colour).save(stream, "PNG")
    return stream.getvalue()


def of_library(room: Room) -> Path:
    return room.library / "tiny"


@pytest.fixture
def pictured(make_room: MakeRoom) -> Room:
    """A class, not dealt yet, whose lab has a picture in its text and in a working."""
    made = make_room()
    folder = of_library(made)
    text = (folder / "lab.md").read_text(encoding="utf-8")
    text = text.replace("Your length", f"{PICTURE}\n\nYour length")
    text = text.replace("working: 2", f"working: {PICTURE} 2")
    (folder / "lab.md").write_text(text, encoding="utf-8")
    (folder / "reel.png").write_bytes(png("red"))
    return made


def task(room: Room) -> str:
    return (room.home("ann") / "tiny.task.json").read_text(encoding="utf-8")


def test_a_picture_comes_into_the_class_and_into_workbooks(pictured: Room) -> None:
    pictured.deal()
    copy = pictured.path / "labs" / "tiny" / "reel.png"
    assert copy.read_bytes() == png("red")
    notebook = json.loads((pictured.home("ann") / "tiny.ipynb").read_text(encoding="utf-8"))
    assert "data:image/png;base64," in json.dumps(notebook["cells"])
    assert "data:image/png;base64," in task(pictured)
    # The library's picture may change: the class keeps its edition.
    (of_library(pictured) / "reel.png").unlink()
    pictured.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Iwu", "dee,Dee Late")
    pictured.deal()
    pictured.hand_in("ann")
    pictured.hand_in("dee")
    earned = {result.dealt.trainee: result.earned for result in score(pictured.folder).results}
    assert (earned["ann"], earned["dee"]) == (8, 8)


def test_a_changed_picture_is_a_changed_lab(pictured: Room) -> None:
    pictured.deal()
    (pictured.path / "labs" / "tiny" / "reel.png").write_bytes(png("blue"))
    with pytest.raises(ClassError, match="changed after it was dealt"):
        pictured.deal()
    pictured.hand_in("ann")
    with pytest.raises(ClassError, match="or a picture of it, was changed"):
        score(pictured.folder)


def test_a_lab_is_not_dealt_while_a_picture_is_missing(pictured: Room) -> None:
    (of_library(pictured) / "reel.png").unlink()
    with pytest.raises(DefinitionError, match=r"reel\.png' is not there"):
        pictured.deal()
    assert not (pictured.path / "labs" / "tiny").exists()


@pytest.mark.parametrize("file_is_there", [True, False])
def test_a_class_of_an_older_labkit_is_still_marked(
    pictured: Room, file_is_there: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as older:
        older.setattr(Pictures, "of", classmethod(lambda cls, folder, source: cls(folder, source)))
        pictured.deal()
    own = pictured.path / "labs" / "tiny" / "reel.png"
    assert not own.exists()
    if file_is_there:
        own.write_bytes(png("red"))
    digest = pictured.dealt.labs["tiny"]["digest"]
    assert pictured.folder.lab("tiny", dealt=True).digest == digest
    pictured.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Iwu", "dee,Dee Late")
    pictured.deal()
    for trainee in ("ann", "dee"):
        pictured.hand_in(trainee)
    earned = {result.dealt.trainee: result.earned for result in score(pictured.folder).results}
    assert (earned["ann"], earned["dee"]) == (8, 8)


def test_a_correction_takes_the_pictures_of_the_class(pictured: Room) -> None:
    pictured.deal()
    pictured.hand_in("ann")
    score(pictured.folder)
    folder = corrected(pictured, ("answer: twice\n", "answer: twice + 1\n"))
    correct(pictured.folder, "tiny", folder, reason="ours", by="R. Ops")
    assert {result.earned for result in score(pictured.folder).results} == {4, 0}
    folder = corrected(
        pictured, ("working: ![A reel of cable](reel.png)", "working: ![One](x.png)")
    )
    (folder / "x.png").write_bytes(png("blue"))
    with pytest.raises(DefinitionError, match=r"x\.png' is not there"):
        correct(pictured.folder, "tiny", folder, reason="ours", by="R. Ops")


def test_two_labs_that_need_another_edition_of_a_picture_do_not_mix(pictured: Room) -> None:
    child = pictured.library / "other"
    child.mkdir()
    text = "---\nextends: tiny\nid: other\nversion: 1.0\ntitle: Other\n---\n"
    (child / "lab.md").write_text(text, encoding="utf-8")
    pictured.deal()
    (of_library(pictured) / "reel.png").write_bytes(png("blue"))
    pictured.write_class(labs="[tiny, other]")
    with pytest.raises(ClassError, match=r"takes over tiny/reel\.png"):
        pictured.deal()
