"""A whole job goes into one file and comes out of it again; a file that is not whole is refused in one sentence."""

import csv
import hashlib
import io
import itertools
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from sqlalchemy import select

from sequences.alignment.progress import StepMeasured
from sequences.engine.events import Ending, LevelTaken, Notice, RunEnded
from sequences.engine.instruments import Mark
from server.__main__ import main
from server.errors import ArchiveRefused, UnknownThing
from server.records import job_import
from server.records.database import Row, rows_of
from server.records.job_export import export_job, job_file_name
from server.records.job_import import import_job
from server.records.runs import NewRun
from server.records.store import Store
from server.records.tables import EventRow, JobRow, PhotoRow, ReadingRow, RunRow, Table
from tests.server.records.samples import ASKED, JOB, NOTES, at_noon, reading
from tests.server.records.test_attachments import PICTURES

Files = dict[str, bytes]


def filled(store: Store) -> int:
    """Enter a job with something of everything."""
    job_id = store.begin_job(JOB)
    run_id = 0
    for number, note in enumerate(NOTES):
        if isinstance(note, StepMeasured):
            run_id = store.begin_run(
                NewRun("bench", "t", "T2", "Skerry 7", {"a": 0.1}, [], job_id, "filter-t2", note.outcome.phase, "sweep")
            )
            store.keep(run_id, 0, Notice("Lowered, \N{LATIN SMALL LETTER U WITH DIAERESIS}ber."))
            store.keep(run_id, 1, reading(0, 0.1 + 0.2))
            store.keep(run_id, 2, LevelTaken(0, 60000.0, -6.02, True))
            store.keep(run_id, 3, reading(1, None, Mark.OVERLOAD))
            if number > 1:
                store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", True), {"centre_hz": 1.5})
        store.note(job_id, note, run_id=run_id if isinstance(note, StepMeasured) else None)
    store.answered(job_id, ASKED, "done")
    store.remark(job_id, "filter-t2", "It hums.")
    for media_type, content in PICTURES.items():
        store.photo(job_id, None, f"a {media_type}", media_type, content)
    store.change_job(job_id, state="paused")
    return job_id


def rows(store: Store, table: type[Table]) -> list[Row]:
    """Give all that a table holds."""
    with store._reading() as connection:  # noqa: SLF001 - what nobody else can see
        return rows_of(connection, select(table.__table__))


def exported(store: Store, job_id: int) -> bytes:
    """Write a job to a file in memory."""
    file = io.BytesIO()
    export_job(store, job_id, file, at_noon)
    return file.getvalue()


def unpacked(content: bytes) -> Files:
    """Give the files of a zip."""
    with ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(files: Files) -> io.BytesIO:
    """Make a zip of files."""
    file = io.BytesIO()
    with ZipFile(file, "w", ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return io.BytesIO(file.getvalue())


def listed(files: Files) -> Files:
    """List files anew in their manifest, as one who means to deceive would."""
    manifest = json.loads(files["manifest.json"])
    manifest["members"] = {
        name: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in files.items()
        if name != "manifest.json"
    }
    return {**files, "manifest.json": json.dumps(manifest).encode()}


def changed(files: Files, name: str, change: Callable[[Any], object]) -> Files:
    """Change the JSON of one file, and list it so."""
    content = json.loads(files[name])
    change(content)
    return listed({**files, name: json.dumps(content).encode()})


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """The files of a job with something of everything."""
    store = Store(tmp_path_factory.mktemp("first") / "record.sqlite", now=at_noon)
    content = exported(store, filled(store))
    store.close()
    return unpacked(content)


@pytest.fixture
def other(tmp_path: Path) -> Any:  # noqa: ANN401 - a generator of a fixture
    """Another bench's record, which has a job already."""
    store = Store(tmp_path / "other.sqlite")
    store.begin_job(JOB)
    yield store
    store.close()


def without_numbers(job: dict[str, Any]) -> dict[str, Any]:
    """Leave out what a record numbers for itself."""
    own = {"id", "job_id", "run_id", "owner_host", "owner_pid", "owner_began"}
    lists = {
        name: [{key: value for key, value in each.items() if key not in own} for each in rows]
        for name, rows in job.items()
        if isinstance(rows, list) and name != "instruments"
    }
    return {name: value for name, value in {**job, **lists}.items() if name not in own}


def test_a_job_comes_out_of_its_file_as_it_went_in(store: Store, other: Store) -> None:
    """From either database into another, readings to the last bit."""
    job_id = filled(store)
    number = import_job(other, io.BytesIO(exported(store, job_id)))

    before, after = store.job(job_id), other.job(number)
    assert number == 2
    open_run = {"ending": "interrupted", "ended_utc": "2026-11-25T12:00:00.500Z"}
    before["runs"][0] |= {**open_run, "ending_text": after["runs"][0]["ending_text"]}
    assert without_numbers(after) == without_numbers(before)
    assert other.progress(number) == store.progress(job_id)
    assert [row | {"job_id": 0} for row in other.history("skerry-7").figures] == [
        row | {"job_id": 0} for row in store.history("skerry-7").figures
    ]
    assert other.jobs()[0]["counts"] == store.jobs()[0]["counts"]
    for mine, theirs in zip(before["runs"], after["runs"], strict=True):
        first, second = store.run(mine["id"]), other.run(theirs["id"])
        assert [row | {"run_id": 0} for row in first["readings"]] == [row | {"run_id": 0} for row in second["readings"]]
        assert (first["events"], first["result"], first["settings"]) == (
            second["events"],
            second["result"],
            second["settings"],
        )
    photos = [other.photo_content(photo["id"]).content for photo in after["photos"]]
    assert photos == list(PICTURES.values())
    runs = {run["id"] for run in after["runs"]}
    assert {note["run_id"] for note in after["notes"]} - {None} == runs


def test_a_job_taken_in_goes_out_again_as_the_same_files(files: Files, other: Store) -> None:
    number = import_job(other, packed(files))
    again = unpacked(exported(other, number))

    del again["runs/001/run.json"]  # it was on when it was written first
    assert {name: again[name] for name in again if name != "manifest.json"} == {
        name: files[name] for name in files if name not in {"manifest.json", "runs/001/run.json"}
    }


def test_the_file_holds_what_its_description_says(files: Files) -> None:
    assert sorted(files) == [
        "job.json",
        "manifest.json",
        "photos/001.jpg",
        "photos/002.png",
        "photos/003.webp",
        "receiver.toml",
        "runs/001/readings.csv",
        "runs/001/run.json",
        "runs/002/readings.csv",
        "runs/002/run.json",
    ]
    manifest = json.loads(files["manifest.json"])
    assert (manifest["format"], manifest["format_version"]) == ("peakwright job", 2)
    assert manifest["written_utc"] == "2026-11-25T12:00:00.500Z"
    assert manifest["members"]["receiver.toml"] == {
        "bytes": len(JOB.receiver_file),
        "sha256": hashlib.sha256(JOB.receiver_file.encode()).hexdigest(),
    }
    rows = list(csv.DictReader(io.StringIO(files["runs/001/readings.csv"].decode(), newline="")))
    assert [(row["value"], row["unit"], row["level_db"], row["used"]) for row in rows] == [
        ("0.30000000000000004", "V", "-6.02", "true"),
        ("", "V", "", ""),
    ]


def test_a_job_is_taken_in_once(files: Files, other: Store) -> None:
    number = import_job(other, packed(files))

    with pytest.raises(ArchiveRefused, match=f"in the record already, as job {number}"):
        import_job(other, packed(files))


def test_what_the_manifest_does_not_list_does_nothing(files: Files, other: Store, tmp_path: Path) -> None:
    """Nothing is unpacked, so a name that leads elsewhere leads nowhere."""
    import_job(other, packed({**files, "../../escape.txt": b"x", "/tmp/escape.txt": b"x"}))  # noqa: S108 - must not be

    assert not list(tmp_path.rglob("escape.txt"))


@pytest.mark.parametrize(
    ("damage", "sentence"),
    [
        (lambda files: {**files, "job.json": files["job.json"] + b" "}, "damaged: job.json is not as it was written"),
        (
            lambda files: {**files, "runs/002/readings.csv": files["runs/002/readings.csv"].replace(b"V", b"W", 1)},
            "damaged: runs/002/readings.csv is not as",
        ),
        (lambda files: {k: v for k, v in files.items() if k != "runs/002/run.json"}, "lacks runs/002/run.json"),
        (lambda files: {k: v for k, v in files.items() if k != "manifest.json"}, "lacks manifest.json"),
        (lambda files: {**files, "manifest.json": b"[]"}, "manifest.json is not what a job has there"),
        (lambda _: {"letter.txt": b"Dear Sir,"}, "lacks manifest.json; it is not a job"),
        (
            lambda files: changed(files, "manifest.json", lambda it: it.update(format="other")) | {},
            "manifest.json is not what a job has there",
        ),
        (lambda files: changed(files, "job.json", lambda it: it.update(state="lost")), "job.json is not what a job"),
        (lambda files: changed(files, "job.json", lambda it: it.update(runs=3)), "lacks runs/003/run.json"),
        (lambda files: changed(files, "job.json", lambda it: it["notes"].pop(0)), "Note 1 of the job .* not begun"),
        (
            lambda files: changed(files, "job.json", lambda it: it["notes"][1].update(run=9)),
            "Note 2 is of run 9, which the file does not have",
        ),
        (
            lambda files: changed(files, "job.json", lambda it: it["answers"][0].update(asked={})),
            "Answer 1 of the job cannot be taken in",
        ),
        (
            lambda files: changed(files, "job.json", lambda it: it["photos"][0].update(media_type="text/html")),
            "Photo 1 is 'text/html', which is not taken",
        ),
        (lambda files: listed({**files, "photos/001.jpg": b"<svg/>"}), "no JPEG, PNG or WebP picture"),
        (lambda files: listed({**files, "runs/001/readings.csv": b"a,b\r\n"}), "does not begin with the columns"),
        (
            lambda files: listed({**files, "runs/001/readings.csv": files["runs/001/readings.csv"] + b"2,x\r\n"}),
            "runs/001/readings.csv: line 4 is no reading",
        ),
        (lambda files: listed({**files, "receiver.toml": b"\xff\xfe"}), "receiver.toml is not as it was written"),
    ],
)
def test_a_file_that_is_not_a_whole_job_is_refused_and_leaves_nothing(
    files: Files, other: Store, damage: Callable[[Files], Files], sentence: str
) -> None:
    before = [len(rows(other, table)) for table in (JobRow, RunRow, ReadingRow, EventRow, PhotoRow)]
    with pytest.raises(ArchiveRefused, match=sentence) as caught:
        import_job(other, packed(damage(files)))

    assert "\n" not in str(caught.value)
    assert len(other.jobs()) == 1
    assert [len(rows(other, table)) for table in (JobRow, RunRow, ReadingRow, EventRow, PhotoRow)] == before


def test_a_file_of_a_newer_format_is_refused(files: Files, other: Store) -> None:
    newer = {**files, "manifest.json": files["manifest.json"].replace(b'"format_version": 2', b'"format_version": 3')}

    with pytest.raises(ArchiveRefused, match="of format 3 and this program reads up to 2; import it with a newer"):
        import_job(other, packed(newer))


def test_a_file_of_the_format_before_is_read_as_one_of_today(files: Files, other: Store) -> None:
    """There a figure said in its place when it was taken."""

    def age(job: Any) -> None:  # noqa: ANN401 - JSON
        for note in job["notes"]:
            for finding in note["body"].get("outcome", {}).get("findings", []):
                del finding["when"]
        job["notes"][1]["body"]["outcome"]["findings"][0]["where"] = "500 kHz, as left"

    older = changed(files, "job.json", age)
    older["manifest.json"] = older["manifest.json"].replace(b'"format_version": 2', b'"format_version": 1')
    number = import_job(other, packed(older))

    figures = other.history("skerry-7").figures
    assert [(row["where"], row["phase"]) for row in figures[:2]] == [("500 kHz", "as left"), ("", "as found")]
    assert other.job(number)["notes"][1]["body"]["outcome"]["findings"][0]["when"] == "as left"


@pytest.mark.parametrize("share", [0.3, 0.9])
def test_a_file_that_is_cut_short_is_refused(files: Files, other: Store, share: float) -> None:
    content = packed(files).getvalue()

    with pytest.raises(ArchiveRefused, match="not a zip, or is cut short"):
        import_job(other, io.BytesIO(content[: int(share * len(content))]))


def test_every_flipped_byte_is_noticed_or_does_nothing(files: Files, other: Store) -> None:
    """A zip has bytes that mean nothing, such as dates; else its own sums, or ours, must tell."""
    content = packed(files).getvalue()
    directory = content.index(b"PK\x01\x02")
    places = (*range(0, directory, directory // 50), *range(directory, len(content)))
    refusals = []
    for place, bits in itertools.product(places, (0x01, 0x55, 0x80, 0xFF)):
        bent = bytearray(content)
        bent[place] ^= bits
        try:
            number = import_job(other, io.BytesIO(bytes(bent)))
        except ArchiveRefused as error:
            refusals.append(str(error))
        else:
            assert unpacked(exported(other, number))["job.json"] == files["job.json"]

    assert sum("already" not in refusal for refusal in refusals) > len(refusals) / 2  # most bytes do mean something
    assert not any("\n" in refusal for refusal in refusals)


def test_what_unfolds_to_more_than_it_says_is_refused(
    files: Files, other: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading stops at what the manifest says, which itself may not say too much."""
    with pytest.raises(ArchiveRefused, match=r"damaged: receiver\.toml is not as it was written"):
        import_job(other, packed({**files, "receiver.toml": b"0" * 50_000_000}))
    with pytest.raises(ArchiveRefused, match=r"damaged: manifest\.json"):
        import_job(other, packed({**files, "manifest.json": b" " * 50_000_000}))
    monkeypatch.setattr(job_import, "LARGEST_JOB_BYTES", 1000)
    with pytest.raises(ArchiveRefused, match="unfolds to more than"):
        import_job(other, packed(files))


def test_a_job_that_is_not_there_cannot_be_written(store: Store) -> None:
    with pytest.raises(UnknownThing, match="no job number 9"):
        exported(store, 9)


def test_the_file_is_named_by_day_receiver_and_number(store: Store) -> None:
    assert job_file_name(store.job_header(store.begin_job(JOB))) == "2026-11-25-skerry-7-job-1.zip"


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    status: int
    stdout: str
    stderr: str


@pytest.fixture
def peakwright(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Done]:
    """Run the program's main function in this process."""

    def run(*arguments: str) -> Done:
        monkeypatch.setattr(sys, "argv", ["peakwright", "job", *arguments])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        return Done(int(ended.value.code or 0), out, err)

    return run


def test_jobs_are_listed_written_and_taken_in_by_command(tmp_path: Path, peakwright: Callable[..., Done]) -> None:
    first, second, file = tmp_path / "first.sqlite", tmp_path / "second.sqlite", tmp_path / "job.zip"
    store = Store(first)
    filled(store)
    store.close()

    written = peakwright("export", "1", str(file), "--store", str(first))
    taken = peakwright("import", str(file), "--store", str(second))
    shown = peakwright("list", "--store", str(second), "--text", "reed", "--verdict", "suspect")
    none = peakwright("list", "--store", str(second), "--receiver", "millrace-5")

    assert written == Done(0, f"{file}\n", "")
    assert taken == Done(0, "It is job 1 here.\n", "")
    for word in ("Skerry 7", "1234", "A. Reed", "paused", "1 suspect", "1 unmeasured"):
        assert word in " ".join(shown.stdout.split())
    assert none.stdout == "There is no such job.\n"


def test_a_job_is_freed_by_command(tmp_path: Path, peakwright: Callable[..., Done]) -> None:
    path = tmp_path / "record.sqlite"
    store = Store(path)
    store.claim(store.begin_job(JOB))

    assert peakwright("free", "1", "--store", str(path)) == Done(0, "Job 1 is in nobody's hands.\n", "")
    store.close()


def test_what_a_command_cannot_do_is_one_sentence(tmp_path: Path, peakwright: Callable[..., Done]) -> None:
    letter, there = tmp_path / "letter.txt", tmp_path / "there.zip"
    letter.write_text("Dear Sir,", encoding="utf-8")
    path = tmp_path / "record.sqlite"
    store = Store(path)
    store.begin_job(JOB)
    store.close()
    there.touch()
    wrong = {
        ("export", "2", str(tmp_path / "job.zip")): "There is no job number 2",
        ("export", "one", str(tmp_path / "job.zip")): "JOB is a number, not 'one'",
        ("export", "1", str(there)): "there.zip exists already",
        ("export", "1", str(tmp_path / "no" / "job.zip")): "cannot be written (No such file or directory)",
        ("import", str(letter)): "not a zip",
        ("import", str(tmp_path / "none.zip")): "none.zip cannot be read (No such file or directory)",
        ("list", "--since", "soon"): "'soon' is no day or time",
        ("free", "2"): "There is no job number 2",
    }
    for arguments, sentence in wrong.items():
        done = peakwright(*arguments, "--store", str(path))
        assert (done.status, done.stdout, done.stderr.count("\n")) == (1, "", 1)
        assert sentence in done.stderr
    assert not (tmp_path / "job.zip").exists()
