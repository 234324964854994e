"""Every lab that we ship is proof-read: nothing is found but what the lab itself accepts.

In full where anything that a proof-reading reads has changed since the last full one; else by a
sample (`proved.py`).
"""

import json
from pathlib import Path

import proved
import pytest

from labkit.doors.installed import check_for
from labkit.lab.reading import read_lab

NOTED = proved.known(proved.PROVED)


@pytest.mark.parametrize("name", proved.NAMES)
def test_a_shipped_lab_has_no_finding_that_it_does_not_accept(name: str) -> None:
    is_proved = proved.is_proved(name, NOTED)
    found = proved.found_in_a_sample(name) if is_proved else proved.found_in_full(name)
    assert found == []


def test_what_was_noted_covers_all_that_a_lab_uses() -> None:
    for name, record in NOTED.items():
        lab = read_lab(proved.ROOT / "labs" / name / "lab.md")
        checks = {type(check_for(exercise.kind)).__module__ for exercise in lab.exercises}
        used = {module.rpartition(".")[0].replace(".", "/") for module in checks}
        used |= {f"labkit/{room}" for room in ("proofing", "lab", "language", "doors")}
        if used & {"labkit/kinds/diagnosis", "labkit/kinds/wiring"}:
            family = type(lab.network).__module__.rpartition(".")[0].replace(".", "/")
            used |= {"labkit/bench", "labkit/fieldbus/circuit", f"{family}/bench"}
        assert used | {"tests/labs_room/proved.py"} <= {*record["covers"]}, name


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A small project: a lab, a kind, another kind."""
    for place in ("labs/a/lab.md", "labkit/one/check.py", "labkit/two/check.py", "uv.lock"):
        file = tmp_path / place
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("before")
    return tmp_path


def _noted(project: Path) -> dict[str, object]:
    covers = ["labkit/one"]
    return {"a": {"covers": covers, "digest": proved.digest_of("a", covers, project)}}


@pytest.mark.parametrize(
    "place",
    ["labs/a/lab.md", "labs/a/more.md", "labkit/one/check.py", "labkit/one/b.py", "uv.lock"],
)
def test_a_lab_is_not_proved_once_what_it_uses_is_another(project: Path, place: str) -> None:
    noted = _noted(project)
    assert proved.is_proved("a", noted, project)
    (project / place).write_text("after")
    assert not proved.is_proved("a", noted, project)


def test_a_module_that_is_gone_counts_too_and_another_kind_does_not(project: Path) -> None:
    noted = _noted(project)
    (project / "labkit/two/check.py").write_text("after")
    assert proved.is_proved("a", noted, project)
    (project / "labkit/one/check.py").unlink()
    assert not proved.is_proved("a", noted, project)


@pytest.mark.parametrize("text", ["", "[]", "<<<<<<<", '{"a": 1}', '{"a": {"covers": []}}'])
def test_a_damaged_note_proves_nothing(tmp_path: Path, text: str) -> None:
    file = tmp_path / "proved.json"
    file.write_text(text)
    assert not proved.is_proved("a", proved.known(file), tmp_path)
    assert proved.known(tmp_path / "none.json") == {}


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    noted = {"b": {"covers": ["x"], "digest": "1"}, "a": {"covers": [], "digest": "2"}}
    proved.write(noted, tmp_path / "proved.json")
    assert proved.known(tmp_path / "proved.json") == noted
    assert len((tmp_path / "proved.json").read_text().splitlines()) == 4
    proved.write({}, tmp_path / "proved.json")
    assert json.loads((tmp_path / "proved.json").read_text()) == {}


def test_only_a_clean_proof_is_noted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proved, "PROVED", tmp_path / "proved.json")
    monkeypatch.setattr(proved, "NAMES", ["timing"])
    told = {"found": ["wrong"], "covers": ["labkit/lab"]}
    monkeypatch.setattr(
        proved, "_IN_A_PROCESS_OF_ITS_OWN", f"print({json.dumps(json.dumps(told))})"
    )
    proved.write({"timing": {"covers": [], "digest": "old"}}, proved.PROVED)
    assert not proved.prove(["timing"])
    assert proved.known(proved.PROVED) == {}
    told["found"] = []
    monkeypatch.setattr(
        proved, "_IN_A_PROCESS_OF_ITS_OWN", f"print({json.dumps(json.dumps(told))})"
    )
    assert proved.prove(["timing"])
    assert proved.is_proved("timing", proved.known(proved.PROVED))
    assert "in full, for it changed: no lab" in proved.said(proved.known(proved.PROVED))
