"""The Millrace 5 seen through its instruments, as a technician would: sockets, leads, hands; time is stepped."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from simulators.bench import BenchOptions
from simulators.instruments.delays import Delays
from simulators.radios.millrace.radio import Millrace
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions
from simulators.workbench import BenchSettings
from tests.simulators.benches import Bench

Opener = Callable[[BenchOptions], Bench]

DUMMY_ANTENNA = "dummy antenna of 200 pF in series with 20 microhenry"
MARKS_KHZ = (600.0, 800.0, 1000.0, 1200.0, 1400.0)


def options(misalignment: float, *, at_once: bool = True) -> BenchOptions:
    """A noiseless Millrace in stepped time."""
    conditions = Conditions(settles_at_once=at_once)
    settings = BenchSettings(5, "millrace-5", misalignment=misalignment, conditions=conditions)
    return BenchOptions(settings, Delays(0.0, 0.0, 0.0), stepped_time=True, quiet_meter=True)


@pytest.fixture
def aligned(open_bench: Opener) -> Bench:
    """A receiver just as its makers meant it."""
    return open_bench(options(0.0))


@pytest.fixture
def worn(open_bench: Opener) -> Bench:
    """A receiver as it comes to the bench."""
    return open_bench(options(1.0))


def level(bench: Bench, frequency_hz: float, power_dbm: float) -> float:
    """The meter's volts for a signal."""
    bench.send_signal(frequency_hz, power_dbm)
    return bench.meter.number("READ?")


def probe_antenna(bench: Bench, dial_khz: float, through: str = DUMMY_ANTENNA) -> None:
    """Source at the antenna, probe at the converter's grid."""
    bench.do(do="connect", role="source", to="antenna", through=through)
    bench.do(do="connect", role="meter", to="mixer probe")
    bench.do(do="set", control="dial", to=dial_khz)


def test_as_built_the_passband_is_455_khz_and_8_khz_wide(aligned: Bench) -> None:
    """Two critically coupled cans of 10 kHz each: times 0.8022 (Terman, cascaded pairs, from memory; recomputed)."""
    truth = aligned.truth()

    assert truth["scan"]["centre_hz"] == pytest.approx(455e3, abs=50.0)
    assert truth["scan"]["width_3db_hz"] == pytest.approx(8.0e3, rel=0.01)
    assert truth["circuits"]["can 1"]["width_3db_hz"] * 0.8022 == pytest.approx(
        truth["circuits"]["IF"]["width_3db_hz"], rel=0.002
    )


def test_with_little_signal_a_plain_sweep_finds_the_truth_and_with_more_agc_widens_it(worn: Bench) -> None:
    """AGC flattens the top: where the output moves less than the input, the curve looks wider than it is."""
    truth = worn.truth()["scan"]
    grid = np.linspace(440e3, 470e3, 301)

    def seen_width_hz(power_dbm: float) -> float:
        volts = np.array([level(worn, float(one), power_dbm) for one in grid])
        above = grid[volts >= volts.max() * math.sqrt(0.5)]
        return float(above[-1] - above[0])

    # A carrier of tens of millivolts is too little for AGC, and so small that the detector squares it.
    squared = np.array([level(worn, float(one), -95.0) for one in grid])
    half = grid[squared >= squared.max() / 2]
    assert half[-1] - half[0] == pytest.approx(truth["width_3db_hz"], rel=0.15)
    assert seen_width_hz(-40.0) > 1.3 * truth["width_3db_hz"]


def test_the_agc_line_goes_negative_with_the_signal_and_takes_its_time(open_bench: Opener) -> None:
    """It charges through a time constant of 60 ms."""
    bench = open_bench(options(0.0, at_once=False))
    bench.do(do="connect", role="meter", to="agc line")
    bench.send_signal(455e3, -40.0)
    at_first = bench.meter.number("READ?")
    bench.do(do="wait", seconds=0.02)
    on_the_way = bench.meter.number("READ?")
    bench.do(do="wait", seconds=5.0)

    assert at_first == 0.0
    assert 0.2 < on_the_way / bench.meter.number("READ?") < 0.95


def test_the_if_grid_sees_the_second_can_only(worn: Bench) -> None:
    """Whatever is done to the first."""
    worn.do(do="connect", role="source", to="IF grid")
    before = worn.truth()["scan"]

    worn.do(do="turn", adjuster="can 1 primary", turns=1.0)

    assert worn.truth()["scan"] == before
    assert before["centre_hz"] == pytest.approx(worn.truth()["circuits"]["can 2"]["centre_hz"], abs=1.0)


@pytest.mark.parametrize("dial_khz", MARKS_KHZ)
def test_an_aligned_oscillator_is_455_khz_above_the_dial(aligned: Bench, dial_khz: float) -> None:
    """Its scale was printed by it. The pick-up pulls by some tens of hertz."""
    aligned.do(do="set", control="dial", to=dial_khz)

    assert aligned.counter.number("MEAS:FREQ?") == pytest.approx(dial_khz * 1e3 + 455e3, abs=60.0)


@pytest.mark.parametrize(
    ("dial_khz", "off_khz"), [(600.0, 0.0), (1000.0, 0.0), (1400.0, 0.0), (800.0, 3.8), (1500.0, 4.6)]
)
def test_the_antenna_circuit_tracks_at_three_points_and_errs_between(
    aligned: Bench, dial_khz: float, off_khz: float
) -> None:
    """Three-point tracking, ITT Reference Data and Terman section 9 (from memory; recomputed): size of the error.

    The table's error is the oscillator's for a given signal circuit; read the other way, it is the circuit's.
    """
    aligned.do(do="set", control="dial", to=dial_khz)

    peak_hz = aligned.truth()["circuits"]["antenna circuit"]["peak_hz"]

    assert abs(peak_hz / 1e3 - dial_khz) == pytest.approx(off_khz, abs=0.35)


@pytest.mark.parametrize("dial_khz", [600.0, 1000.0, 1400.0])
def test_the_probe_finds_the_antenna_circuit_where_the_truth_has_it(worn: Bench, dial_khz: float) -> None:
    """Half of the squared volts are at the 3 dB points; Q 60 makes the width."""
    probe_antenna(worn, dial_khz)
    truth = worn.truth()["scan"]

    peak, lower, upper = (level(worn, truth[name], -45.0) for name in ("peak_hz", "lower_3db_hz", "upper_3db_hz"))

    assert lower / peak == pytest.approx(0.5, abs=0.01)
    assert upper / peak == pytest.approx(0.5, abs=0.01)
    assert truth["width_3db_hz"] == pytest.approx(truth["peak_hz"] / 60.0, rel=0.01)


def test_a_cable_straight_to_the_antenna_damps_and_detunes_its_circuit(worn: Bench) -> None:
    """Which is what a dummy antenna is for."""
    probe_antenna(worn, 1000.0)
    proper = worn.truth()["scan"]

    probe_antenna(worn, 1000.0, through="cable")

    bare = worn.truth()["scan"]
    assert bare["width_3db_hz"] > 1.5 * proper["width_3db_hz"]
    assert bare["peak_hz"] < proper["peak_hz"] - 1e3


def test_the_image_comes_in_two_ifs_above_and_one_circuit_holds_it_off(aligned: Bench) -> None:
    """At 1000 kHz with an IF of 455 the image is at 1910 kHz; Q 60 rejects by 38.4 dB (Kennedy, ch. 6)."""
    aligned.do(do="connect", role="source", to="antenna", through=DUMMY_ANTENNA)
    rho = 1.91 - 1 / 1.91
    rejection_db = 10 * math.log10(1 + (60 * rho) ** 2)

    on_signal = level(aligned, 1000e3, -90.0)
    on_image = level(aligned, 1910e3, -90.0 + rejection_db)

    assert rejection_db == pytest.approx(38.4, abs=0.05)
    assert on_image == pytest.approx(on_signal, rel=0.03)
    assert level(aligned, 1850e3, -90.0 + rejection_db) < 0.1 * on_signal


def test_trimmer_and_padder_at_their_best_put_the_dial_right_at_both_ends(worn: Bench) -> None:
    """By the truth's own word; the pointer stays where it is."""
    for name in ("oscillator trimmer", "oscillator padder"):
        entry = worn.truth()["adjusters"][name]
        worn.do(do="turn", adjuster=name, turns=-entry["off_turns"])

    errors = worn.truth()["dial"]["errors_by_nominal_if_khz"]
    assert errors["600"] == pytest.approx(0.0, abs=1e-3)
    assert errors["1400"] == pytest.approx(0.0, abs=1e-3)
    assert abs(errors["1000"]) < 5.0


def test_some_have_a_drifted_capacitor_that_no_slug_can_make_good() -> None:
    """The truth says the best is out of reach; df/f = -dC/2C says by how much."""
    worn = [Millrace(Draw(seed), Conditions()) for seed in range(60)]

    kinds = {fault.partition(",")[0] for receiver in worn for fault in receiver.faults or ("none",)}

    assert kinds == {"none", "drifted capacitor", "over-coupled can", "seized"}
