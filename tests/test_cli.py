"""The command line through a real process: exit codes, sentences on stderr, never a traceback."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pandas as pd
import pytest
from labkit_here import BY_A_CLONE, why

from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, Journal
from labkit.lab.draw import draw
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab
from labkit.station.server import SETTINGS
from labkit.workbook import WorkbookFiles, task_data

COMMANDS = ["demo", "deal", "score", "open", "handin", "labs", "print", "new", "proof", "preview"]
COMMANDS += ["receive", "rescore", "mark", "explain", "records", "export"]


NOT_BY_UV = {name: value for name, value in os.environ.items() if name not in BY_A_CLONE}


def labkit(
    *words: object,
    cwd: Path,
    code: str = "from labkit.cli import main; main()",
    columns: int = 120,
) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-c", code, *(str(word) for word in words)],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=400,
        env={
            **NOT_BY_UV,
            "PYTHONIOENCODING": "utf-8",
            "PYTHONPATH": str(Path(__file__).parents[1]),
            "COLUMNS": str(columns),
            "TMPDIR": str(cwd),
        },
    )
    assert "Traceback" not in done.stdout + done.stderr
    return done


TELLS_WHAT_IS_LOADED = (
    "import sys\n"
    "from labkit.cli import main\n"
    "try:\n    main()\n"
    "finally:\n    print('LOADED', *sorted(sys.modules))\n"
)


def loaded_by(done: subprocess.CompletedProcess[str]) -> set[str]:
    return set(done.stdout.split("LOADED")[1].split())


def fails(*words: object, cwd: Path) -> str:
    """The sentence of a command that fails with 1 and says why on stderr alone."""
    return why(labkit(*words, cwd=cwd))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The demo class, and what the command printed."""
    cwd = tmp_path_factory.mktemp("demo [of x]")
    done = labkit("demo", "class [b]", cwd=cwd)
    assert done.returncode == 0, done
    assert done.stderr == ""
    return cwd / "class [b]", done.stdout


@pytest.mark.parametrize("words", [[], ["deal"]])
def test_help_is_there(words: list[str], tmp_path: Path) -> None:
    # For every command in test_cli_screen.py, in one process.
    done = labkit(*words, "--help", cwd=tmp_path)
    assert done.returncode == 0
    assert "Usage" in done.stdout
    if not words:
        assert all(command in done.stdout for command in COMMANDS)


@pytest.mark.parametrize(
    "words",
    [
        ["nonsense"],
        ["deal"],
        ["score", "a", "b"],
        ["open"],
        ["demo", "--mode", "exam"],
        ["open", ".", "--port", "99999"],
        ["--nonsense"],
    ],
)
def test_a_command_that_is_not_understood_ends_with_2(words: list[str], tmp_path: Path) -> None:
    done = labkit(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr
    assert list(tmp_path.iterdir()) == []


def test_help_loads_nothing_heavy(tmp_path: Path) -> None:
    done = labkit("--help", cwd=tmp_path, code=TELLS_WHAT_IS_LOADED)
    loaded = loaded_by(done)
    heavy = {"pandas", "numpy", "pydantic", "jinja2", "openpyxl", "orjson", "yaml", "ipywidgets"}
    heavy |= {"sqlalchemy", "joblib", "rich"}
    assert "labkit.cli" in loaded
    assert not loaded & heavy
    assert not [name for name in loaded if name.startswith(("labkit.lab", "labkit.classroom"))]


def test_a_first_deal_loads_no_database_and_no_bench(tmp_path: Path) -> None:
    rules = "id: c\ntitle: C\nlabs: [addresses-and-rates]\nmode: assessed\nheld: room\n"
    (tmp_path / "class.yaml").write_text(rules, encoding="utf-8")
    (tmp_path / "roster.csv").write_text("id,name\nt1,Ada Quill\n", encoding="utf-8")
    done = labkit("deal", ".", cwd=tmp_path, code=TELLS_WHAT_IS_LOADED)
    assert "1 dealt" in done.stdout
    # Nor the virtual bench, for a lab that asks it nothing.
    assert not loaded_by(done) & {"sqlalchemy", "labkit.bench.bench"}


def test_the_demo_makes_what_it_says(demo: tuple[Path, str]) -> None:
    folder, text = demo
    assert len(list((folder / "workbooks").iterdir())) == 12
    assert len(list((folder / "workbooks").rglob("*.ipynb"))) == 12
    sheet = pd.read_csv(folder / "scores" / "score-sheet.csv", encoding="utf-8-sig")
    assert list(sheet["id"]) == [f"t{number:02}" for number in range(1, 13)]
    assert list(sheet["state"]).count("scored") == 11
    columns = [name for name in sheet.columns if re.match(r"\d+ ", name)]
    assert len(columns) == 12
    for _, row in sheet[sheet["state"] == "scored"].iterrows():
        assert row["marks"] == pytest.approx(row[columns].sum(), abs=0.001)
        # What is printed is what stands in the sheet.
        assert re.search(rf"{row['name']} \({row['id']}\).*?{row['marks']:g} / 23", text)
    assert sheet["marks"].max() <= 23
    assert re.search(r"t11\.handin\.json: damaged\.", text)
    assert re.search(r"t04\.handin\.json: same file twice\.", text)
    assert len(list((folder / "scores").glob("*--t*.html"))) == 11


def test_the_paths_that_the_demo_names_are_there(demo: tuple[Path, str]) -> None:
    folder, text = demo
    after = text.split("What to open next")[1]
    lines = [line.strip() for line in after.splitlines() if line.strip()]
    assert len(lines) == 7
    for line in lines:
        shown = re.sub(r"^labkit (open|explain) | t03$", "", re.split(r"\s{3,}", line)[1])
        path = shown.strip("'")
        assert (folder.parent / path).exists(), path


def test_the_demo_never_writes_into_a_folder_that_is_there(
    demo: tuple[Path, str], tmp_path: Path
) -> None:
    folder, _ = demo
    before = {file: file.stat().st_mtime_ns for file in folder.rglob("*")}
    assert "there already" in fails("demo", folder.name, cwd=folder.parent)
    assert {file: file.stat().st_mtime_ns for file in folder.rglob("*")} == before
    (tmp_path / "file").write_text("mine")
    assert "there already" in fails("demo", "file", cwd=tmp_path)
    assert (tmp_path / "file").read_text() == "mine"


def test_an_assessed_demo_holds_no_answers(tmp_path: Path) -> None:
    assert labkit("demo", "--mode", "assessed", cwd=tmp_path).returncode == 0
    for file in (tmp_path / "labkit-demo" / "workbooks").rglob("*.task.json"):
        task = json.loads(file.read_bytes())
        assert not task["practice"]
        assert not any("practice" in exercise for exercise in task["exercises"])


def test_scoring_again_prints_the_same(demo: tuple[Path, str]) -> None:
    folder, text = demo
    done = labkit("score", folder.name, cwd=folder.parent, code=TELLS_WHAT_IS_LOADED)
    assert done.returncode == 0
    assert not loaded_by(done) & {"pandas", "labkit.bench.bench"}
    # The bars below the table tell times, which are others each time.
    table = text[text.index("┏") : text.index("┘")]
    assert table.count("\n") > 12
    assert table in done.stdout


def test_dealing_again_deals_to_the_late_only(demo: tuple[Path, str]) -> None:
    folder, _ = demo
    with (folder / "roster.csv").open("a") as roster:
        roster.write("t13,Late Comer\n")
    done = labkit("deal", folder.name, cwd=folder.parent)
    assert done.returncode == 0
    assert "1 dealt, 12 were dealt already." in done.stdout
    assert "class [b]/workbooks" in done.stdout
    assert (folder / "workbooks" / "t13" / "plan-the-trunk.ipynb").exists()


def test_a_hand_in_is_made_and_named(demo: tuple[Path, str], tmp_path: Path) -> None:
    folder, _ = demo
    done = labkit("handin", folder / "workbooks" / "t02", "--to", tmp_path, cwd=tmp_path)
    assert done.returncode == 0
    made = tmp_path / "plan-the-trunk--t02.handin.json"
    assert str(made) in done.stdout
    assert json.loads(made.read_bytes())["trainee"]["id"] == "t02"


@pytest.mark.parametrize("command", ["deal", "score"])
def test_a_folder_that_is_no_class_gets_a_sentence(command: str, tmp_path: Path) -> None:
    assert "is not a class folder" in fails(command, "nowhere", cwd=tmp_path)
    (tmp_path / "class.yaml").write_text("id: x\ntitel: X\n")
    assert "class.yaml, line 2, field 'titel'" in fails(command, ".", cwd=tmp_path)


@pytest.mark.parametrize("command", ["open", "handin"])
def test_a_workbook_that_is_missing_double_or_bare_gets_a_sentence(
    command: str, tmp_path: Path
) -> None:
    assert "There is no workbook" in fails(command, "none.ipynb", cwd=tmp_path)
    assert "There is no workbook" in fails(command, ".", cwd=tmp_path)
    (tmp_path / "a.ipynb").write_text("{}")
    assert "'a.task.json' is missing" in fails(command, ".", cwd=tmp_path)
    (tmp_path / "a.task.json").write_text("{")
    assert "'a.task.json' is damaged" in fails(command, "a.ipynb", cwd=tmp_path)
    (tmp_path / "a.ipynb").rename(tmp_path / "b.ipynb")
    (tmp_path / "c.ipynb").write_text("{}")
    assert "There is no workbook" in fails(command, ".", cwd=tmp_path)


def write_workbooks(folder: Path, *labs: str) -> None:
    """A workbook of each lab, in one folder."""
    for lab in labs:
        drawn = draw(read_lab(lab_library() / lab / "lab.md"), "several")
        task = task_data(
            drawn,
            workbook=f"of {lab}",
            class_id="c",
            class_title="C",
            trainee={"id": "t01", "name": "Ansa <b>Merrow"},
            practice=False,
            deadline="2026-11-27T16:00:00Z",
            signing_key="0" * 64,
        )
        WorkbookFiles.of(drawn, task).write(folder)


def test_a_folder_with_several_workbooks_hands_in_those_with_answers(tmp_path: Path) -> None:
    write_workbooks(tmp_path, "plan-the-trunk", "timing", "acceptance")
    assert "Nothing is handed in." in fails("handin", ".", cwd=tmp_path)
    answered = Journal(tmp_path / "timing.answers.jsonl")
    answered.append(ANSWER, exercise="scan-time", answer="5 ms", token="t1")
    # A renamed workbook is found by what it says it is; a copy of one is no second workbook.
    (tmp_path / "timing.ipynb").rename(tmp_path / "my timing.ipynb")
    shutil.copy(tmp_path / "my timing.ipynb", tmp_path / "my timing-Copy1.ipynb")
    done = labkit("handin", ".", "--to", tmp_path, cwd=tmp_path)
    assert done.returncode == 0, done
    assert "acceptance.ipynb has no answer yet: it is not handed in." in done.stdout
    assert "Give this one file to your instructor." in done.stdout
    [made] = tmp_path.glob("*.handin.json")
    assert made.name == "timing--t01.handin.json"
    Journal(tmp_path / "acceptance.answers.jsonl").append(ANSWER, exercise="e", answer=1)
    (tmp_path / "plan-the-trunk.task.json").write_text("{")
    done = labkit("handin", ".", cwd=tmp_path)
    assert done.returncode == 1
    assert "'plan-the-trunk.task.json' is damaged" in done.stderr
    assert "Give these 2 files to your instructor." in done.stdout


def test_a_renamed_workbook_keeps_its_task_file(demo: tuple[Path, str], tmp_path: Path) -> None:
    shutil.copytree(demo[0] / "workbooks" / "t05", tmp_path / "home")
    book = tmp_path / "home" / "plan-the-trunk.ipynb"
    renamed = book.rename(book.with_name("mine.ipynb"))
    done = labkit("handin", renamed, cwd=tmp_path)
    assert done.returncode == 0, done
    assert (tmp_path / "home" / "plan-the-trunk--t05.handin.json").exists()
    # Of two the one that it is counts, whatever its name.
    shutil.copy(demo[0] / "workbooks" / "t06" / "plan-the-trunk.task.json", tmp_path / "home")
    (tmp_path / "home" / "plan-the-trunk.task.json").rename(tmp_path / "home" / "mine.task.json")
    shutil.copy(demo[0] / "workbooks" / "t05" / "plan-the-trunk.task.json", tmp_path / "home")
    assert "--t05.handin.json" in labkit("handin", renamed, cwd=tmp_path).stdout


def test_a_stick_that_is_not_there_gets_a_sentence(demo: tuple[Path, str], tmp_path: Path) -> None:
    book = demo[0] / "workbooks" / "t02"
    assert "No such file" in fails("handin", book, "--to", "no/stick", cwd=tmp_path)


def test_labs_are_listed(tmp_path: Path) -> None:
    done = labkit("labs", cwd=tmp_path)
    assert done.returncode == 0
    assert re.search(
        r"plan-the-trunk\s*│ Plan the trunk\s*│\s*\d+(\.\d+)+\s*│\s*12\s*│\s*23", done.stdout
    )


def test_a_broken_definition_is_listed_with_its_problems(
    demo: tuple[Path, str], tmp_path: Path
) -> None:
    text = (demo[0] / "labs" / "plan-the-trunk" / "lab.md").read_text("utf-8")
    for name, body in (
        ("good", text.replace("title: Plan the trunk", "title: Plan [the/] [bold]trunk", 1)),
        ("broken", text.replace("answer: distance\n", "answer: distanse\n", 1)),
    ):
        (tmp_path / name).mkdir()
        (tmp_path / name / "lab.md").write_text(body, encoding="utf-8")
    done = labkit("labs", ".", cwd=tmp_path)
    assert done.returncode == 1
    assert "Plan [the/] [bold]trunk" in done.stdout
    assert "1 problem(s)" in done.stdout
    assert re.search(r"broken/lab\.md, line \d+, field '.*answer'.*'distance'\?", done.stdout)


def test_a_folder_without_labs_gets_a_sentence(tmp_path: Path) -> None:
    assert "There is no lab in nowhere" in fails("labs", "nowhere", cwd=tmp_path)


def test_a_mistake_of_labkits_own_is_kept_in_a_file_and_told_in_a_sentence(tmp_path: Path) -> None:
    code = (
        "import labkit.lab.library_labs as c\n"
        "def boom(*_): raise LookupError('a fault of ours')\n"
        "c.library_labs = boom\n"
        "from labkit.cli import main; main()\n"
    )
    done = labkit("labs", cwd=tmp_path, code=code)
    assert done.returncode == 1
    assert re.match(r"✗ labkit made a mistake of its own \(LookupError\)\.", done.stderr)
    assert len(done.stderr.splitlines()) == 1
    found = re.search(r"details are in (\S+): ", done.stderr)
    assert found is not None
    report = Path(found[1])
    assert "a fault of ours" in report.read_text()
    assert "Traceback" in report.read_text()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _status(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=60) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def test_open_prints_an_address_only_when_it_answers(
    demo: tuple[Path, str], tmp_path: Path
) -> None:
    book = demo[0] / "workbooks" / "t04" / "plan-the-trunk.ipynb"
    code = (
        "import os, re, socket\n"
        "from pathlib import Path\n"
        "from labkit.station.server import serve\n"
        "def say(text):\n"
        "    (port,) = re.findall(r'http://127.0.0.1:([0-9]+)/', text)\n"
        "    os._exit(socket.socket().connect_ex(('127.0.0.1', int(port))))\n"
        f"serve([Path({str(book)!r})], browser=False, port={_free_port()}, say=say)\n"
    )
    home = {f"JUPYTER_{name}_DIR": str(tmp_path / name) for name in ("DATA", "CONFIG", "RUNTIME")}
    done = subprocess.run([sys.executable, "-c", code], env={**os.environ, **home}, timeout=120)
    assert done.returncode == 0


@pytest.mark.skipif(os.name != "posix", reason="the server is ended by its process group")
def test_open_serves_the_workbook_on_this_machine_only_behind_a_token(
    demo: tuple[Path, str], tmp_path: Path
) -> None:
    with opened(demo[0] / "workbooks" / "t03", tmp_path) as (process, address, log):
        assert "/doc/tree/plan-the-trunk.ipynb" in address
        assert _status(address) == 200
        assert _status(address.split("/doc/")[0] + "/api/contents") == 403
        contents = address.replace("/doc/tree/", "/api/contents/")
        assert _status(contents) == 200
        # Menus and bars are out of sight: JupyterLab takes what it is told, each by its name.
        disabled = json.loads(_read(address).split('type="application/json">')[1].split("<")[0])
        assert "@jupyterlab/running-extension" in disabled["disabledExtensions"]
        settings = json.loads(
            _read(address.replace("/doc/tree/plan-the-trunk.ipynb", "/lab/api/settings"))
        )
        told = {each["id"]: each["settings"] for each in settings["settings"] if each["settings"]}
        assert set(told) == {f"@jupyterlab/{name.replace('/', ':')}" for name in SETTINGS}
        # Two sentences, and no log of a server.
        (first, second) = log.read_text().splitlines()
        assert first.startswith("Your workbook is at: http://")
        assert second.startswith("Leave this window open while you work.")
        # However the command ends, no server stays behind.
        process.kill()
        process.wait(timeout=120)
        with pytest.raises(urllib.error.URLError, match="refused"):
            _status(address)


@pytest.mark.skipif(os.name != "posix", reason="the server is ended by its process group")
def test_a_folder_with_several_workbooks_opens_a_page_to_choose_one(tmp_path: Path) -> None:
    folder = tmp_path / "home"
    folder.mkdir()
    write_workbooks(folder, "timing", "acceptance")
    answers = Journal(folder / "timing.answers.jsonl")
    answers.append(ANSWER, exercise="scan-time", answer="5 ms", token="t1")
    (folder / "acceptance.task.json").write_text("{")
    with opened(folder, tmp_path) as (process, address, log):
        assert log.read_text().startswith("Your workbooks are at: ")
        page = _read(address)
        assert '<a href="/doc/tree/timing.ipynb">' in page
        assert re.search(r"1 of \d+ saved<", page)
        assert "Ansa &lt;b&gt;Merrow · assessed · about" in page
        assert "&#x27;acceptance.task.json&#x27; is damaged." in page
        assert "/doc/tree/acceptance" not in page
        pack(folder / "timing.task.json")
        assert re.search(r"1 of \d+ saved · hand-in file made<", _read(address))
        # Who has not the address gets nothing: a page to give the token.
        assert "timing" not in _read(address.partition("?")[0])
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=120) == 0
        assert (
            log.read_text().splitlines()[-1] == f"Closed. Your answers are in the folder {folder}."
        )


@contextmanager
def opened(book: Path, tmp_path: Path) -> Iterator[tuple[subprocess.Popen[bytes], str, Path]]:
    """`labkit open`, the address that it printed, and all that it prints."""
    port, log = _free_port(), tmp_path / "log"
    home = {name: str(tmp_path / name) for name in ("HOME", "JUPYTER_DATA_DIR", "IPYTHONDIR")}
    home |= {f"JUPYTER_{name}_DIR": str(tmp_path / name) for name in ("CONFIG", "RUNTIME")}
    code = "from labkit.cli import main; main()"
    command = [sys.executable, "-c", code, "open", str(book), "--no-browser", f"--port={port}"]
    with log.open("w") as stream:
        process = subprocess.Popen(
            command,
            env={**os.environ, **home},
            stdout=stream,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    try:
        yield process, _printed_address(log, process, port), log
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)


def _read(url: str) -> str:
    with urllib.request.urlopen(url, timeout=60) as answer:
        return str(answer.read().decode())


def _printed_address(log: Path, process: subprocess.Popen[bytes], port: int) -> str:
    for _ in range(480):
        found = re.search(rf"http://127\.0\.0\.1:{port}/\S+\?token=\w+", log.read_text())
        if found:
            return found[0]
        if process.poll() is not None:
            break
        time.sleep(0.25)
    pytest.fail(f"no address was printed:\n{log.read_text()[-2000:]}")


def test_the_demo_names_the_command_as_it_can_be_typed_here(tmp_path: Path) -> None:
    program = "from labkit.cli.screen import own_name; print(own_name())"
    for depth, words in (
        ({}, "labkit"),
        ({"UV_RUN_RECURSION_DEPTH": "1"}, "uv run --frozen labkit"),
        (
            {"UV_RUN_RECURSION_DEPTH": "1", "LABKIT_CALLED": "python3 run.py labkit"},
            "python3 run.py labkit",
        ),
    ):
        done = subprocess.run(
            [sys.executable, "-c", program],
            env={**NOT_BY_UV, **depth},
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stdout.strip() == words
