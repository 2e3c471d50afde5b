"""One bench, one owner: the lock of an address, between programs and within one."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from drivers.errors import InstrumentInUseError
from drivers.meters import open_meter
from drivers.ownership import Ownership
from tests.drivers.peers import Peer, answering
from tests.drivers.test_links import Bench

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ADDRESS = f"TCPIP::192.0.2.77::{os.getpid()}::SOCKET"
HOLD = """
import sys
from pathlib import Path
from drivers.ownership import Ownership
Ownership(sys.argv[1], Path(sys.argv[2]) if len(sys.argv) > 2 else None).claim()
print("held", flush=True)
sys.stdin.read()
"""


@contextmanager
def held_elsewhere(address: str, *folder: str) -> Iterator[subprocess.Popen[str]]:
    """Another program has the address."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, address, *folder], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        yield other
        other.kill()


def test_an_address_that_another_program_has_is_refused_with_its_number(tmp_path: Path) -> None:
    """However the address is spelled, until the other ends, even when it is killed."""
    with held_elsewhere(ADDRESS, str(tmp_path)) as other:
        with pytest.raises(InstrumentInUseError, match=rf"in use by process {other.pid}.*End the other one first"):
            Ownership(ADDRESS.lower() + " ", tmp_path).claim()
        Ownership("TCPIP::192.0.2.8::5025::SOCKET", tmp_path).claim()
        other.kill()
        other.wait()

        Ownership(ADDRESS, tmp_path).claim()


def test_two_roles_of_one_program_may_share_an_instrument(tmp_path: Path) -> None:
    """It is given back when the last of them is closed."""
    source, meter = Ownership(ADDRESS, tmp_path), Ownership(ADDRESS, tmp_path)
    for one in (source, meter):
        one.claim()
        one.claim()
    source.release()
    source.release()
    with pytest.raises(AssertionError), held_elsewhere(ADDRESS, str(tmp_path)):
        pass
    meter.release()

    with held_elsewhere(ADDRESS, str(tmp_path)):
        pass


def test_a_second_service_on_one_bench_is_refused_before_it_says_a_word() -> None:
    """And may have the instrument once the first has let it go."""
    with Peer(answering(Bench().message)) as peer:
        with held_elsewhere(peer.address), pytest.raises(InstrumentInUseError):
            open_meter(peer.address)
        assert peer.received == []

        meter = open_meter(peer.address)
        assert meter.read_voltage() == 0.1
        meter.close()
        with held_elsewhere(peer.address):
            pass


def test_who_stands_in_for_a_program_that_stands_still_is_let_in() -> None:
    """To switch its source off; in a process of its own."""
    stand_in = "from drivers.ownership import stand_in_for_owners\nstand_in_for_owners()\n"
    with held_elsewhere(ADDRESS):
        refused = subprocess.run([sys.executable, "-c", HOLD, ADDRESS], capture_output=True, check=False, text=True)
        let_in = subprocess.run(
            [sys.executable, "-c", stand_in + HOLD, ADDRESS], capture_output=True, check=False, text=True, input=""
        )

    assert (refused.returncode, let_in.returncode) == (1, 0)
    assert "InstrumentInUseError" in refused.stderr


def test_where_there_is_no_place_for_locks_the_work_goes_on(tmp_path: Path) -> None:
    """A lock is a help, not a condition."""
    nowhere = tmp_path / "file"
    nowhere.write_text("")

    owner = Ownership(ADDRESS, nowhere / "folder")
    owner.claim()
    owner.release()


def test_a_lock_that_holds_no_number_is_refused_in_words(tmp_path: Path) -> None:
    """Whatever stands in the file: it is another program's, and may be damaged."""
    fcntl = pytest.importorskip("fcntl")
    earlier = Ownership(ADDRESS, tmp_path)
    earlier.claim()
    earlier.release()
    (path,) = tmp_path.iterdir()
    with path.open("wb") as file:
        file.write(b"\xff\xfe")
        file.flush()
        fcntl.flock(file, fcntl.LOCK_EX)
        with pytest.raises(InstrumentInUseError, match="another process"):
            Ownership(ADDRESS, tmp_path).claim()
