"""Receivers that only their files describe, on benches made from the files: a sample of `receiver_files`."""

import pytest

from server.practice.process import practice_bench
from tests.bench.described import FILES, dial_error_khz, walk_file

pytestmark = pytest.mark.timeout(400)

GOOD = "within its limits"


def test_what_its_owner_wrote_is_enough_to_practise_on() -> None:
    """Crystal filter, one conversion, a battery: within every limit at the end, by the simulator's own truth."""
    walked = walk_file("harbour-3", seed=1)

    assert set(walked.endings.values()) == {GOOD}
    assert abs(walked.before["adjusters"]["can bottom"]["off_turns"]) > 1.0
    assert max(abs(walked.after["adjusters"][name]["off_turns"]) for name in ("can top", "can bottom")) < 0.35
    assert abs(walked.after["oscillators"]["beat oscillator"] - 1648.6e3) < 30.0
    assert dial_error_khz(walked) < 2.0


def test_an_oscillator_that_is_added_and_runs_backwards_is_aligned_too() -> None:
    """Three single circuits before and behind a crystal filter; two circuits at the aerial."""
    walked = walk_file("wren-1", seed=1)

    assert set(walked.endings.values()) == {GOOD}
    for name in ("mixer", "amplifier", "detector"):
        assert abs(walked.after["adjusters"][f"{name} slug"]["off_turns"]) < 0.35
    assert dial_error_khz(walked) < 2.0


def test_the_practice_process_has_it_beside_its_own() -> None:
    with practice_bench(["--receiver-file", str(FILES / "harbour-3.toml"), "--instant"]) as bench:
        (told,) = bench.hands.do({"do": "describe"})
        bench.hands.do({"do": "receiver", "id": "harbour-3"})
        (now,) = bench.hands.do({"do": "describe"})

    assert [one["id"] for one in told["receivers"]] == ["skerry-7", "millrace-5", "harbour-3"]
    assert now["receiver"]["name"] == "Harbour 3"
