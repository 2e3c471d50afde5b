"""The Skerry 7 seen through its instruments, as a technician would: sockets, leads, hands; time is stepped."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from simulators.bench import BenchOptions
from simulators.instruments.delays import Delays
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions
from simulators.radios.skerry.radio import Skerry
from simulators.workbench import BenchSettings
from tests.simulators.benches import Bench

Opener = Callable[[BenchOptions], Bench]

THIRD_IF_HZ = 85e3
SETTLED_S = 0.2


def options(seed: int = 2, misalignment: float = 1.0, *, cold: bool = False, at_once: bool = False) -> BenchOptions:
    """A noiseless Skerry in stepped time."""
    settings = BenchSettings(
        seed, "skerry-7", misalignment=misalignment, conditions=Conditions(cold=cold, settles_at_once=at_once)
    )
    return BenchOptions(settings, Delays(0.0, 0.0, 0.0), stepped_time=True, quiet_meter=True)


@pytest.fixture
def aligned(open_bench: Opener) -> Bench:
    """A receiver just as its makers meant it; it settles at once."""
    return open_bench(options(misalignment=0.0, at_once=True))


@pytest.fixture
def worn(open_bench: Opener) -> Bench:
    """A receiver as it comes to the bench; it settles at once."""
    return open_bench(options(at_once=True))


def level(bench: Bench, frequency_hz: float, power_dbm: float) -> float:
    """The meter's volts for a signal."""
    bench.send_signal(frequency_hz, power_dbm)
    return bench.meter.number("READ?")


def connect(bench: Bench, source: str, meter: str = "detector") -> None:
    """Move the source's and the meter's leads."""
    bench.do(do="connect", role="source", to=source)
    bench.do(do="connect", role="meter", to=meter)


def edges(bench: Bench, centre_hz: float, reach_hz: float, power_dbm: float) -> tuple[float, float]:
    """Where the volts cross half power outermost, by a plain dense sweep."""
    grid = np.linspace(centre_hz - reach_hz, centre_hz + reach_hz, 401)
    volts = np.array([level(bench, float(one), power_dbm) for one in grid])
    above = np.flatnonzero(volts >= volts.max() * math.sqrt(0.5))
    first, last = above[0], above[-1]

    def between(below: int, at: int) -> float:
        share = (volts.max() * math.sqrt(0.5) - volts[below]) / (volts[at] - volts[below])
        return float(grid[below] + share * (grid[at] - grid[below]))

    return between(first - 1, first), between(last + 1, last)


def hear(bench: Bench, source: str, frequency_hz: float, power_dbm: float = -50.0) -> float:
    """The note in the headphones, by the counter."""
    bench.do(do="connect", role="source", to=source)
    bench.do(do="connect", role="counter", to="audio")
    bench.do(do="set", control="beat oscillator", to="on")
    bench.send_signal(frequency_hz, power_dbm)
    return bench.counter.number("READ?")


@pytest.mark.parametrize(("selectivity", "width_hz"), [("0.8 kHz", 800.0), ("1.6 kHz", 1600.0), ("3.2 kHz", 3200.0)])
def test_as_built_each_selectivity_is_centred_and_as_wide_as_it_says(
    aligned: Bench, selectivity: str, width_hz: float
) -> None:
    """Swept from the third mixer to the detector, which is straight at this level."""
    aligned.do(do="set", control="selectivity", to=selectivity)

    lower_hz, upper_hz = edges(aligned, THIRD_IF_HZ, width_hz, -50.0)

    assert (lower_hz + upper_hz) / 2 == pytest.approx(THIRD_IF_HZ, abs=0.004 * width_hz)
    assert upper_hz - lower_hz == pytest.approx(width_hz, rel=0.01)


@pytest.mark.parametrize("selectivity", ["0.8 kHz", "1.6 kHz", "3.2 kHz"])
def test_a_plain_sweep_of_a_worn_receiver_finds_the_truth_it_tells(worn: Bench, selectivity: str) -> None:
    """Truth by search on the physics, sweep through source, sockets and meter."""
    worn.do(do="set", control="selectivity", to=selectivity)
    width_hz = float(selectivity.removesuffix(" kHz")) * 1e3

    lower_hz, upper_hz = edges(worn, THIRD_IF_HZ, 1.2 * width_hz, -50.0)

    truth = worn.truth()["scan"]
    assert lower_hz == pytest.approx(truth["lower_3db_hz"], abs=0.006 * width_hz)
    assert upper_hz == pytest.approx(truth["upper_3db_hz"], abs=0.006 * width_hz)


def test_the_435_khz_oscillator_takes_520_khz_to_85(aligned: Bench) -> None:
    """520 - 435 = 85: the same passband, entered at the second IF (arithmetic; common practice)."""
    at_last_if = level(aligned, 85e3 + 700.0, -50.0) / level(aligned, 85e3, -50.0)
    at_second_if = level(aligned, 520e3 + 700.0, -50.0) / level(aligned, 520e3, -50.0)

    assert at_second_if == pytest.approx(at_last_if, rel=0.02)


def test_the_passband_control_moves_the_passband_by_1500_hz_each_way(aligned: Bench) -> None:
    """And leaves its width alone."""
    centres = []
    for mark in (-1.0, 0.0, 1.0):
        aligned.do(do="set", control="passband", to=mark)
        lower_hz, upper_hz = edges(aligned, THIRD_IF_HZ + 1500 * mark, 1600.0, -50.0)
        centres.append((lower_hz + upper_hz) / 2)
        assert upper_hz - lower_hz == pytest.approx(1600.0, rel=0.03)

    assert np.diff(centres) == pytest.approx([1500.0, 1500.0], rel=0.01)


@pytest.mark.parametrize("band", ["4.5", "6", "8.5", "12", "16", "19", "25.5"])
def test_a_signal_at_the_antenna_of_an_aligned_receiver_is_where_the_dial_says(aligned: Bench, band: str) -> None:
    """Through three conversions: the dial in the middle of the band, the beat oscillator at zero beat."""
    aligned.do(do="set", control="band", to=band)

    note_hz = hear(aligned, "antenna", float(band) * 1e6 + 250e3 + 800.0, -60.0)

    assert note_hz == pytest.approx(800.0, abs=40.0)


@pytest.mark.parametrize(
    ("point", "frequency_hz", "upright"),
    [
        ("antenna", 4.75e6, True),
        ("first mixer", 3.15e6, False),
        ("second mixer", 520e3, True),
        ("third mixer", 85e3, True),
    ],
)
def test_each_high_side_conversion_turns_the_spectrum_over(
    aligned: Bench, point: str, frequency_hz: float, upright: bool
) -> None:
    """Crystal and tunable oscillator are above what they convert, the third below: two turns, one, none, none.

    Upright: a higher signal gives a higher note where the last IF is above the beat oscillator.
    """
    offset_hz = 600.0 if upright else -600.0

    lower_hz = hear(aligned, point, frequency_hz + offset_hz)
    higher_hz = hear(aligned, point, frequency_hz + offset_hz + 100.0)

    assert (higher_hz > lower_hz) == upright


def test_the_image_is_two_ifs_away_and_weak(aligned: Bench) -> None:
    """Oscillator high: image = f + 2 IF. Two circuits of Q 80: sqrt(1 + Q^2 rho^2) twice (Kennedy, ch. 6)."""
    connect(aligned, "antenna")
    signal_hz, image_hz = 4.75e6, 4.75e6 + 2 * 3.15e6
    rho = image_hz / signal_hz - signal_hz / image_hz
    rejection = 1 + (80.0 * rho) ** 2

    on_signal = level(aligned, signal_hz, -90.0)
    on_image = level(aligned, image_hz, -90.0 + 20 * math.log10(rejection))
    beside_image = level(aligned, image_hz + 6e3, -90.0 + 20 * math.log10(rejection))

    assert on_image == pytest.approx(on_signal, rel=0.1)
    assert beside_image < 0.1 * on_image


@pytest.mark.parametrize(
    ("band", "middle_hz"),
    [
        ("4.5", 4.75e6),
        ("6", 6.25e6),
        ("8.5", 8.75e6),
        ("12", 12.25e6),
        ("16", 16.25e6),
        ("19", 19.25e6),
        ("25.5", 25.75e6),
    ],
)
def test_the_preselector_peaks_where_its_mark_says_on_every_band(aligned: Bench, band: str, middle_hz: float) -> None:
    """Mark 5 is mid-band. The probe squares at this level, so half power is half the volts."""
    quality = {"4.5": 80, "6": 78, "8.5": 75, "12": 72, "16": 66, "19": 58, "25.5": 50}[band]
    width_hz = middle_hz / quality * math.sqrt(math.sqrt(2) - 1)
    connect(aligned, "antenna", "mixer probe")
    aligned.do(do="set", control="band", to=band)

    middle, lower, upper = (level(aligned, middle_hz + share * width_hz, -40.0) for share in (0.0, -0.5, 0.5))

    assert lower / middle == pytest.approx(0.5, abs=0.02)
    assert upper / middle == pytest.approx(0.5, abs=0.02)


def test_knob_and_trimmers_move_the_preselector(aligned: Bench) -> None:
    """A mark is 83 kHz on every band; a trimmer clockwise adds capacity and so lowers the peak."""
    connect(aligned, "antenna", "mixer probe")
    before_hz = aligned.truth()["circuits"]["preselector"]["peak_hz"]

    aligned.do(do="set", control="preselector", to=6.0)
    moved_hz = aligned.truth()["circuits"]["preselector"]["peak_hz"]
    aligned.do(do="set", control="preselector", to=5.0)
    aligned.do(do="turn", adjuster="preselector mixer trimmer", turns=2.0)
    turned = aligned.truth()["circuits"]

    assert moved_hz - before_hz == pytest.approx(500e3 / 6, rel=0.01)
    assert turned["preselector mixer circuit"]["peak_hz"] < before_hz - 10e3
    assert turned["preselector antenna circuit"]["peak_hz"] == pytest.approx(before_hz, abs=100.0)


def test_a_sweep_shows_the_window_and_not_the_can_before_it(aligned: Bench) -> None:
    """A 9 kHz wide IF seen through 3.2 kHz: turning a can's slug leaves the swept centre, but lowers the level."""
    connect(aligned, "second mixer")
    aligned.do(do="set", control="selectivity", to="3.2 kHz")
    before = edges(aligned, 520e3, 5000.0, -50.0)
    strong = level(aligned, 520e3, -50.0)

    aligned.do(do="turn", adjuster="T1 primary", turns=2.0)

    after = edges(aligned, 520e3, 5000.0, -50.0)
    can_moved_hz = aligned.truth()["circuits"]["T1"]["centre_hz"] - 520e3
    assert abs(can_moved_hz) > 1000.0
    assert abs(sum(after) - sum(before)) / 2 < 0.25 * abs(can_moved_hz)
    assert level(aligned, 520e3, -50.0) < 0.95 * strong


def test_an_over_coupled_can_has_two_humps(open_bench: Opener) -> None:
    """Beyond critical coupling (Aiken, Proc. IRE 25, 1937, from memory): its peak is then no centre."""
    seed = next(seed for seed in range(200) if any("over-coupled can, T1" in one for one in made(seed).faults))
    bench = open_bench(options(seed, at_once=True))
    for name in ("T1 primary", "T1 secondary"):
        entry = bench.truth()["adjusters"][name]
        bench.do(do="turn", adjuster=name, turns=-entry["off_turns"])

    can = bench.truth()["circuits"]["T1"]

    assert can["centre_hz"] == pytest.approx(520e3, abs=300.0)
    assert abs(can["peak_hz"] - can["centre_hz"]) > 4e3


def made(seed: int) -> Skerry:
    """One receiver off the bench."""
    return Skerry(Draw(seed), Conditions())


def test_both_slugs_of_a_can_at_their_best_give_the_most_and_pull_on_each_other(worn: Bench) -> None:
    """Peaking one winding while the other is off does not end at that winding's own best."""
    for name, entry in worn.truth()["adjusters"].items():
        if name.startswith(("T1", "T2")) and entry["reachable"]:
            worn.do(do="turn", adjuster=name, turns=-entry["off_turns"])
    best = worn.truth()["circuits"]["cans"]

    assert best["centre_hz"] == pytest.approx(520e3, abs=600.0)
    assert best["width_3db_hz"] == pytest.approx(9e3, rel=0.2)


def test_an_adjuster_at_its_best_is_no_turn_off(worn: Bench) -> None:
    """The truth agrees with itself after it has been obeyed; what is seized or out of reach is said to be."""
    for _ in range(2):  # the pointer's best is known only after the oscillator's
        for name, entry in worn.truth()["adjusters"].items():
            worn.do(do="turn", adjuster=name, turns=-entry["off_turns"])

    left = worn.truth()["adjusters"]
    off = {name for name, entry in left.items() if abs(entry["off_turns"]) > 1e-3}
    assert off == {name for name, entry in left.items() if entry["seized"]}
    assert max(map(abs, worn.truth()["dial"]["errors_by_zero_beat_khz"].values())) < 0.5


@pytest.mark.parametrize(
    ("slug", "point", "control"),
    [
        ("third oscillator slug", "third oscillator", None),
        ("beat oscillator slug", "beat oscillator", "beat oscillator"),
    ],
)
def test_a_slug_going_in_lowers_its_oscillator_and_a_pick_up_pulls_it(
    aligned: Bench, slug: str, point: str, control: str | None
) -> None:
    """More inductance, lower frequency. Two turns of wire beside the valve pull by hertz, a clip by tens of them."""
    if control:
        aligned.do(do="set", control=control, to="on")
    true_hz = aligned.truth()["oscillators"][point]
    aligned.do(do="connect", role="counter", to=point, through="two turns of insulated wire laid beside the valve")
    loosely_hz = aligned.counter.number("MEAS:FREQ?")
    aligned.do(do="connect", role="counter", to=point, through="probe clipped to the anode")
    closely_hz = aligned.counter.number("MEAS:FREQ?")
    aligned.do(do="connect", role="counter", to=point, through="two turns of wire, at twice the distance")
    from_afar_hz = aligned.counter.number("MEAS:FREQ?")
    aligned.do(do="connect", role="counter", to=point, through="probe clipped to the anode")

    aligned.do(do="turn", adjuster=slug, turns=0.5)

    assert 0.0 < true_hz - from_afar_hz < 0.5 * (true_hz - loosely_hz)
    assert 0.2 < true_hz - loosely_hz < 5.0
    assert 2.0 < true_hz - closely_hz < 50.0
    assert aligned.counter.number("READ?") < closely_hz - 50.0


def test_a_silent_beat_oscillator_counts_as_not_a_number(aligned: Bench) -> None:
    """9.91E37 (SCPI-99 volume 1, section 7.2.1, from memory)."""
    aligned.do(do="connect", role="counter", to="beat oscillator")

    assert aligned.counter.number("READ?") == 9.91e37


def test_the_offset_beats_tell_the_beat_oscillator_s_error_with_its_sign(worn: Bench) -> None:
    """Error = (b+ - b-)/2 and (b+ + b-)/2 = delta, with b+ = |f + delta - f_osc|: algebra."""
    delta_hz = 700.0
    error_hz = worn.truth()["oscillators"]["beat oscillator"] - 85e3

    above_hz = hear(worn, "third mixer", 85e3 + delta_hz)
    below_hz = hear(worn, "third mixer", 85e3 - delta_hz)

    assert (below_hz - above_hz) / 2 == pytest.approx(error_hz, abs=0.1)
    assert (above_hz + below_hz) / 2 == pytest.approx(delta_hz, abs=0.1)


def test_two_points_of_entry_differ_by_exactly_the_third_oscillator_s_error(worn: Bench) -> None:
    """Signal at the last IF direct, and at the second IF through the oscillator (check by subtraction)."""
    error_hz = worn.truth()["oscillators"]["third oscillator"] - 435e3

    direct_hz = hear(worn, "third mixer", 85e3 + 800.0)
    converted_hz = hear(worn, "third mixer", 520e3 + 800.0)

    assert direct_hz - converted_hz == pytest.approx(error_hz, abs=0.1)


def test_the_dial_s_error_is_what_the_source_finds(worn: Bench) -> None:
    """The source finds the receiver: zero beat at the antenna lies the dial's error away from the mark."""
    dial = worn.truth()["dial"]
    tuned_hz = 4.75e6 + dial["error_by_zero_beat_khz"] * 1e3

    note_hz = hear(worn, "antenna", tuned_hz + 500.0, -60.0)

    assert note_hz == pytest.approx(500.0, abs=0.5)


def test_sliding_the_pointer_shifts_every_error_alike(worn: Bench) -> None:
    """The gang does not move, the reading does, and with it all errors: almost, as the scale is not quite even."""
    before = worn.truth()["dial"]["errors_by_zero_beat_khz"]
    reading_khz = worn.truth()["controls"]["dial"]

    worn.do(do="turn", adjuster="dial pointer", turns=2.0)

    after = worn.truth()["dial"]["errors_by_zero_beat_khz"]
    assert worn.truth()["controls"]["dial"] == pytest.approx(reading_khz + 2.0)
    assert [after[mark] - before[mark] for mark in before] == pytest.approx([-2.0] * 6, abs=0.05)


def test_the_passband_knob_turned_on_its_shaft_changes_the_reading_and_not_the_passband(worn: Bench) -> None:
    """Only setting the knob to its mark again moves the passband, by 1500 Hz a mark."""
    before = worn.truth()

    worn.do(do="turn", adjuster="passband knob", turns=0.2)
    after = worn.truth()
    worn.do(do="set", control="passband", to=0.0)

    assert after["controls"]["passband"] == pytest.approx(0.2)
    assert after["scan"]["centre_hz"] == pytest.approx(before["scan"]["centre_hz"], abs=0.01)
    assert worn.truth()["scan"]["centre_hz"] - before["scan"]["centre_hz"] == pytest.approx(-300.0, rel=0.02)


def test_a_modulated_signal_is_heard_as_its_tone_without_the_beat_oscillator(aligned: Bench) -> None:
    """And an unmodulated one not at all."""
    aligned.do(do="connect", role="counter", to="audio")
    aligned.send_signal(85e3, -50.0)
    silent = aligned.counter.number("READ?")

    assert aligned.source.ask("AM:STAT ON;*OPC?") == "1"

    assert silent == 9.91e37
    assert aligned.counter.number("READ?") == pytest.approx(400.0)


def test_the_trimmer_rules_one_end_of_the_dial_and_the_slug_tilts_it(aligned: Bench) -> None:
    """A trimmer moves an oscillator most where the gang is least in mesh, at its highest frequency: the dial's zero."""
    aligned.do(do="turn", adjuster="tunable oscillator trimmer", turns=1.0)
    trimmed = aligned.truth()["dial"]["errors_by_zero_beat_khz"]
    aligned.do(do="turn", adjuster="tunable oscillator trimmer", turns=-1.0)
    aligned.do(do="turn", adjuster="tunable oscillator slug", turns=0.5)
    tilted = aligned.truth()["dial"]["errors_by_zero_beat_khz"]

    assert trimmed["0"] / trimmed["500"] == pytest.approx((3920 / 3420) ** 3, rel=0.03)
    assert tilted["0"] / tilted["500"] == pytest.approx(3920 / 3420, rel=0.03)


def test_the_crystal_s_test_point_peaks_with_its_slug_and_the_oscillator_stops_beyond(aligned: Bench) -> None:
    """More negative means stronger; a stopped oscillator cannot be counted and converts nothing (common practice)."""
    aligned.do(do="set", control="band", to="16")
    connect(aligned, "antenna", "crystal oscillator test point")
    aligned.do(do="connect", role="counter", to="crystal oscillator")
    at_best = aligned.meter.number("READ?")
    running_hz = aligned.counter.number("READ?")

    aligned.do(do="turn", adjuster="crystal slug 16", turns=1.0)
    beside = aligned.meter.number("READ?")
    aligned.do(do="turn", adjuster="crystal slug 16", turns=2.0)

    assert at_best < beside < -1.0
    assert running_hz == pytest.approx(19.4e6, abs=100.0)
    assert aligned.meter.number("READ?") == 0.0
    assert aligned.counter.number("READ?") == 9.91e37
    assert aligned.truth()["dial"]["tuned_by_passband_hz"] is None


def test_two_bands_share_a_crystal_slug_and_want_it_in_different_places(worn: Bench) -> None:
    """The compromise lies between the two bests."""
    truth = worn.truth()
    bests = truth["bests by band"]["crystal slug 4.5/6"]

    compromise = truth["adjusters"]["crystal slug 4.5/6"]["best_turns"]

    assert set(bests) == {"4.5", "6"}
    assert bests["4.5"] != bests["6"]
    assert min(bests.values()) <= compromise <= max(bests.values())


def test_agc_holds_the_level_attacks_quickly_and_releases_slowly(open_bench: Opener) -> None:
    """40 dB more signal; the line is charged in tens of milliseconds and discharged in seconds on slow."""
    bench = open_bench(options(misalignment=0.0))
    weak = settled(bench, -60.0)
    bench.do(do="set", control="agc", to="slow")
    strong = settled(bench, -20.0)
    bench.do(do="connect", role="meter", to="agc line")
    charged = bench.meter.number("READ?")

    bench.send_signal(85e3, -60.0)
    bench.do(do="wait", seconds=0.3)
    soon = bench.meter.number("READ?")
    bench.do(do="wait", seconds=10.0)

    assert strong < 5 * weak
    assert charged < -2.0
    assert soon < 0.7 * charged
    assert bench.meter.number("READ?") > 0.1 * charged


def settled(bench: Bench, power_dbm: float) -> float:
    """The detector's volts after a good wait."""
    bench.send_signal(85e3, power_dbm)
    bench.do(do="wait", seconds=5.0)
    return bench.meter.number("READ?")


def test_the_detector_lags(open_bench: Opener) -> None:
    """Its time constant is 12 ms: after one of them 63 % of the step is there."""
    bench = open_bench(options(misalignment=0.0))
    bench.send_signal(85e3, -50.0)
    bench.do(do="wait", seconds=0.012)
    early = bench.meter.number("READ?")
    bench.do(do="wait", seconds=1.0)

    assert early / bench.meter.number("READ?") == pytest.approx(1 - math.exp(-1), abs=0.01)


def test_too_much_signal_flattens_the_top(aligned: Bench) -> None:
    """Thirty decibels more at the mixer is no longer 31.6 times at the detector."""
    assert level(aligned, 85e3, -20.0) < 0.6 * 10 ** (30 / 20) * level(aligned, 85e3, -50.0)


def test_oscillators_drift_while_valves_warm(open_bench: Opener) -> None:
    """Fast at first, then less and less; half an hour later it has stopped mattering."""
    bench = open_bench(options(cold=True))

    seen = []
    for _ in range(3):
        seen.append(bench.truth()["oscillators"]["tunable oscillator"])
        bench.do(do="wait", seconds=300.0)
    bench.do(do="wait", seconds=3600.0)
    late = [bench.truth()["oscillators"]["tunable oscillator"]]
    bench.do(do="wait", seconds=60.0)
    late.append(bench.truth()["oscillators"]["tunable oscillator"])

    assert abs(seen[1] - seen[0]) > abs(seen[2] - seen[1]) > 50.0
    assert abs(late[1] - late[0]) < 5.0


def test_some_receivers_have_faults_and_a_seized_slug_does_not_move() -> None:
    """Over many seeds each kind of fault turns up, and not in every receiver."""
    receivers = [made(seed) for seed in range(60)]

    kinds = {fault.partition(",")[0] for receiver in receivers for fault in receiver.faults or ("none",)}

    assert kinds == {"none", "weak crystal", "drifted capacitor", "over-coupled can", "seized"}
    seized = next(receiver for receiver in receivers if any(one.seized for one in receiver.adjusters.values()))
    slug = next(name for name, one in seized.adjusters.items() if one.seized)
    assert seized.turn(slug, 1.0) == 0.0


def test_a_receiver_without_misalignment_has_neither_faults_nor_errors() -> None:
    """Whatever its seed."""
    for seed in range(20):
        receiver = Skerry(Draw(seed, misalignment=0.0), Conditions())
        assert receiver.faults == ()
        assert all(one.position_turns == 0.0 for one in receiver.adjusters.values())
