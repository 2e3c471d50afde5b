"""A job on its way in holds nobody up and is seen by nobody; one that does not become whole leaves nothing."""

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import func, select, update

from sequences.engine.events import Ending, RunEnded
from server.errors import ArchiveRefused, OrderRefused, UnknownThing
from server.pictures import MOST_PIXELS
from server.records import intake, job_import
from server.records.job_import import import_job
from server.records.store import Store
from server.records.tables import JobRow, PhotoRow, ReadingRow, RunRow
from tests.server.records.samples import JOB, SCAN, reading
from tests.server.records.test_archive import Files, exported, filled, listed, packed, unpacked


@pytest.fixture
def files(tmp_path: Path) -> Iterator[Files]:
    """A whole job's files."""
    store = Store(tmp_path / "origin.sqlite")
    yield unpacked(exported(store, filled(store)))
    store.close()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """The record that jobs are taken into."""
    opened = Store(tmp_path / "record.sqlite")
    yield opened
    opened.close()


def counts(store: Store) -> list[int]:
    """Count what a job consists of."""
    with store._reading() as connection:  # noqa: SLF001 - what nobody else can see
        return [
            int(connection.execute(select(func.count()).select_from(table)).scalar_one())
            for table in (JobRow, RunRow, ReadingRow, PhotoRow)
        ]


def test_a_run_writes_between_the_pieces_and_sees_no_half_job(
    store: Store, files: Files, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At each pause a reading of a run that is on goes in, as if nobody else were there."""
    run_id, seen = store.begin_run(SCAN), list[int]()
    monkeypatch.setattr(job_import, "PIECE", 1)

    def meanwhile(_pause_s: float) -> None:
        store.keep(run_id, len(seen), reading(len(seen)))
        seen.append(len(store.jobs()))
        with pytest.raises(UnknownThing):
            store.job(1)

    monkeypatch.setattr("server.records.intake.time.sleep", meanwhile)
    job_id = import_job(store, packed(files))
    store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", True), None)

    assert set(seen) == {0}
    assert len(store.run(run_id)["readings"]) == len(seen) > 2
    assert [job["id"] for job in store.jobs()] == [job_id]


def test_what_a_dead_program_left_half_way_is_taken_out_at_the_next_start(
    tmp_path: Path, files: Files, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed in the middle of taking a job in."""
    path = tmp_path / "record.sqlite"
    store = Store(path)
    with monkeypatch.context() as killed:
        killed.setattr(intake, "_enter_notes", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        killed.setattr(intake, "forget_arrival", lambda *_: None)
        with pytest.raises(KeyboardInterrupt):
            import_job(store, packed(files))
    assert all(counts(store))
    with pytest.raises(ArchiveRefused, match="being taken in already"):
        import_job(store, packed(files))
    with store._writer.begin() as connection:  # noqa: SLF001 - another process, which is gone
        connection.execute(update(JobRow).values(claim_pid=2**22 + 1, claim_began=1.0))
    store.close()
    again = Store(path)

    assert counts(again) == [0, 0, 0, 0]
    assert import_job(again, packed(files))
    again.close()


@pytest.mark.parametrize(
    "text", [b'id = "skerry-7"\n', b"a = " + b"[" * 100_000, b"id = 1\n"], ids=["lacks keys", "nested", "wrong kind"]
)
def test_a_job_whose_receiver_file_cannot_be_used_is_refused(store: Store, files: Files, text: bytes) -> None:
    """Nobody could go on with it."""
    with pytest.raises(ArchiveRefused, match="receiver file of this job cannot be used"):
        import_job(store, packed(listed({**files, "receiver.toml": text})))
    assert counts(store) == [0, 0, 0, 0]


@pytest.mark.parametrize(
    ("name", "megabytes", "sentence"),
    [
        ("runs/001/run.json", 9, "runs/001/run.json unfolds to more than 8 MB"),
        ("runs/001/readings.csv", 39, "The text unfolds to more than 64 MB"),
    ],
)
def test_what_unfolds_to_more_than_any_job_is_refused_before_it_is_unfolded(
    store: Store, files: Files, name: str, megabytes: int, sentence: str
) -> None:
    """A few kilobytes of zip."""
    large = {**files, name: b" " * (megabytes * 1_000_000), "runs/002/readings.csv": b" " * 39_000_000}

    with pytest.raises(ArchiveRefused, match=sentence):
        import_job(store, packed(listed(large)))


def picture(width: int, height: int) -> bytes:
    """Draw a picture of one colour, which packs small."""
    written = io.BytesIO()
    Image.new("1", (width, height)).save(written, "PNG")
    return written.getvalue()


def test_a_photo_that_unfolds_to_gigabytes_is_refused(store: Store) -> None:
    """By its head alone; one as large as may be is taken."""
    job_id = store.begin_job(JOB)

    with pytest.raises(OrderRefused, match="at most 50 million pixels"):
        store.photo(job_id, None, "bomb", "image/png", picture(10_000, MOST_PIXELS // 10_000 + 1))
    assert store.photo(job_id, None, "large", "image/png", picture(10_000, MOST_PIXELS // 10_000))
