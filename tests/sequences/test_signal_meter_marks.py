"""What a receiver file may say of a signal meter's marks."""

import pytest

from sequences.receiver.contradictions import contradictions
from sequences.receiver.model import Receiver
from tests.sequences.receiver_files import shipped


def with_marks(marks_v: dict[str, float]) -> Receiver:
    """Give the Millrace 5 another signal meter."""
    receiver = shipped("millrace-5")
    point = receiver.meter_points["agc line"].model_copy(update={"s_marks_v": marks_v})
    return receiver.model_copy(update={"meter_points": {**receiver.meter_points, "agc line": point}})


@pytest.mark.parametrize(
    ("marks_v", "said"),
    [
        ({"S5": -0.1, "S9": -0.5, "S12": -0.9}, "has a mark 'S12'"),
        ({"S5": -0.1, "S7": -0.6, "S9": -0.5, "S9+20": -2.0}, "stands at -0.6 V on S7 and at -0.5 V on S9"),
        ({"S5": -0.1, "S7": -0.3}, "no meter point says at which voltage the signal meter stands on S9"),
    ],
)
def test_marks_that_cannot_be_are_named(marks_v: dict[str, float], said: str) -> None:
    (sentence,) = contradictions(with_marks(marks_v))

    assert said in sentence
    assert "s_marks_v" in sentence


def test_marks_that_can_be_are_taken() -> None:
    assert contradictions(with_marks({"S3": 0.1, "S9": 0.5, "S9+40": 2.0})) == ()
