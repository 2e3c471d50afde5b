"""The commands: quick to help, one sentence where they cannot go on, and an address where they can."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.__main__ import main
from server.api.listen import DEAD_PEER_MS, open_listener, page_address, token_for
from server.bench.file import BenchFile
from server.cli import build_cli
from server.cli.instruments import describe
from server.practice.process import practice_bench
from server.settings import Settings, default_store_path
from server.wiring import FoundInstrument

HEAVY = ("scipy", "numpy", "fastapi", "uvicorn", "pyvisa", "sqlalchemy", "bokeh")


def peakwright(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    environment = {**os.environ, "NO_COLOR": "1", "COLUMNS": "200"}
    command = [sys.executable, "-m", "server", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, env=environment)


@pytest.mark.parametrize(
    "command", [[], ["practice"], ["serve"], ["instruments"], ["scan"], ["check"], ["align"], ["report"]]
)
def test_help_imports_nothing_heavy(command: list[str]) -> None:
    """Whoever only asks for the options should not wait for them."""
    program = (
        "import sys\nfrom server.cli import build_cli\n"
        f"try:\n    build_cli()({[*command, '--help']!r})\nexcept SystemExit:\n    pass\n"
        f"print('imported:', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert "Usage:" in run.stdout
    assert run.stdout.splitlines()[-1] == "imported: []"


def test_every_module_of_a_command_is_one() -> None:
    """The table in the package names them all."""
    names = {command.callback.__name__ for command in build_cli().registered_commands if command.callback}

    assert {"practice", "serve", "instruments"} <= names


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "bench file cannot be read"),
        ('[meter]\naddress = "A"\nfunction = "rms"\n', "[meter] function"),
    ],
)
def test_a_bad_bench_file_is_one_sentence(tmp_path: Path, text: str | None, words: str) -> None:
    """On standard error, with status 1."""
    path = tmp_path / "bench.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")

    run = peakwright("serve", "--bench", str(path), "--store", str(tmp_path / "record.sqlite"))

    assert (run.returncode, run.stdout) == (1, "")
    assert run.stderr.startswith(f"{path}: ")
    assert words in run.stderr
    assert run.stderr.count("\n") == 1


def test_a_bad_receiver_file_is_one_sentence(tmp_path: Path) -> None:
    """It names the file and the key."""
    receiver, bench = tmp_path / "mine.toml", tmp_path / "bench.toml"
    receiver.write_text("id = 7\n", encoding="utf-8")
    bench.write_text('[meter]\naddress = "TCPIP::127.0.0.1::1::SOCKET"\n', encoding="utf-8")

    run = peakwright(
        "serve", "--bench", str(bench), "--receiver", str(receiver), "--store", str(tmp_path / "record.sqlite")
    )

    assert run.returncode == 1
    assert "mine.toml" in run.stderr
    assert run.stderr.count("\n") == 1


def test_a_port_in_use_is_one_sentence(tmp_path: Path) -> None:
    """Before any instrument is touched."""
    bench = tmp_path / "bench.toml"
    bench.write_text('[meter]\naddress = "TCPIP::127.0.0.1::1::SOCKET"\n', encoding="utf-8")
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        run = peakwright("serve", "--bench", str(bench), "--port", port, "--store", str(tmp_path / "record.sqlite"))

    assert run.returncode == 1
    assert run.stderr == f"Cannot listen on 127.0.0.1 port {port} (Address already in use); give another --port.\n"


def test_a_record_that_is_none_is_one_sentence(tmp_path: Path) -> None:
    """It is left as it is."""
    bench, letter = tmp_path / "bench.toml", tmp_path / "letter.txt"
    bench.write_text('[meter]\naddress = "TCPIP::127.0.0.1::1::SOCKET"\n', encoding="utf-8")
    letter.write_text("Dear Sir, " * 1000, encoding="utf-8")

    run = peakwright("serve", "--bench", str(bench), "--store", str(letter), "--port", "0")

    assert run.returncode == 1
    assert "letter.txt cannot be opened (file is not a database)" in run.stderr
    assert run.stderr.count("\n") == 1
    assert letter.read_text(encoding="utf-8") == "Dear Sir, " * 1000


def test_a_fault_of_the_program_is_a_sentence_and_a_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Nobody should have to read a traceback, and whoever wants to can."""

    def stumble() -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("server.__main__.build_cli", lambda: stumble)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with pytest.raises(SystemExit) as end:
        main()

    assert end.value.code == 1
    said = capsys.readouterr().err
    (log,) = tmp_path.iterdir()
    assert said == f"The program met a fault of its own (ZeroDivisionError); {log} says where.\n"
    assert "stumble" in log.read_text(encoding="utf-8")


def test_practice_keeps_a_record_of_its_own() -> None:
    """Play must never be taken for a measurement."""
    assert default_store_path("practice") != default_store_path("bench")


def test_only_a_service_that_others_can_reach_has_a_token() -> None:
    """A new one at each start."""
    assert token_for("127.0.0.1") is None
    first, second = token_for("192.0.2.1"), token_for("192.0.2.1")
    assert first != second
    assert first is not None
    assert len(first) >= 20


def test_the_address_of_the_page_carries_the_token() -> None:
    """So that it can be opened as it is printed."""
    settings = Settings(mode="bench", bench_file=BenchFile(), store_path=Path("unused"), token="secret")  # noqa: S106 - invented
    listener = open_listener("127.0.0.1", 0)

    address = page_address(settings, listener)

    assert address == f"http://127.0.0.1:{listener.getsockname()[1]}/?token=secret"
    listener.close()


@pytest.mark.skipif(not hasattr(socket, "TCP_USER_TIMEOUT"), reason="this system has no such option")
def test_a_stream_to_a_machine_that_vanished_is_given_up() -> None:
    """A laptop that was shut acknowledges nothing: its connection, and with it the seat, ends within seconds."""
    listener = open_listener("127.0.0.1", 0)
    with socket.create_connection(listener.getsockname()[:2]):
        link, _ = listener.accept()
        assert link.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT) == DEAD_PEER_MS
        link.close()
    listener.close()


@pytest.fixture(scope="module")
def source_address() -> Iterator[str]:
    """A source that answers."""
    with practice_bench(["--instant"]) as bench:
        assert bench.bench_file.source is not None
        yield bench.bench_file.source.address


def test_instruments_are_found_by_address(source_address: str) -> None:
    """With what they say they are and what they can be."""
    run = peakwright("instruments", source_address)

    assert run.returncode == 0
    (line,) = [line for line in run.stdout.splitlines() if line.startswith(source_address)]
    assert "Signal Source" in line
    assert "(source)" in line


@pytest.mark.parametrize(
    ("found", "line"),
    [
        (FoundInstrument("A", "Maker,Model,1,1", ("meter",), None), "A  Maker,Model,1,1  (meter)"),
        (FoundInstrument("A", "Maker,Model,1,1", ("meter", "counter"), None), "A  Maker,Model,1,1  (meter or counter)"),
        (FoundInstrument("A", None, (), "A refused the connection."), "A  A refused the connection."),
        (FoundInstrument("A", "Maker,Model,1,1", (), None), "A  Maker,Model,1,1  (in no list here; name it in a bench"),
    ],
)
def test_one_line_tells_one_instrument(found: FoundInstrument, line: str) -> None:
    """Or why it cannot be used."""
    assert describe(found).startswith(line)
