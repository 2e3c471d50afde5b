"""`peakwright report`, and the same over HTTP."""

import subprocess
import sys
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.api.app import create_app
from server.api.service import assemble
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.errors import ServerError
from server.report.files import ReportOrder, write_report
from server.settings import Settings
from tests.fakes import FakeSource
from tests.server.benches import FakeBench, PassbandMeter
from tests.server.report.jobs import customer_store

STEM = "2026-03-14-skerry-7-12-34-5-job-1"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the record in it."""
    place = tmp_path_factory.mktemp("record")
    customer_store(place).close()
    return place


def peakwright(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a folder."""
    command = [sys.executable, "-m", "server", "report", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=folder)


def test_both_files_are_written_where_one_is_and_named(folder: Path) -> None:
    run = peakwright(folder, "1", "--store", "record.sqlite")

    assert run.stderr == ""
    assert run.stdout.splitlines() == [f"{STEM}.html", f"{STEM}.pdf"]
    assert (folder / f"{STEM}.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert (folder / f"{STEM}.pdf").read_bytes().startswith(b"%PDF-")


def order(folder: Path, **changes: object) -> ReportOrder:
    """Order a report."""
    values = {"job_id": 1, "html": None, "pdf": None, "paper": "a4", "mode": "bench", "store": folder / "record.sqlite"}
    return ReportOrder(**{**values, **changes})  # type: ignore[arg-type]


def test_only_what_is_asked_for_is_written(folder: Path, tmp_path: Path) -> None:
    written = write_report(order(folder, html=tmp_path / "only.html"))

    assert written == (tmp_path / "only.html",)
    assert list(tmp_path.iterdir()) == [tmp_path / "only.html"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"job_id": 7}, "There is no job number 7"),
        ({"paper": "a5"}, "'a5' is no paper"),
        ({"store": Path("nowhere.sqlite")}, "There is no record at nowhere.sqlite"),
        ({"html": Path("no/such/folder.html")}, "no/such/folder.html cannot be written"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, changes: dict[str, object], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ServerError, match=words):
        write_report(order(folder, **changes))

    assert list(tmp_path.iterdir()) == [], "no empty record is made where there is none"


def test_a_job_that_is_no_number_is_one_sentence(folder: Path) -> None:
    run = peakwright(folder, "first")

    assert run.returncode == 1
    assert run.stderr == "JOB is a number, not 'first'; `peakwright job list` lists those there are.\n"


@pytest.fixture
def http(folder: Path) -> TestClient:
    """The service over the record."""
    source = SourceEntry(address="source-address", ceiling_dbm=0.0, loss_db=0.0)
    bench_file = BenchFile(source=source, meter=MeterEntry(address="meter-address"))
    settings = Settings(mode="bench", bench_file=bench_file, store_path=folder / "record.sqlite")
    fake = FakeSource()
    bench = FakeBench(fake, PassbandMeter(fake, 85e3, 2e3))
    return TestClient(create_app(assemble(settings, open_bench=lambda _: bench)), base_url="http://127.0.0.1:8470")


@pytest.mark.parametrize(
    ("path", "media_type", "begins", "name"),
    [
        ("report.html", "text/html; charset=utf-8", b"<!DOCTYPE html>", f"{STEM}.html"),
        ("report.pdf", "application/pdf", b"%PDF-", f"{STEM}.pdf"),
        ("report.pdf?paper=letter", "application/pdf", b"%PDF-", f"{STEM}.pdf"),
    ],
)
def test_the_report_is_handed_out_as_a_file(
    http: TestClient, path: str, media_type: str, begins: bytes, name: str
) -> None:
    answer = http.get(f"/api/jobs/1/{path}")

    assert answer.status_code == 200
    assert answer.headers["content-type"] == media_type
    how = "inline" if path.endswith(".html") else "attachment"
    assert answer.headers["content-disposition"] == f'{how}; filename="{name}"'
    assert answer.content.startswith(begins)


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/api/jobs/7/report.html", 404, "There is no job number 7"),
        ("/api/jobs/1/report.pdf?paper=a5", 422, "'a5' is no paper"),
    ],
)
def test_a_report_that_cannot_be_had_is_one_sentence(http: TestClient, path: str, status: int, words: str) -> None:
    answer = http.get(path)

    assert answer.status_code == status
    assert words in answer.json()["error"]


def test_a_service_starts_without_template_engine_typesetter_and_pictures() -> None:
    """Only a report needs them."""
    program = (
        "import sys\nimport server.api.app\nprint([name for name in ('jinja2', 'typst', 'PIL') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert run.stdout.strip() == "[]"
