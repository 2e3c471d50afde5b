"""What hands can do on the bench, through their port."""

from collections.abc import Callable

import pytest

from simulators.bench import BenchOptions
from simulators.instruments.delays import Delays
from simulators.workbench import BenchSettings
from tests.simulators.benches import Bench

Opener = Callable[[BenchOptions], Bench]


@pytest.fixture
def bench(open_bench: Opener) -> Bench:
    """A bench that answers at once, in time that only passes when stepped."""
    return open_bench(BenchOptions(BenchSettings(seed=11, receiver_id="skerry-7"), Delays(), stepped_time=True))


def test_the_description_names_every_point_control_and_adjuster(bench: Bench) -> None:
    """The words are those of the receiver files."""
    described = bench.do(do="describe")

    receiver = described["receiver"]
    assert [entry["id"] for entry in described["receivers"]] == ["skerry-7", "millrace-5"]
    assert receiver["points"]["source"] == ["antenna", "first mixer", "second mixer", "third mixer"]
    assert receiver["points"]["meter"][-1] == "crystal oscillator test point"
    assert receiver["points"]["counter"][-1] == "audio"
    assert {"name": "agc", "choices": ["off", "fast", "slow"], "value": "off"} in receiver["controls"]
    adjusters = [entry["name"] for entry in receiver["adjusters"]]
    assert len(adjusters) == 22
    assert {"T1 primary", "L4", "crystal slug 8.5/12", "passband knob"} < set(adjusters)
    assert not any("seized" in entry for entry in receiver["adjusters"])


def test_the_millrace_has_the_points_and_adjusters_of_its_file(bench: Bench) -> None:
    """A five-valve set has few."""
    receiver = bench.do(do="receiver", id="millrace-5")["receiver"]

    assert receiver["points"] == {
        "source": ["antenna", "converter grid", "IF grid"],
        "meter": ["detector", "agc line", "mixer probe"],
        "counter": ["oscillator"],
    }
    assert {entry["name"] for entry in receiver["adjusters"]} == {
        "can 1 primary",
        "can 1 secondary",
        "can 2 primary",
        "can 2 secondary",
        "oscillator trimmer",
        "oscillator padder",
        "antenna trimmer",
        "dial pointer",
    }


def test_turning_goes_as_far_as_the_travel(bench: Bench) -> None:
    """And tells how far it went."""
    entry = next(one for one in bench.do(do="describe")["receiver"]["adjusters"] if one["name"] == "T1 primary")
    room_turns = entry["travel_turns"] / 2 - entry["position_turns"]

    eighth = bench.do(do="turn", adjuster="T1 primary", turns=0.125)
    far = bench.do(do="turn", adjuster="T1 primary", turns=100)

    assert eighth["moved_turns"] == pytest.approx(0.125)
    assert far["moved_turns"] == pytest.approx(room_turns - 0.125)
    assert far["position_turns"] == 6.0


def test_a_receiver_put_aside_stays_as_it_was_left(bench: Bench) -> None:
    """Naming the one that is already there changes nothing, its leads included."""
    turned = bench.do(do="turn", adjuster="T2 primary", turns=0.5)["position_turns"]
    bench.do(do="connect", role="meter", to="agc line")
    bench.do(do="receiver", id="skerry-7")
    assert bench.do(do="describe")["leads"]["meter"]["to"] == "agc line"

    bench.do(do="receiver", id="millrace-5")
    bench.do(do="receiver", id="skerry-7")

    assert bench.truth()["adjusters"]["T2 primary"]["position_turns"] == turned


def test_a_new_seed_is_another_receiver_and_the_old_seed_the_old_one(bench: Bench) -> None:
    """A receiver is its seed."""
    first = bench.truth()

    bench.do(do="reseed", seed=12)
    second = bench.truth()
    bench.do(do="reseed", seed=11)

    assert second["adjusters"] != first["adjusters"]
    assert second["oscillators"] != first["oscillators"]
    assert bench.truth() == first


def test_a_receiver_that_has_cooled_down_drifts_again(bench: Bench) -> None:
    """Warm when it comes to the bench; cold after a night switched off."""
    warm_hz = bench.truth()["oscillators"]["tunable oscillator"]

    bench.do(do="cool")
    cold_hz = bench.truth()["oscillators"]["tunable oscillator"]
    bench.do(do="wait", seconds=7200)

    assert abs(cold_hz - warm_hz) > 300.0
    assert bench.truth()["oscillators"]["tunable oscillator"] == pytest.approx(warm_hz, abs=0.01)


def test_taking_a_lead_off_leaves_its_instrument_with_nothing(bench: Bench) -> None:
    """No volts for the meter, not-a-number for the counter."""
    bench.send_signal(85e3, -50.0)
    bench.do(do="wait", seconds=1.0)
    assert bench.meter.number("READ?") > 1.0
    assert bench.counter.number("READ?") == pytest.approx(435e3, rel=0.01)

    bench.do(do="connect", role="counter", to=None)
    bench.do(do="connect", role="source", to=None)
    bench.do(do="wait", seconds=1.0)

    assert bench.meter.number("READ?") < 0.1
    assert bench.counter.number("READ?") == 9.91e37


@pytest.mark.parametrize(
    ("request_fields", "told"),
    [
        ({"do": "receiver", "id": "skerry-8"}, "There is no receiver 'skerry-8' here"),
        ({"do": "connect", "role": "source", "to": "fourth mixer"}, "The source cannot be connected to 'fourth mixer'"),
        ({"do": "connect", "role": "lamp", "to": "antenna"}, "There is no lead 'lamp'"),
        ({"do": "set", "control": "agc", "to": "medium"}, "The control 'agc' has no place 'medium'"),
        ({"do": "set", "control": "dial", "to": 501}, "goes from 0 to 500"),
        ({"do": "set", "control": "dial", "to": True}, "goes from 0 to 500"),
        ({"do": "set", "control": "colour", "to": 1}, "This receiver has no control 'colour'"),
        ({"do": "set", "control": "dial"}, "needs 'to'"),
        ({"do": "turn", "adjuster": "T9", "turns": 1}, "This receiver has no adjuster 'T9'"),
        ({"do": "turn", "adjuster": "L1", "turns": "far"}, "needs 'turns', a number"),
        ({"do": "reseed", "seed": -1}, "'seed' must be a whole number"),
        ({"do": "dance"}, "The hands cannot do 'dance'"),
    ],
)
def test_what_hands_cannot_do_is_told_in_one_sentence(
    bench: Bench, request_fields: dict[str, object], told: str
) -> None:
    """It says what is wrong and what there is instead."""
    reply = bench.hands(**request_fields)

    assert reply["ok"] is False
    assert told in reply["error"]
    assert reply["error"].endswith(".")
