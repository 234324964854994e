"""The machines of a Dask cluster give the marks that this machine gives alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from distributed import Client, LocalCluster
from sqlalchemy import select
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.handins import examiner, intake
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import marks, receipts
from labkit.classroom.records.store import Records


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Two workers, each a process of its own."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as made:
        yield made


def entries(room: Room) -> list[list[dict[str, Any]]]:
    records = Records.of(room.folder)
    times = {"marked_at", "received_at"}
    return [
        [
            {name: value for name, value in row.items() if name not in times}
            for row in records.rows(select(table).order_by(table.c.id))
        ]
        for table in (receipts, marks)
    ]


def put_together() -> int:
    """How many classes this process has put together to mark them for somebody else."""
    return examiner.examiner_of.cache_info().currsize


def test_a_cluster_writes_the_records_that_this_machine_writes(
    make_room: MakeRoom, cluster: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(intake, "BUNDLE_FILES", 2)
    made = make_room(*(f"t{number}" for number in range(12)))
    made.deal()
    for number in range(12):
        made.hand_in(f"t{number}", {"double": f"{number} m", "plan": {"pump": "1"}})
    bad = made.path / "hand-ins" / "cut.handin.json"
    bad.write_bytes(next(bad.parent.iterdir()).read_bytes()[:-1])
    score(made.folder)
    alone = entries(made)
    (made.path / "records.sqlite").unlink()
    here = put_together()
    score(made.folder, cluster=cluster.scheduler_address)
    assert entries(made) == alone
    assert [len(part) for part in alone] == [13, 36]
    with Client(cluster.scheduler_address) as client:
        there = client.run(put_together)
    assert any(there.values()), "the workers have marked"
    assert put_together() == here, "and this process has not"


def test_a_cluster_that_does_not_answer_gets_a_sentence(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.classroom.marks.crew.PATIENCE_S", 0.5)
    with pytest.raises(ClassError, match="does not answer"):
        score(room.folder, cluster="tcp://127.0.0.1:1")
