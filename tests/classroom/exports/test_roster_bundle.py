"""The bundle for other programs: complete, each id in it known, nothing in it a formula."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.exports.exporting import export
from labkit.classroom.exports.roster_bundle import PERSONAL
from labkit.classroom.marks.scoring import score

Bundle = dict[str, list[dict[str, str]]]

# Which column of which file names a row of which other; from memory of OneRoster 1.1.
NAMES = {
    "classes": {
        "courseSourcedId": "courses",
        "schoolSourcedId": "orgs",
        "termSourcedIds": "academicSessions",
    },
    "courses": {"orgSourcedId": "orgs"},
    "enrollments": {
        "classSourcedId": "classes",
        "schoolSourcedId": "orgs",
        "userSourcedId": "users",
    },
    "lineItems": {
        "classSourcedId": "classes",
        "categorySourcedId": "categories",
        "gradingPeriodSourcedId": "academicSessions",
    },
    "results": {"lineItemSourcedId": "lineItems", "studentSourcedId": "users"},
    "users": {"orgSourcedIds": "orgs"},
}


@pytest.fixture
def three(make_room: MakeRoom) -> Room:
    made = make_room("ann,Ann Maria Vale", "b2,=1+1", "cyd,Cyd")
    made.write_class(date="2026-11-27", place="-Packing hall", deadline="2026-11-30 16:00+00:00")
    made.deal()
    made.hand_in("ann")
    return made


@pytest.fixture
def bundle(three: Room, tmp_path: Path) -> Bundle:
    export(three.folder, score(three.folder), tmp_path / "out")
    found = {}
    for file in (tmp_path / "out" / "oneroster").iterdir():
        with file.open(encoding="utf-8", newline="") as stream:
            found[file.stem] = list(csv.DictReader(stream))
    return found


def test_the_manifest_names_every_file_and_no_other(bundle: Bundle) -> None:
    told = {row["propertyName"]: row["value"] for row in bundle["manifest"]}
    assert told["oneroster.version"] == "1.1"
    files = {name.removeprefix("file."): value for name, value in told.items() if "file." in name}
    there = {name for name, value in files.items() if value == "bulk"}
    assert there == bundle.keys() - {"manifest"}
    assert set(files.values()) == {"bulk", "absent"}


def test_every_id_that_is_named_is_there_once(bundle: Bundle) -> None:
    ids = {name: [row.get("sourcedId") for row in rows] for name, rows in bundle.items()}
    del ids["manifest"]
    assert all(len(found) == len(set(found)) > 0 for found in ids.values())
    for name, columns in NAMES.items():
        for column, other in columns.items():
            for row in bundle[name]:
                assert row[column] in ids[other], (name, column, row)


def test_what_it_says_of_people_and_results(bundle: Bundle) -> None:
    people = {row["sourcedId"]: (row["givenName"], row["familyName"]) for row in bundle["users"]}
    assert people == {"ann": ("Ann Maria", "Vale"), "b2": ("", "'=1+1"), "cyd": ("", "Cyd")}
    results = {row["studentSourcedId"]: row for row in bundle["results"]}
    assert results["ann"]["score"] == "8.0"
    assert results["cyd"]["scoreStatus"] == "not submitted"
    (line,) = bundle["lineItems"]
    assert (line["title"], line["resultValueMax"]) == ("Tiny lab", "8.0")
    assert line["dueDate"] == "2026-11-30"
    (term,) = bundle["academicSessions"]
    assert term["startDate"] == "2026-11-27"
    assert term["endDate"] >= term["startDate"]


def test_nothing_in_it_is_a_formula(bundle: Bundle) -> None:
    cells = [cell for rows in bundle.values() for row in rows for cell in row.values()]
    assert len(cells) > 100
    assert [cell for cell in cells if cell and cell[0] in "=+-@"] == []


def test_only_these_files_tell_of_people(bundle: Bundle) -> None:
    assert {name for name, rows in bundle.items() if "ann" in repr(rows)} == set(PERSONAL)


def test_the_table_of_an_earlier_version_goes(three: Room, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "results.csv").write_text("sourcedId,status,\n", encoding="utf-8")
    export(three.folder, score(three.folder), tmp_path / "out")
    assert not (tmp_path / "out" / "results.csv").exists()
