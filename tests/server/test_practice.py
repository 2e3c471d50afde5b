"""The practice bench is a process of its own: it starts, does as it is told, and dies with whoever started it."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from sequences.receiver.hookups import Hookup
from sequences.receiver.targets import scan_targets, shipped_receivers
from server.api.seat import CLIENT_HEADER
from server.errors import HandsRefused, PracticeError
from server.practice.hands import Hands
from server.practice.process import PracticeBench, practice_bench
from tests.server.benches import PATIENCE_S, eventually
from tests.server.processes import ServiceProcess

HOOKUP = Hookup(
    source_to="third mixer",
    source_through="100 nF",
    meter_to="detector",
    controls={"selectivity": "1.6 kHz", "agc": "off"},
)


@pytest.fixture(scope="module")
def bench() -> Iterator[PracticeBench]:
    """A practice bench that answers at once."""
    with practice_bench(["--seed", "3", "--instant"]) as started:
        yield started


def gone(pid: int) -> bool:
    """Tell whether a process has ended."""
    return not psutil.pid_exists(pid) or psutil.Process(pid).status() == psutil.STATUS_ZOMBIE


def test_its_instruments_stand_in_a_bench_file(bench: PracticeBench) -> None:
    """By loopback addresses, each its own."""
    entries = (bench.bench_file.source, bench.bench_file.meter, bench.bench_file.counter)
    addresses = [entry.address for entry in entries if entry is not None]

    assert len(set(addresses)) == 3
    assert all(address.startswith("TCPIP::127.0.0.1::") for address in addresses)


def test_hands_move_the_leads_and_set_the_controls(bench: PracticeBench) -> None:
    """On the receiver that is asked for."""
    bench.hands.hook_up("skerry-7", HOOKUP)

    (seen,) = bench.hands.do({"do": "describe"})
    assert seen["receiver"]["id"] == "skerry-7"
    assert seen["leads"]["source"] == {"to": "third mixer", "through": "100 nF"}
    assert seen["leads"]["meter"]["to"] == "detector"


def test_every_target_can_be_hooked_up(bench: PracticeBench) -> None:
    """What the receiver files call the points and controls is what stands on the simulated receivers."""
    for receiver in shipped_receivers():
        for target in scan_targets(receiver):
            bench.hands.hook_up(receiver.id, target.hookup)
            (seen,) = bench.hands.do({"do": "describe"})
            assert seen["leads"]["source"]["to"] == target.hookup.source_to
            assert seen["leads"]["meter"]["to"] == target.hookup.meter_to


def test_what_hands_cannot_do_is_said_in_their_own_words(bench: PracticeBench) -> None:
    """The point, and those there are."""
    with pytest.raises(HandsRefused, match=r"^The practice bench refused \(connect\): .*nowhere"):
        bench.hands.hook_up("skerry-7", Hookup(source_to="nowhere"))


def test_a_ctrl_c_at_the_terminal_does_not_reach_it(bench: PracticeBench) -> None:
    """It must outlive the scan that the same Ctrl-C stops, so that the source can be switched off."""
    assert os.getpgid(bench.pid) != os.getpgid(0)


def test_it_ends_with_the_block() -> None:
    """And hands that are gone are said to be so."""
    with practice_bench(["--instant"]) as started:
        hands = started.hands

    assert gone(started.pid)
    with pytest.raises(PracticeError, match="does not answer"):
        hands.do({"do": "describe"})


def test_it_dies_with_a_parent_that_is_killed() -> None:
    """Outright, with no chance to say farewell."""
    program = (
        "import time\nfrom server.practice.process import practice_bench\n"
        "with practice_bench(['--instant']) as bench:\n    print(bench.pid, flush=True)\n    time.sleep(600)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    pid = int(parent.stdout.readline())
    assert not gone(pid)

    parent.kill()
    parent.wait()
    parent.stdout.close()

    eventually(lambda: gone(pid))


def test_a_bench_that_does_not_start_says_why() -> None:
    """In its own last words."""
    with practice_bench(["--seed"]) as started, pytest.raises(PracticeError, match=r"did not start \(.*--seed"):
        _ = started.bench_file


def test_hands_that_talk_nonsense_are_an_error(tmp_path: Path) -> None:
    """Another program that listens on that port, say."""
    server = (
        "import socket\ns = socket.create_server(('127.0.0.1', 0))\nprint(s.getsockname()[1], flush=True)\n"
        "link, _ = s.accept()\nlink.recv(1000)\nlink.sendall(b'220 welcome\\n')\nlink.recv(1000)\n"
    )
    other = subprocess.Popen([sys.executable, "-c", server], stdout=subprocess.PIPE, text=True, cwd=tmp_path)
    assert other.stdout is not None

    with pytest.raises(PracticeError, match="makes no sense"):
        Hands(f"127.0.0.1:{other.stdout.readline().strip()}").do({"do": "describe"})

    other.kill()
    other.wait()
    other.stdout.close()


@pytest.fixture
def practice(tmp_path: Path) -> Iterator[ServiceProcess]:
    """`peakwright practice`, as a person starts it."""
    record = tmp_path / "record.sqlite"
    with ServiceProcess("server", "practice", "--port", "0", "--store", str(record), record=record) as service:
        yield service
        if service.process.poll() is None:
            assert service.end(signal.SIGTERM) == 0


def test_practice_scans_the_receiver_that_its_target_belongs_to(practice: ServiceProcess) -> None:
    """The leads are moved for the person, from one receiver to the other."""
    nominal_hz = {target["id"]: target["nominal_centre_hz"] for target in practice.http.get("/api/targets").json()}
    for target in ("millrace-5-main-passband", "skerry-7-third-passband-3-2khz"):
        run_id = practice.order(target=target, detector="square", settle_s=0.01, readings=15)
        eventually(lambda: practice.bench()["busy_run"] is None)
        scan = practice.http.get(f"/api/scans/{run_id}").json()
        assert (scan["ending"], scan["mode"]) == ("completed", "practice"), scan["ending_text"]
        strongest = max(scan["readings"], key=lambda reading: reading["value_v"])
        span_hz = scan["settings"]["stop_hz"] - scan["settings"]["start_hz"]
        assert strongest["frequency_hz"] == pytest.approx(nominal_hz[target], abs=span_hz / 4)


def test_a_ctrl_c_reaches_the_source_while_its_bench_lives(tmp_path: Path) -> None:
    """A terminal sends it to every process of the group; the instruments must answer until the output is off."""
    record = tmp_path / "record.sqlite"
    with ServiceProcess("server", "practice", "--port", "0", "--store", str(record), record=record) as service:
        with service.stream() as stream:
            run_id = service.order(settle_s=0.001)
            next(stream.events("ReadingTaken"))
            os.killpg(service.process.pid, signal.SIGINT)
            ended = list(stream.events("RunEnded"))[-1]["event"]

        assert service.process.wait(PATIENCE_S) == 0
        assert (ended["ending"], ended["output_off"]) == ("stopped", True)
        assert service.read_record(run_id)["output_off"] is True


def test_instruments_that_are_killed_end_the_scan_in_one_sentence(practice: ServiceProcess) -> None:
    """What was read is kept, the source is said not to have confirmed, and the service goes on."""
    (instruments,) = psutil.Process(practice.process.pid).children()
    with practice.stream() as stream:
        run_id = practice.order(settle_s=0.001)
        next(stream.events("ReadingTaken"))
        instruments.kill()
        ended = next(stream.events("RunEnded"))["event"]

    assert ended["ending"] == "failed"
    assert ended["output_off"] is False
    assert "switch it off at the instrument" in ended["text"]
    assert "\n" not in ended["text"]
    assert "Traceback" not in ended["text"]
    eventually(lambda: practice.bench()["busy_run"] is None)
    state = practice.bench()
    assert state["output_on"] is None
    assert state["last_error"] == ended["text"]
    scan = practice.http.get(f"/api/scans/{run_id}").json()
    assert scan["readings"]
    assert scan["ending_text"] == ended["text"]

    looked = practice.http.post("/api/bench/look", headers={CLIENT_HEADER: "one"}, timeout=PATIENCE_S).json()
    assert {instrument["state"] for instrument in looked["instruments"]} == {"missing"}
    assert all(instrument["detail"] for instrument in looked["instruments"])
    assert looked["output_on"] is None
    refused = practice.http.post("/api/output-off", headers={CLIENT_HEADER: "one"}, timeout=PATIENCE_S)
    assert (refused.status_code, list(refused.json())) == (502, ["error"])
    assert practice.end(signal.SIGTERM) == 1, "the source never confirmed that its output is off"
