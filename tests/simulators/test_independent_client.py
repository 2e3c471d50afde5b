"""The instruments under a client that is not ours: lxi-tools, the Debian package of that name."""

import shutil
import subprocess
from collections.abc import Callable

import pytest

from simulators.bench import BenchOptions
from simulators.instruments.delays import Delays
from simulators.workbench import BenchSettings
from tests.simulators.benches import Bench

OPTIONS = BenchOptions(BenchSettings(seed=8, receiver_id="skerry-7"), Delays.none())


@pytest.mark.skipif(shutil.which("lxi") is None, reason="lxi-tools is not installed here")
@pytest.mark.parametrize(
    ("role", "message", "answer"),
    [
        ("source", "*IDN?", "Peakwright Practice,Signal Source,000008,1.0"),
        ("source", "FREQ 455 KHZ;FREQ?", "+4.550000000000E+05"),
        ("meter", "SYST:ERR?", '0,"No error"'),
        ("counter", "*OPC?", "1"),
    ],
)
def test_a_client_that_is_not_ours_gets_its_answers(
    open_bench: Callable[[BenchOptions], Bench], role: str, message: str, answer: str
) -> None:
    """Raw sockets, one message a connection."""
    port = str(open_bench(OPTIONS).port(role))
    command = ["lxi", "scpi", "--address", "127.0.0.1", "--port", port, "--raw", message]

    done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=True)

    assert done.stdout.strip() == answer
