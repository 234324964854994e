"""Pictures beside a lab: told when they cannot be carried, and carried; files of a stranger."""

import base64
import io
import json
import os
import re
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import picture_file, pictures, read_lab, read_lab_text
from labkit.language.markdown import to_html
from labkit.language.problems import DefinitionError
from labkit.page.sheet import sheet_of
from labkit.workbook import WorkbookFiles, task_data
from labkit.workbook.handout import Sheet, handouts, instructors_copy

TEXT = """\
---
id: starters
version: 1.0
title: Starters
draw:
  gap: {from: 2, to: 8}
---

## Look

TEXT

```exercise one
kind: quantity
title: One
question: QUESTION
answer: gap
unit: m
marks: 1
hints: [{text: HINT}]
working: WORKING
```
"""
PHOTO = "![A motor starter, its cover off](starter.jpg)"
DRAWING = "![The plan of the {{ gap }} taps](plan.png)"


def photo(size: tuple[int, int] = (40, 30)) -> bytes:
    """A JPEG as a camera writes it: turned, with its place, owner and a comment."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x013B] = "Owner Invented"
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)
    stream = io.BytesIO()
    Image.new("RGB", size, (200, 30, 30)).save(
        stream, "JPEG", exif=exif, comment=b"secret comment", icc_profile=b"secret profile" * 20
    )
    return stream.getvalue()


def drawing(mode: str = "RGBA") -> bytes:
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", "Owner Invented")
    stream = io.BytesIO()
    Image.new(mode, (20, 10)).save(stream, "PNG", pnginfo=info)
    return stream.getvalue() + b"what was appended"


def written(folder: Path, text: str = PHOTO, **places: str) -> Path:
    lab = folder / "starters"
    lab.mkdir(exist_ok=True)
    (lab / "starter.jpg").write_bytes(photo())
    (lab / "plan.png").write_bytes(drawing())
    whole = TEXT.replace("TEXT", text)
    for name in ("QUESTION", "HINT", "WORKING"):
        whole = whole.replace(name, "'" + places.get(name.lower(), "Words.") + "'")
    (lab / "lab.md").write_text(whole, encoding="utf-8")
    return lab / "lab.md"


def task_of(scenario: Scenario) -> WorkbookFiles:
    task = task_data(
        scenario,
        workbook="w",
        class_id="c",
        class_title="C",
        trainee={"id": "ann", "name": "Ann Sample"},
        practice=True,
        deadline=None,
        signing_key="00" * 32,
    )
    return WorkbookFiles.of(scenario, task)


def carried_in(text: str) -> list[Image.Image]:
    found = re.findall(r"data:image/(?:png|jpeg);base64,([A-Za-z0-9+/=]+)", text)
    return [Image.open(io.BytesIO(base64.b64decode(data))) for data in found]


def told(path: Path) -> list[str]:
    with pytest.raises(DefinitionError) as refused:
        read_lab(path)
    return [str(problem) for problem in refused.value.problems]


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    path = written(
        tmp_path, f"{PHOTO}\n\nText.", question=DRAWING, hint=f"So: {DRAWING}", working=PHOTO
    )
    return read_lab(path)


def test_a_picture_stands_on_every_page_with_its_words(lab: Lab) -> None:
    scenario = draw(lab, "s")
    files = task_of(scenario)
    notebook = json.loads(files.notebook)
    cells = "".join(cell["source"] for cell in notebook["cells"])
    assert len(carried_in(cells)) == 1
    [exercise] = json.loads(files.task)["exercises"]
    for text in (exercise["question"], exercise["practice"]["working"]):
        assert len(carried_in(text)) == 1
    assert len(carried_in(exercise["practice"]["hints"][0]["text"])) == 1
    sheet = sheet_of(scenario)
    page = json.dumps(sheet)
    alt = f"The plan of the {scenario.names['gap']} taps"
    assert len(carried_in(page)) == 2
    assert f'alt=\\"{alt}\\"' in page
    assert 'alt=\\"A motor starter, its cover off\\"' in page
    assert len(carried_in(handouts([Sheet(scenario)]).decode())) == 2
    assert len(carried_in(instructors_copy([Sheet(scenario)]).decode())) >= 3


def test_what_is_carried_says_nothing_of_camera_and_owner(lab: Lab) -> None:
    for data in lab.language.pictures.values():
        [picture] = carried_in(data)
        assert not picture.getexif()
        assert not {"exif", "comment", "icc_profile", "Author", "photoshop"} & set(picture.info)
        raw = base64.b64decode(data.split(",")[1])
        for word in (b"Owner", b"secret", b"Exif", b"appended"):
            assert word not in raw
    [turned] = [carried_in(uri)[0] for uri in lab.language.pictures.values() if "jpeg" in uri]
    assert turned.size == (30, 40)  # as the camera was held


def test_a_photo_is_scaled(tmp_path: Path) -> None:
    path = written(tmp_path)
    (path.parent / "starter.jpg").write_bytes(photo((3000, 1500)))
    [uri] = read_lab(path).language.pictures.values()
    assert max(carried_in(uri)[0].size) == picture_file.LONGEST_SIDE


def test_see_through_stays_so(tmp_path: Path) -> None:
    path = written(tmp_path, DRAWING)
    for mode, kept in (("RGBA", "RGBA"), ("P", "RGB"), ("1", "L"), ("I;16", "RGB")):
        (path.parent / "plan.png").write_bytes(drawing(mode))
        [uri] = read_lab(path).language.pictures.values()
        assert carried_in(uri)[0].mode == kept


def test_a_changed_picture_is_a_changed_lab_and_without_any_nothing_changes(
    tmp_path: Path,
) -> None:
    path = written(tmp_path)
    first = read_lab(path)
    (path.parent / "starter.jpg").write_bytes(photo((41, 30)))
    second = read_lab(path)
    assert first.digest != second.digest
    assert first.text_digest == second.text_digest
    bare = read_lab(written(tmp_path, "Text."))
    assert bare.digest == bare.text_digest


def test_without_their_data_a_lab_is_the_same_lab(tmp_path: Path) -> None:
    path = written(tmp_path)
    short = read_lab(path, pictures=False)
    assert short.digest == read_lab(path).digest
    assert "data:" not in json.dumps(sheet_of(draw(short, "s")))


def test_a_picture_belongs_to_the_file_that_names_it(tmp_path: Path) -> None:
    written(tmp_path)
    child = tmp_path / "child"
    child.mkdir()
    (child / "starter.jpg").write_bytes(photo((60, 60)))
    text = f"---\nextends: starters\nid: child\nversion: 1.0\ntitle: C\n---\n## New\n\n{PHOTO}\n"
    (child / "lab.md").write_text(text, encoding="utf-8")
    lab = read_lab(child / "lab.md")
    sizes = {carried_in(uri)[0].size for uri in lab.language.pictures.values()}
    assert sizes == {(30, 40), (60, 60)}
    (tmp_path / "starters" / "starter.jpg").unlink()
    [problem] = told(child / "lab.md")
    assert problem.startswith("starters/lab.md, line 11")


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("![A motor starter](missing.png)", 11, "is not there"),
        ("![A motor starter](Starter.JPG)", 11, "called 'starter.jpg'"),
        ("Words.\n\n![](starter.jpg)", 13, "no words for those who cannot see it"),
        ("![starter.jpg](starter.jpg)", 11, "no words"),
        ("![A starter](../other/starter.jpg)", 11, "does not lie beside"),
        ("![A starter](pictures/starter.jpg)", 11, "does not lie beside"),
        ("![A starter](..\\other.png)", 11, "does not lie beside"),
        ("![A starter](/etc/passwd)", 11, "does not lie beside"),
        ("![A starter](/etc/starter.png)", 11, "does not lie beside"),
        ("![A starter](C:\\starter.png)", 11, "lies elsewhere"),
        ("![A starter](//host.invalid/starter.png)", 11, "lies elsewhere"),
        ("![A starter](file:///etc/passwd)", 11, "lies elsewhere"),
        ("![A starter](http://host.invalid/a.png)", 11, "lies elsewhere"),
        ("![A starter](javascript:alert.png)", 11, "lies elsewhere"),
        ("![A starter](data:image/png;base64,AAAA)", 11, "lies elsewhere"),
        ("![A starter](picture:0.png)", 11, "lies elsewhere"),
        ("![A starter](%2e%2e%2fstarter.png)", 11, "cannot name a picture"),
        ("![A starter](<my starter.jpg>)", 11, "cannot name a picture"),
        ("![A starter](starter-{{ gap }}.jpg)", 11, "a formula is in its name"),
        ("Words: ![A starter](my starter.jpg)", 11, "a space or a formula"),
        ("Words: ![A starter](starter.jpg", 11, "is no picture"),
        ("![A starter](starter.svg)", 11, "neither PNG nor JPEG"),
        ("![A starter](lab.md)", 11, "neither PNG nor JPEG"),
        ("![A starter][one]\n\n[one]: starter.jpg", 11, "not named in the way"),
        ('Words.\n\n<img src="http://host.invalid/a.png">', 13, "HTML for a picture"),
        ("Words <object data='x'>", 11, "HTML for a picture"),
    ],
)
def test_what_cannot_be_carried_is_told_at_its_line(
    text: str, line: int, words: str, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "starter.jpg").write_bytes(photo())
    problems = told(written(tmp_path, text))
    assert any(words in problem for problem in problems), problems
    assert all(f"starters/lab.md, line {line}" in problem for problem in problems)


def test_a_picture_where_none_can_stand_is_told(tmp_path: Path) -> None:
    path = written(tmp_path)
    text = path.read_text(encoding="utf-8").replace("title: One", f"title: '{PHOTO}'")
    path.write_text(text, encoding="utf-8")
    [problem] = told(path)
    assert "cannot stand here" in problem
    assert "title" in problem


def test_a_picture_in_code_is_shown_as_code(tmp_path: Path) -> None:
    lab = read_lab(written(tmp_path, f"`{PHOTO}`\n\n```text\n![x](http://a.invalid/b.png)\n```"))
    assert lab.language.pictures == {}


@pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="links are refused by their kind alone")
@pytest.mark.parametrize("inside", [True, False])
def test_a_link_is_not_followed(inside: bool, tmp_path: Path) -> None:
    secret = tmp_path / ("starters/real.jpg" if inside else "secret.jpg")
    path = written(tmp_path)
    secret.write_bytes(photo())
    (path.parent / "starter.jpg").unlink()
    (path.parent / "starter.jpg").symlink_to(secret)
    [problem] = told(path)
    assert "no file of its own" in problem


def test_a_folder_and_a_pipe_are_no_pictures(tmp_path: Path) -> None:
    path = written(tmp_path)
    (path.parent / "starter.jpg").unlink()
    (path.parent / "starter.jpg").mkdir()
    assert "no file of its own" in told(path)[0]
    if hasattr(os, "mkfifo"):
        (path.parent / "starter.jpg").rmdir()
        os.mkfifo(path.parent / "starter.jpg")
        assert "no file of its own" in told(path)[0]


def of_another_form(form: str) -> bytes:
    """A sound picture that is neither PNG nor JPEG, whatever its name says."""
    stream = io.BytesIO()
    Image.new("L", (20, 10)).save(stream, form)
    return stream.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A small PNG that says it is large."""

    def chunk(name: bytes, data: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(name + data))
        return struct.pack(">I", len(data)) + name + data + crc

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + data + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "cannot be read"),
        (b"\xff\xd8\xff\xe0 no picture", "cannot be read"),
        (photo()[:-300], "cannot be read"),
        (of_another_form("GIF"), "cannot be read"),
        (of_another_form("TIFF"), "cannot be read"),
        (of_another_form("EPS"), "cannot be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", "cannot be read"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", "cannot be read"),
        (bomb(60_000, 60_000), "more than 60 million pixels"),
        (bomb(9_000, 9_000), "more than 60 million pixels"),
        (bomb(10_000, 10_000), "more than 60 million pixels"),
    ],
)
def test_what_is_no_picture_or_far_too_large_is_told(
    data: bytes, words: str, tmp_path: Path
) -> None:
    path = written(tmp_path)
    (path.parent / "starter.jpg").write_bytes(data)
    [problem] = told(path)
    assert words in problem


def test_too_many_and_too_much_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, f"{PHOTO}\n\n{DRAWING}")
    monkeypatch.setattr(pictures, "MAX_PICTURES", 1)
    assert "more than 1 pictures" in told(path)[0]
    monkeypatch.undo()
    monkeypatch.setattr(pictures, "MAX_TOGETHER", 500)
    assert "is the largest" in told(path)[0]
    monkeypatch.undo()
    monkeypatch.setattr(picture_file, "MAX_FILE", 500)
    assert "more than 0 MB" in told(path)[0]


def test_what_was_dealt_is_read_whatever_it_names(tmp_path: Path) -> None:
    path = written(tmp_path, "![](missing.png) ![x](http://host.invalid/a.png)")
    lab = read_lab(path, dealt=True)
    assert lab.digest == lab.text_digest
    html = json.dumps(sheet_of(draw(lab, "s")))
    assert "<img" not in html


def test_a_text_alone_has_no_pictures() -> None:
    text = TEXT.replace("TEXT", PHOTO).replace("QUESTION", "Q").replace("HINT", "H")
    with pytest.raises(DefinitionError, match="is not there"):
        read_lab_text(text.replace("WORKING", "W"))


@pytest.mark.parametrize(
    "text",
    [
        "![x](http://host.invalid/a.png)",
        "![x](carried-picture:0)",
        "![x](data:image/svg+xml;base64,PHN2Zz4=)",
        "![x](data:text/html;base64,PHN2Zz4=)",
        '![x](data:image/png;base64,AA==" onerror="x)',
        "<img src=x>",
    ],
)
def test_no_other_image_becomes_one(text: str) -> None:
    assert "<img" not in to_html(text)
    carried = "![ok](data:image/png;base64,AAAA)"
    html = to_html(f"{carried}\n\n{text}".replace("picture:0", "picture:1"))
    assert re.findall(r"<img[^>]*>", html) == ['<img src="data:image/png;base64,AAAA" alt="ok" />']


def test_words_of_a_picture_cannot_break_out() -> None:
    html = to_html('![a" onload="x <b>](data:image/png;base64,AAAA)')
    assert 'alt="a&quot; onload=&quot;x &lt;b&gt;"' in html


@pytest.mark.parametrize("working", ["![One](starter.jpg)", f"{PHOTO} and more: words"])
def test_a_field_may_begin_with_a_picture(working: str, tmp_path: Path) -> None:
    path = written(tmp_path, "Words.")
    text = path.read_text(encoding="utf-8").replace("working: 'Words.'", f"working: {working}")
    path.write_text(text.replace("more: words", "more words"), encoding="utf-8")
    lab = read_lab(path)
    rendered = lab.exercises[0].working.render(draw(lab, "s").names)
    assert len(carried_in(rendered)) == 1
    assert rendered.startswith("![A motor starter, its cover off](" if "more" in working else "![")
    assert rendered.endswith("and more words") == ("more" in working)
