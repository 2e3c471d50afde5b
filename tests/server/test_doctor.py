"""`peakwright doctor`: what is wrong, and what mends it."""

from importlib.metadata import version
from pathlib import Path

import pytest

from server import checkup
from server.checkup import check_all
from server.records.store import Store
from tests.server.command_line import run_command


def told(findings: tuple[checkup.Finding, ...]) -> dict[str, str]:
    """Give what is wrong, by what was looked at."""
    return {finding.what: finding.text for finding in findings if not finding.well}


def test_a_sound_installation_has_no_trouble(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With a record and no bench."""
    path = tmp_path / "record.sqlite"
    Store(path).close()

    assert run_command("doctor", "--store", str(path)) == 0
    assert f"version {version('peakwright')}" in capsys.readouterr().out


def test_an_output_that_may_be_on_is_trouble(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As an earlier start left it in the record."""
    path = tmp_path / "record.sqlite"
    store = Store(path)
    store.mark_output("TCPIP::192.0.2.10::5025::SOCKET")
    store.close()

    assert run_command("doctor", "--store", str(path)) == 1
    assert "TROUBLE  output: may be on: TCPIP::192.0.2.10::5025::SOCKET since" in capsys.readouterr().out


def test_a_bench_file_that_cannot_be_used_is_trouble(tmp_path: Path) -> None:
    bench = tmp_path / "bench.toml"
    bench.write_text("[sauce]\naddress = 1\n", encoding="utf-8")

    assert "known section" in told(check_all(bench, str(tmp_path / "record.sqlite")))["bench file"]


def test_instruments_that_do_not_answer_are_trouble(tmp_path: Path) -> None:
    """Port 9 of this machine: nobody listens there."""
    bench = tmp_path / "bench.toml"
    bench.write_text('[source]\naddress = "TCPIP::127.0.0.1::9::SOCKET"\n', encoding="utf-8")

    assert "127.0.0.1" in told(check_all(bench, str(tmp_path / "record.sqlite")))["source"]


def test_a_record_that_is_something_else_is_trouble(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    path.write_text("Not a database, though it is long enough to look like a small one. " * 20, encoding="utf-8")

    assert "record" in told(check_all(None, str(path)))


def test_a_package_that_is_missing_or_too_old_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    wanted = ["nowhere-at-all>=1", "numpy>=9999", "psycopg>=3; extra == 'postgresql'"]
    monkeypatch.setattr(checkup, "requires", lambda _: wanted)

    text = told(check_all(None, str(tmp_path / "record.sqlite")))["packages"]
    assert "nowhere-at-all" in text
    assert "numpy" in text
    assert "psycopg" not in text


def test_the_version_is_said_before_any_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_command("--version") == 0
    assert capsys.readouterr().out == f"peakwright {version('peakwright')}\n"
