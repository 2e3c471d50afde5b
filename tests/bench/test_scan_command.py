"""`peakwright scan` over real sockets, on circuits solved by ngspice and on the practice receivers."""

import signal
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.bench.command_line import run_scan, scan_figures, start_scan
from tests.bench.practice import PATIENCE_S, Practice, practice
from tests.published.spice import POINTS_DENSE, Landmarks, Tank, butterworth_band_pass, landmarks, pair, single, solve

F0 = 455e3
CIRCUITS = {
    "single circuit": (single(Tank(F0, 50)), 9.1e3),
    "over-coupled pair": (pair(Tank(F0, 80), Tank(F0, 80), 2 / 80), 15e3),
    "four-pole filter": (butterworth_band_pass(F0, 8e3), 8e3),
}


@pytest.fixture(scope="module", params=CIRCUITS)
def solved(
    request: pytest.FixtureRequest, ngspice: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Practice, Landmarks, list[str]]]:
    """A circuit that ngspice solved, behind the simulated meter with 0.02 dB of noise."""
    netlist, width_hz = CIRCUITS[request.param]
    start_hz, stop_hz = F0 - 5 * width_hz, F0 + 5 * width_hz
    frequency_hz, level_db = solve(ngspice, netlist, start_hz, stop_hz, POINTS_DENSE)
    table = tmp_path_factory.mktemp("table") / "response.csv"
    write_table(table, frequency_hz, level_db - level_db.max())
    with practice("--table", str(table), "--instant", "--noise-db", "0.02", "--seed", "5") as bench:
        span = ["--start", f"{start_hz:.0f}Hz", "--stop", f"{stop_hz / 1e3:.3f}kHz", "--level=-20", "--settle", "0"]
        yield bench, landmarks(frequency_hz, level_db), ["--source", bench.source, "--meter", bench.meter, *span]


def write_table(path: Path, frequency_hz: np.ndarray, level_db: np.ndarray) -> None:
    """Write the columns that the practice bench serves."""
    rows = np.column_stack([frequency_hz, level_db])
    np.savetxt(path, rows, delimiter=",", header="frequency_hz,level_db", comments="", fmt="%.9g")


@pytest.mark.parametrize("way", [("--readings", "201"), (), ("--detector", "calibrate"), ("--until-centre", "0.5%")])
def test_a_solved_circuit_is_found(solved: tuple[Practice, Landmarks, list[str]], way: tuple[str, ...]) -> None:
    """Centre within 1 % and width within 2 % of the 3 dB width, and the output off afterwards."""
    bench, truth, arguments = solved

    figures = scan_figures(*arguments, *way)

    assert abs(figures["centre_hz"] - truth.centre_hz) < 0.01 * truth.width_3db_hz
    assert abs(figures["width_3db_hz"] - truth.width_3db_hz) < 0.02 * truth.width_3db_hz
    assert bench.ask(bench.source, "OUTP?") == "0"


def test_the_promised_keys_are_there(solved: tuple[Practice, Landmarks, list[str]]) -> None:
    """Scripts rely on them."""
    _, _, arguments = solved

    figures = scan_figures(*arguments, "--readings", "101")

    promised = "peak_hz centre_hz centre_sigma_hz width_3db_hz width_3db_sigma_hz width_6db_hz model readings doubts"
    assert set(promised.split()) <= figures.keys()
    assert figures["readings"] == 101
    assert isinstance(figures["doubts"], list)


@pytest.fixture(scope="module")
def skerry() -> Iterator[Practice]:
    """A practice bench whose instruments take their time."""
    with practice("--seed", "3", "--delays", "meter=0.05") as bench:
        bench.do(do="connect", role="source", to="third mixer")
        bench.do(do="connect", role="meter", to="detector")
        bench.do(do="set", control="agc", to="off")
        bench.do(do="set", control="selectivity", to="1.6 kHz")
        yield bench


def skerry_scan(bench: Practice, *more: str) -> list[str]:
    """Give the arguments of a scan of the 85 kHz passband."""
    return [
        "--source",
        bench.source,
        "--meter",
        bench.meter,
        "--start",
        "81kHz",
        "--stop",
        "89kHz",
        "--level=-50",
        *more,
    ]


def test_a_practice_receivers_passband_is_found_where_the_simulator_knows_it_is(skerry: Practice) -> None:
    """The truth is the simulator's own, from its own physics."""
    truth = skerry.do(do="truth")["truth"]["circuits"]["85 kHz filter"]

    figures = scan_figures(*skerry_scan(skerry, "--detector", "calibrate", "--settle", "50ms"))

    assert abs(figures["centre_hz"] - truth["centre_hz"]) < 4 * figures["centre_sigma_hz"]
    assert abs(figures["width_3db_hz"] - truth["width_3db_hz"]) < 4 * figures["width_3db_sigma_hz"]
    assert figures["centre_sigma_hz"] < 0.02 * truth["width_3db_hz"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_the_scan_with_the_output_off(skerry: Practice, number: signal.Signals) -> None:
    """Exit status 1 and one sentence."""
    with start_scan(*skerry_scan(skerry, "--readings", "2000", "--settle", "10ms")) as process:
        skerry.wait_until_on()
        process.send_signal(number)
        out, err = process.communicate(timeout=PATIENCE_S)

    assert process.returncode == 1
    assert out == ""
    assert "stopped" in err.splitlines()[-1]
    assert skerry.ask(skerry.source, "OUTP?") == "0"


@pytest.mark.parametrize("kind", ["late", "lost", "cut", "garbled"])
def test_a_reply_that_goes_wrong_is_asked_for_again(skerry: Practice, kind: str) -> None:
    """The scan goes on, says what happened, and reads no number that belongs to another frequency."""
    skerry.do(do="fault", instrument="meter", kind=kind, after=30, count=1)

    status, out, err = run_scan(*skerry_scan(skerry, "--readings", "41", "--settle", "10ms"))

    assert status == 0, err
    assert "Asking again" in err
    assert "41 readings" in out


def test_an_overload_is_no_reading(skerry: Practice) -> None:
    """Left out, and said."""
    skerry.do(do="fault", instrument="meter", kind="overload", after=30, count=1)

    figures = scan_figures(*skerry_scan(skerry, "--readings", "41", "--settle", "10ms"))

    assert any("overload at 1 of 41" in doubt for doubt in figures["doubts"])


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--start", "81kHz", "--stop", "89 parsecs", "--level=-50"], "--stop"),
        (["--start", "89kHz", "--stop", "81kHz", "--level=-50"], "above start"),
        (["--start", "81kHz", "--stop", "89kHz"], "--level is missing"),
        (["--start", "81kHz", "--stop", "89kHz", "--level=-50", "--detector", "cubic"], "linear, square, calibrate"),
        (["--start", "81kHz", "--stop", "89kHz", "--level=900"], "--level"),
    ],
)
def test_a_wrong_option_is_one_sentence_and_exit_status_1(skerry: Practice, options: list[str], word: str) -> None:
    """No traceback, no panel."""
    status, out, err = run_scan("--source", skerry.source, "--meter", skerry.meter, *options)

    assert (status, out) == (1, "")
    assert len(err.strip().splitlines()) == 1
    assert word in err


def test_the_wrong_instrument_and_no_instrument_are_one_sentence(skerry: Practice) -> None:
    """A meter is no source, and a closed port is nobody."""
    options = ["--start", "81kHz", "--stop", "89kHz", "--level=-50"]

    status, _, err = run_scan("--source", skerry.meter, "--meter", skerry.meter, *options)
    assert status == 1
    assert "cannot serve as the source" in err
    status, _, err = run_scan("--source", "TCPIP::127.0.0.1::9::SOCKET", "--meter", skerry.meter, *options)
    assert status == 1
    assert "No instrument answers" in err
    status, _, err = run_scan("--source", "the blue one", "--meter", skerry.meter, *options)
    assert status == 1
    assert "cannot be opened" in err


def test_a_sweep_of_nothing_has_no_result(skerry: Practice) -> None:
    """Far from any response: exit status 1, one sentence, no number."""
    options = ["--start", "200kHz", "--stop", "210kHz", "--level=-50", "--settle", "0"]

    status, out, err = run_scan("--source", skerry.source, "--meter", skerry.meter, *options)

    assert (status, out) == (1, "")
    assert err.strip()
    assert skerry.ask(skerry.source, "OUTP?") == "0"
