"""The author's commands: new, proof, preview. What they write, print and leave behind."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner, Result

from labkit.cli import app
from labkit.exchange.task_file import task_file_of
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.lab.reading.fields import HeaderFields
from labkit.lab.starter import is_lab_id, nearest_lab_id, starter_lab
from labkit.language.problems import DefinitionError
from labkit.station.workbook import Workbook
from labkit.workbook.preview import fresh_seed, preview_workbook


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    assert run("new", tmp_path / "labs" / "first-lab").exit_code == 0
    return tmp_path / "labs" / "first-lab"


def test_a_new_lab_is_valid_at_once_and_shows_everything_once(lab: Path) -> None:
    made = read_lab(lab / "lab.md")
    assert (made.id, made.title) == ("first-lab", "First lab")
    header = yaml.safe_load((lab / "lab.md").read_text(encoding="utf-8").split("\n---\n")[0])
    others = {"extends", "leave out", "accepted", "tables"}
    known = {field.alias or name for name, field in HeaderFields.model_fields.items()}
    assert set(header) == known - others
    kinds = {exercise.kind for exercise in made.exercises}
    assert kinds >= {"quantity", "choice", "supply_position", "address_plan"}
    assert any(exercise.hints for exercise in made.exercises)
    assert any(parameter.different for parameter in made.parameters)


@pytest.mark.parametrize("title", ['Say "hello": {{ x }} # no', "Ü ✓ 'it''s'", "two\nlines", "yes"])
def test_any_title_comes_out_as_it_was_given(title: str, tmp_path: Path) -> None:
    assert run("new", tmp_path / "a-lab", "--title", title).exit_code == 0
    assert read_lab(tmp_path / "a-lab" / "lab.md").title == " ".join(title.split())


def test_new_writes_over_nothing(lab: Path, tmp_path: Path) -> None:
    before = (lab / "lab.md").read_bytes()
    for taken in (lab, tmp_path / "labs", lab / "lab.md"):
        done = run("new", taken)
        assert done.exit_code == 1
        assert done.stderr.startswith("✗ ")
    assert (lab / "lab.md").read_bytes() == before
    (tmp_path / "empty").mkdir()
    assert run("new", tmp_path / "empty").exit_code == 0


@pytest.mark.parametrize(
    ("name", "offer"),
    [("My First Lab", "my-first-lab"), ("_x_", "x"), ("ÄÖ", "my-lab"), ("a" * 70, "a" * 60)],
)
def test_a_folder_that_cannot_name_a_lab_gets_an_offer(
    name: str, offer: str, tmp_path: Path
) -> None:
    done = run("new", tmp_path / name)
    assert done.exit_code == 1
    assert offer in done.stderr
    assert is_lab_id(nearest_lab_id(name))
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ValueError, match="no id"):
        starter_lab(name, "T")


@pytest.mark.parametrize("network", ["modbus", "canopen", "none"])
def test_a_lab_about_something_else_is_begun_and_sound(network: str, tmp_path: Path) -> None:
    folder = tmp_path / "wires"
    assert run("new", folder, "--network", network).exit_code == 0
    family = re.search(r"family: (\w+)", (folder / "lab.md").read_text(encoding="utf-8"))
    assert (family[1] if family else "none") == network
    done = run("proof", folder, "--draws", 200)
    assert done.exit_code == 0
    assert "0 to look at" in done.stdout


def test_proof_ends_with_1_while_something_must_be_mended(lab: Path) -> None:
    done = run("proof", lab, "--draws", 40)
    assert done.exit_code == 0
    assert "✓ first-lab: nothing must be mended" in done.stdout
    file = lab / "lab.md"
    file.write_text(
        file.read_text(encoding="utf-8").replace("answer: sum(drops)\n", "answer: 12.5\n"), "utf-8"
    )
    done = run("proof", file, "--draws", 40)
    assert done.exit_code == 1
    assert "Must be mended (" in done.stdout
    assert re.search(
        r"✗ first-lab/lab\.md, line \d+, field .*answer.* \[same-answer\]", done.stdout
    )


def test_proof_says_at_its_place_which_rule_throws_most_draws_away(lab: Path) -> None:
    file = lab / "lab.md"
    text = file.read_text(encoding="utf-8")
    rules = text[text.index("\nvalid:") + 1 : text.index("because:")]
    line = text[: text.index("  - rule:")].count("\n") + 1
    file.write_text(text.replace(rules, "valid:\n  - rule: drops[0] > 2.25\n    "), "utf-8")
    done = run("proof", lab, "--draws", 40)
    told = done.stdout[done.stdout.index("What the rules cost") :].splitlines()
    assert re.match(rf"· first-lab/lab\.md, line {line}, field 'valid → .*': \d+ % of all", told[1])
    assert "`drops`" in told[2]
    data = json.loads(run("proof", lab, "--draws", 40, "--json").stdout)["screening"]
    assert data["candidates"] == data["turned_down"] + 40
    assert data["rules"][0]["line"] == line


def test_proof_as_json_says_the_same(lab: Path) -> None:
    done = run("proof", lab, "--draws", 40, "--json")
    report = json.loads(done.stdout)
    assert (report["lab"], report["draws"], report["ready"]) == ("first-lab", 40, True)
    assert report["digest"] == read_lab(lab / "lab.md").digest
    file = lab / "lab.md"
    file.write_text(
        file.read_text(encoding="utf-8").replace("sum(drops)\n", "sum(dorps)\n"), "utf-8"
    )
    done = run("proof", lab, "--json")
    assert done.exit_code == 1
    (finding,) = json.loads(done.stdout)["findings"]
    assert finding["id"] == "unreadable"
    assert finding["file"] == "first-lab/lab.md"
    assert finding["line"] > 1
    assert "'drops'" in finding["mend"]


def test_a_mistyped_fence_stops_proof_paper_and_the_list(lab: Path) -> None:
    file = lab / "lab.md"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("```exercise ", "```Exercise ", 1), encoding="utf-8")
    fence = next(n for n, line in enumerate(text.splitlines(), 1) if line.startswith("```exercise"))
    for command in ("proof", "print"):
        with pytest.raises(DefinitionError, match=rf"^first-lab/lab\.md, line {fence}: 'Exercise "):
            raise run(command, lab).exception or AssertionError
    done = run("labs", lab.parent)
    assert done.exit_code == 1
    told = " ".join(done.stdout.split())
    assert "would stand in every workbook. Begin it at the left margin with ```exercise" in told


@pytest.mark.parametrize("command", ["proof", "preview"])
def test_a_lab_that_is_not_there_gets_a_sentence(command: str, tmp_path: Path) -> None:
    done = run(command, tmp_path / "nothing")
    assert done.exit_code == 1
    assert "There is no lab at" in done.stderr


def test_a_lab_that_comes_with_labkit_is_meant_by_its_id() -> None:
    assert run("proof", "plan-the-trunk", "--draws", 3).stdout.count("scenarios drawn") == 1


@pytest.mark.parametrize("mode", ["practice", "assessed"])
def test_a_preview_as_a_notebook_is_a_workbook_that_goes_away(
    mode: str, lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[Path] = []

    def serve(notebooks: list[Path], *, browser: bool, port: int, **_: object) -> None:
        (notebook,) = notebooks
        task = json.loads(task_file_of(notebook).read_bytes())
        assert (browser, port) == (False, 4711)
        assert task["practice"] == (mode == "practice")
        assert ("practice" in task["exercises"][0]) == task["practice"]
        assert Workbook.open(str(task_file_of(notebook))).welcome().trainee == "Seed proof-5"
        assert "counts in no class" in notebook.read_text(encoding="utf-8").replace("\\\\", "")
        seen.append(notebook)
        sys.exit(7)

    monkeypatch.setattr("labkit.station.server.serve", serve)
    words = ("--mode", mode, "--seed", "proof-5", "--no-browser", "--port", 4711)
    done = run("preview", lab, "--notebook", *words)
    assert done.exit_code == 7
    assert f"labkit preview {lab} --seed proof-5" in done.stdout
    assert f"Difficulty {draw(read_lab(lab / 'lab.md'), 'proof-5').difficulty:g}." in done.stdout
    assert not seen[0].parent.exists()


def test_the_seed_that_is_printed_draws_the_same_again(
    lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asks: list[object] = []

    def serve(notebooks: list[Path], **_: object) -> None:
        (notebook,) = notebooks
        task = json.loads(task_file_of(notebook).read_bytes())
        asks.append([exercise["ask"] for exercise in task["exercises"]])

    monkeypatch.setattr("labkit.station.server.serve", serve)
    first = run("preview", lab, "--notebook")
    found = re.search(r"Seed ([0-9a-f]{8})\.", first.stdout)
    assert found
    run("preview", lab, "--notebook", "--seed", found[1])
    run("preview", lab, "--notebook")
    assert asks[0] == asks[1]
    assert asks[0] != asks[2]
    assert len({fresh_seed() for _ in range(20)}) == 20


def test_a_preview_is_served_as_it_is_asked_for(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []

    def serve(file: Path, seed: str, said: Callable[[str], None], **more: object) -> None:
        asked.append((file, seed, more))
        said("http://127.0.0.1:4711/key/")

    monkeypatch.setattr("labkit.preview.serving.serve_preview", serve)
    words = ("--mode", "assessed", "--seed", "proof-5", "--no-browser", "--port", 4711)
    done = run("preview", lab, *words)
    assert done.exit_code == 0
    more = {"practice": False, "port": 4711, "browser": False}
    assert asked == [(lab / "lab.md", "proof-5", more)]
    assert f"labkit preview {lab} --seed proof-5" in done.stdout
    assert "http://127.0.0.1:4711/key/" in done.stdout
    run("preview", lab)
    assert asked[1][2] == {"practice": True, "port": None, "browser": True}  # type: ignore[index]


def test_no_two_previews_share_a_key(lab: Path) -> None:
    scenario = draw(read_lab(lab / "lab.md"), "same")
    tasks = []
    for _ in range(2):
        with preview_workbook(scenario, practice=True) as notebook:
            tasks.append(json.loads(task_file_of(notebook).read_bytes()))
    assert len({task["signing_key"] for task in tasks}) == 2
    assert len({task["workbook"] for task in tasks}) == 2


@pytest.mark.skipif(os.name != "posix", reason="the preview is ended by a signal")
def test_a_preview_that_is_ended_from_outside_leaves_nothing_behind(
    lab: Path, tmp_path: Path
) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    rooms = {name: str(tmp_path / name) for name in ("HOME", "JUPYTER_DATA_DIR", "IPYTHONDIR")}
    rooms |= {f"JUPYTER_{name}_DIR": str(tmp_path / name) for name in ("CONFIG", "RUNTIME")}
    (tmp_path / "temp").mkdir()
    code = "from labkit.cli import main; main()"
    log = tmp_path / "log"
    with log.open("w") as stream:
        process = subprocess.Popen(
            [sys.executable, "-c", code, "preview", str(lab), "--no-browser", f"--port={port}"],
            env={**os.environ, **rooms, "TMPDIR": str(tmp_path / "temp")},
            stdout=stream,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    try:
        address = ""
        for _ in range(400):
            found = re.search(rf"http://127\.0\.0\.1:{port}/\S+/", log.read_text())
            if found:
                address = found[0]
                break
            time.sleep(0.25)
        assert address, log.read_text()
        with urllib.request.urlopen(f"{address}desk", timeout=60) as answer:
            told = json.loads(answer.read())
        assert (told["sheet"]["title"], told["practice"]) == ("First lab", True)
        assert len(list((tmp_path / "temp").glob("labkit-preview-*"))) == 1
        process.terminate()
        assert process.wait(timeout=120) == 143
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(timeout=120)
    assert list((tmp_path / "temp").glob("labkit-preview-*")) == []


def test_what_a_lab_accepts_is_printed_apart_with_its_reason(lab: Path) -> None:
    file = lab / "lab.md"
    text = file.read_text(encoding="utf-8")
    text = text.replace("answer: sum(drops)\n", "answer: 12.5\n", 1)
    text = text.replace(
        "\nversion:",
        "\naccepted:\n  - {finding: same-answer, exercise: EX, because: so be it}\nversion:",
        1,
    )
    made = next(e for e in read_lab(file).exercises if e.data.get("answer") == "sum(drops)")
    file.write_text(text.replace("EX", made.id), encoding="utf-8")
    done = run("proof", lab, "--draws", 40, "--all")
    assert "\nAccepted (1)\n" in done.stdout
    assert re.search(
        r"^  Accepted in first-lab/lab\.md, line \d+, field 'accepted → number 1': so be it$",
        done.stdout,
        re.MULTILINE,
    )
    assert re.search(r"^= .* \[same-answer\]$", done.stdout, re.MULTILINE)
    assert done.stdout.rstrip().endswith("1 accepted.")


def test_exercises_of_a_folder_are_found_with_the_line_to_paste(tmp_path: Path) -> None:
    run("new", tmp_path / "labs" / "first-lab")
    done = run("labs", tmp_path / "labs", "--find", "QUANTITY drops")
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    line = next(line for line in lines if line.startswith("  from: first-lab/"))
    assert line.endswith(" 1.0")
    assert lines[-1].startswith("To take one: put its line below ```exercise")
    assert all("{{" not in line for line in lines)


def test_words_that_no_exercise_has_are_told_with_the_near_one(tmp_path: Path) -> None:
    run("new", tmp_path / "labs" / "first-lab")
    (tmp_path / "labs" / "broken").mkdir()
    (tmp_path / "labs" / "broken" / "lab.md").write_text("nothing", encoding="utf-8")
    done = run("labs", tmp_path / "labs", "--find", "quantty")
    assert done.exit_code == 1
    assert "No exercise has all of these words: quantty. Did you mean 'quantity'" in done.stderr
    assert "'broken' cannot be read, so it is not searched." in done.stdout
