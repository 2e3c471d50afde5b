"""The three instruments before a scripted lead end, without a wire; time is stepped.

Not a number and overload: SCPI-99 volume 1, section 7.2.1 (from memory): 9.91E37 and 9.9E37. Counter resolution:
Instrumentation Reference Book, 3rd edition, figure 20.75: a reciprocal counter resolves t_res/T of what it counts.
"""

import math
from dataclasses import dataclass, field

import numpy as np
import pytest

from simulators.clock import SteppedClock
from simulators.instruments.counter import FrequencyCounter
from simulators.instruments.delays import Delays
from simulators.instruments.meter import MeterNoise, Multimeter
from simulators.instruments.source import SignalSource
from simulators.physics.noise import NoiseStream
from simulators.radios.leads import Signal
from simulators.radios.radio import Sight
from simulators.scpi.device import Device


@dataclass
class LeadEnd:
    """What the leads meet: a voltage that rises, a frequency, and the signals sent."""

    clock: SteppedClock
    volts: float = 0.0
    volts_per_second: float = 0.0
    noise_volts: float = 0.0
    frequency_hz: float | None = None
    sent: list[Signal | None] = field(default_factory=lambda: [None])

    def feed(self, signal: Signal | None) -> None:
        """Note what came."""
        self.sent.append(signal)

    def sight(self, averaged_s: float) -> Sight:
        """Show the voltage of this moment."""
        del averaged_s
        return Sight(self.volts + self.volts_per_second * self.clock.now_s(), self.noise_volts)

    def count(self) -> float | None:
        """Give the frequency."""
        return self.frequency_hz


@pytest.fixture
def end() -> LeadEnd:
    """The far end of the leads."""
    return LeadEnd(SteppedClock())


@pytest.fixture
def meter(end: LeadEnd) -> Multimeter:
    """A meter without noise of its own."""
    return Multimeter("A,Meter,1,1", end.clock, Delays(), end, MeterNoise(NoiseStream(1, 1), 0.0))


@pytest.fixture
def counter(end: LeadEnd) -> FrequencyCounter:
    """A counter."""
    return FrequencyCounter("A,Counter,1,1", end.clock, Delays(), end, NoiseStream(1, 2))


@pytest.fixture
def source(end: LeadEnd) -> SignalSource:
    """A source."""
    return SignalSource("A,Source,1,1", end.clock, Delays(), end)


def number(device: Device, message: str) -> float:
    """Ask for a number."""
    answer = device.execute(message)
    assert answer is not None, device.execute("SYST:ERR?")
    return float(answer)


@pytest.mark.parametrize(
    "message",
    ["READ?", "MEAS?", "MEAS:VOLT?", "MEAS:VOLT:DC?", "MEASURE:SCALAR:VOLTAGE:DC? 10,1E-6", "INIT;FETC?", "CONF;READ?"],
)
def test_every_way_of_asking_reads_the_volts(meter: Multimeter, end: LeadEnd, message: str) -> None:
    """By the standard's measurement instructions."""
    end.volts = 1.25

    assert number(meter, message) == 1.25


def test_a_reading_takes_its_power_line_cycles_and_sees_their_mean(meter: Multimeter, end: LeadEnd) -> None:
    """Ten cycles of 20 ms and 2 ms of overhead; of a steady rise the mean is its middle."""
    end.volts_per_second = 1.0
    meter.execute("VOLT:DC:NPLC 10")

    reading = number(meter, "READ?")

    assert end.clock.now_s() == pytest.approx(0.202)
    assert reading == pytest.approx(0.101)


def test_a_set_reading_time_replaces_the_reckoned_one(end: LeadEnd) -> None:
    """For benchmarks: 100 ms whatever the settings."""
    meter = Multimeter("A,Meter,1,1", end.clock, Delays(meter=0.1), end, MeterNoise(NoiseStream(1, 1)))

    meter.execute("VOLT:NPLC 10;:READ?")

    assert end.clock.now_s() == pytest.approx(0.1)


def test_beyond_a_fixed_range_it_reads_overload_with_the_sign(meter: Multimeter, end: LeadEnd) -> None:
    """A fifth over the range still reads; left to itself the meter finds a range."""
    meter.execute("CONF:VOLT:DC 1")
    readings = []
    for end.volts in (1.19, 1.21, -1.21):
        readings.append(number(meter, "READ?"))
    meter.execute("VOLT:RANG:AUTO ON")

    assert readings == [1.19, 9.9e37, -9.9e37]
    assert number(meter, "READ?") == -1.21


def test_a_range_is_one_of_those_there_are(meter: Multimeter) -> None:
    """The next that holds what is asked for."""
    meter.execute("VOLT:DC:RANG 3")

    assert number(meter, "SENS:VOLT:DC:RANG:UPP?") == 10.0
    assert meter.execute("VOLT:DC:RANG:AUTO?") == "0"
    assert meter.execute("CONF?") == '"VOLT +1.000000000000E+01,+1.000000000000E-06"'


def test_fetching_without_a_reading_is_stale(meter: Multimeter) -> None:
    """-230; a change of setting makes what was read stale too."""
    assert meter.execute("FETC?") is None
    meter.execute("INIT;:VOLT:NPLC 2;:FETC?")

    assert meter.execute("SYST:ERR?") == '-230,"Data corrupt or stale"'
    assert meter.execute("SYST:ERR?") == '-230,"Data corrupt or stale"'


def test_several_readings_come_by_commas(meter: Multimeter, end: LeadEnd) -> None:
    """And can be fetched again."""
    end.volts = 2.0
    meter.execute("SAMP:COUN 3;:INIT")

    assert meter.execute("FETC?") == ",".join(["+2.000000000000E+00"] * 3)
    assert meter.execute("FETC?") == meter.execute("READ?")


def test_functions_are_chosen_by_name(meter: Multimeter, end: LeadEnd) -> None:
    """Alternating volts of a rectified line are its wander."""
    end.volts, end.noise_volts = 1.0, 0.003
    meter.execute("FUNC 'VOLT:AC'")
    assert meter.execute("FUNC?") == '"VOLT:AC"'
    assert number(meter, "READ?") == pytest.approx(0.003)

    meter.execute('SENS:FUNC "VOLTAGE:DC"')

    assert meter.execute("FUNC?") == '"VOLT"'


def test_noise_is_as_large_as_the_lead_end_says_and_repeats_by_seed(end: LeadEnd) -> None:
    """Two meters of the same seed read alike."""
    end.volts, end.noise_volts = 1.0, 0.01

    def readings() -> list[float]:
        noise = MeterNoise(NoiseStream(3, 1), 0.0)
        device = Multimeter("A,Meter,1,1", end.clock, Delays(), end, noise)
        return [number(device, "READ?") for _ in range(2000)]

    first = readings()
    assert np.std(first) == pytest.approx(0.01, rel=0.06)
    assert np.mean(first) == pytest.approx(1.0, abs=0.001)
    assert first == readings()


@pytest.mark.parametrize("gate_s", [0.01, 0.1, 1.0, 10.0])
def test_a_longer_gate_resolves_more(counter: FrequencyCounter, end: LeadEnd, gate_s: float) -> None:
    """10 ns against the gate: 0.455 Hz at 455 kHz in 10 ms, a tenth of that for each ten times the gate."""
    end.frequency_hz = 455e3
    counter.execute(f"SENS:FREQ:APER {gate_s}")

    counts = [number(counter, "READ?") for _ in range(300)]

    step_hz = 455e3 * 10e-9 / gate_s
    assert np.mean(counts) == pytest.approx(455e3, abs=0.1 * step_hz)
    assert 0.2 * step_hz < np.std(counts) < 1.0 * step_hz
    assert end.clock.now_s() == pytest.approx(300 * (gate_s + 0.002))


def test_a_counter_with_nothing_to_count_says_not_a_number(counter: FrequencyCounter, end: LeadEnd) -> None:
    """Also where not even one period fits in the gate."""
    assert number(counter, "MEAS:FREQ?") == 9.91e37

    end.frequency_hz = 2.0
    assert number(counter, "FREQ:APER 0.1;:READ?") == 9.91e37
    assert number(counter, "FREQ:APER 1;:READ?") == pytest.approx(2.0)


def test_a_resolution_asked_for_sets_the_gate(counter: FrequencyCounter, end: LeadEnd) -> None:
    """0.1 Hz at 1 MHz is 1e-7: 10 ns in 100 ms."""
    end.frequency_hz = 1e6

    counter.execute("CONF:FREQ 1 MHZ,0.1 HZ")

    assert number(counter, "FREQ:APER?") == pytest.approx(0.1)
    assert counter.execute("CONF?") == '"FREQ"'


def test_only_a_source_that_is_switched_on_sends(source: SignalSource, end: LeadEnd) -> None:
    """Frequency and power may be set before."""
    source.execute("FREQ 60 KHZ;POW -50 DBM")
    source.execute("OUTP ON")
    source.execute("OUTP OFF")

    assert set(end.sent[:-2]) == {None}
    assert end.sent[-2:] == [Signal(60e3, -50.0), None]


def test_modulation_reaches_the_receiver_only_when_switched_on(source: SignalSource, end: LeadEnd) -> None:
    """400 hertz, 30 per cent: the usual tone."""
    source.execute("OUTP ON;AM:DEPT 30;STAT ON;:AM:INT:FREQ 1 KHZ")
    source.execute("AM:STAT OFF")

    depths = [(one.am_depth, one.am_hz) for one in end.sent[-3:] if one is not None]
    assert depths == [(0.3, 400.0), (0.3, 1000.0), (0.0, 1000.0)]


@pytest.mark.parametrize(
    ("power_dbm", "microvolts"),
    [
        (0.0, 223607.0),
        (-13.0, 50059.0),
        (-73.0, 50.06),
        (-79.0, 25.09),
        (-85.0, 12.57),
        (-106.99, 1.0),
        (-121.0, 0.199),
    ],
)
def test_power_is_that_in_50_ohms_and_the_open_voltage_is_twice_it(power_dbm: float, microvolts: float) -> None:
    """The S-meter table of IARU Region 1 recommendation R.1 (1981, reconfirmed 1990): S9 is -73 dBm, 50.06 uV."""
    assert Signal(1e6, power_dbm).emf_volts() * 1e6 == pytest.approx(2 * microvolts, rel=3e-3)
    assert math.isclose(Signal(1e6, -20.0).emf_volts() / Signal(1e6, -40.0).emf_volts(), 10.0)
