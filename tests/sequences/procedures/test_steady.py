"""Reading until a meter is at rest: a slow course is never taken for one at rest, whatever the meter's pace."""

import math

import numpy as np
import pytest

from sequences.engine.events import ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import LookAtClock, ReadMeter, Settle
from sequences.errors import SequenceError
from sequences.procedures.steady import Course, until_steady


def watch(pace_s: float, time_constant_s: float, noise: float = 0.0, start: float = 0.05) -> Course:
    """Read an output that recovers from `start` to 1 V, at a pace, with noise of a share of it."""
    rng, now_s = np.random.default_rng(7), 0.0
    steps = until_steady("test")
    request = next(steps)
    try:
        while True:
            reply: object = None
            if isinstance(request, ReadMeter):
                now_s += pace_s
                volts = 1.0 - (1.0 - start) * math.exp(-now_s / time_constant_s)
                volts *= 1.0 + noise * float(rng.normal())
                reply = ReadingTaken(0, now_s, "meter", "test", volts, "V", Mark.GOOD, 1e6, -20.0)
            elif isinstance(request, LookAtClock):
                reply = now_s
            else:
                assert isinstance(request, Settle)
                now_s += request.duration_s
            request = steps.send(reply)
    except StopIteration as end:
        course: Course = end.value
        return course


@pytest.mark.parametrize("pace_s", [0.0, 0.02, 0.2, 5.0])
@pytest.mark.parametrize("time_constant_s", [0.01, 0.3, 1.5, 6.0])
def test_what_is_at_rest_is_within_a_few_per_cent_of_the_end(pace_s: float, time_constant_s: float) -> None:
    """An exponential approach, seen at any pace, one that takes no time at all among them."""
    course = watch(pace_s, time_constant_s)

    assert float(course.rest_v.mean()) == pytest.approx(1.0, abs=0.02)
    assert np.all(np.diff(course.time_s) > 0.0)


def test_noise_of_a_tenth_does_not_hide_a_slow_recovery() -> None:
    course = watch(0.02, 1.5, noise=0.1)

    assert float(course.rest_v.mean()) == pytest.approx(1.0, abs=0.1)


def test_what_never_comes_to_rest_is_said() -> None:
    with pytest.raises(SequenceError, match="does not come to rest within 9"):
        watch(0.2, 500.0)
