"""Leave, touch up, adjust, suspect a part, or measure again."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import (
    Gain,
    Judged,
    Signs,
    Standing,
    Verdict,
    judge_at_least,
    judge_at_most,
    judge_error,
    suspect_without_figure,
)
from sequences.numerics.wording import in_unit, say_db, say_hz, say_volts


def centre(error_hz: float, sigma_hz: float = 10.0, gain: Gain | None = None, signs: Signs | None = None) -> Judged:
    """Judge a passband's centre against 100 Hz."""
    return judge_error("The centre", Estimate(error_hz, sigma_hz), 100.0, say_hz, gain=gain, signs=signs)


@pytest.mark.parametrize(
    ("error_hz", "verdict", "standing"),
    [
        (0.0, Verdict.LEAVE, Standing.WITHIN),
        (-79.0, Verdict.LEAVE, Standing.WITHIN),
        (95.0, Verdict.MEASURE_AGAIN, Standing.AT_LIMIT),
        (-110.0, Verdict.MEASURE_AGAIN, Standing.AT_LIMIT),
        (150.0, Verdict.TOUCH_UP, Standing.BEYOND),
        (-350.0, Verdict.ADJUST, Standing.BEYOND),
    ],
)
def test_an_error_is_judged_with_its_uncertainty(error_hz: float, verdict: Verdict, standing: Standing) -> None:
    judged = centre(error_hz)
    assert judged.verdict is verdict
    assert judged.standing is standing


def test_the_sentence_holds_the_figure_the_limit_and_what_to_do() -> None:
    assert centre(350.0).text == "The centre is 350 ± 20 Hz high, outside the limit of 100 Hz. Adjust it."
    assert "too close to call" in centre(-95.0).text
    assert "low" in centre(-95.0).text


def test_a_small_possible_gain_is_a_reason_to_leave_it() -> None:
    judged = centre(150.0, gain=Gain(Estimate(0.1, 0.02)))
    assert judged.verdict is Verdict.LEAVE
    assert judged.standing is Standing.BEYOND
    assert "only 0.10 dB to gain" in judged.text


def test_a_gain_too_uncertain_to_be_called_small_is_no_reason_to_leave_it() -> None:
    assert centre(150.0, gain=Gain(Estimate(0.3, 0.2))).verdict is Verdict.TOUCH_UP


def test_a_large_gain_is_worth_a_touch_even_within_the_limit() -> None:
    assert centre(20.0, gain=Gain(Estimate(3.0, 0.2))).verdict is Verdict.TOUCH_UP


@pytest.mark.parametrize(
    ("signs", "says"),
    [
        (Signs(out_of_travel=True), "end of its travel"),
        (Signs(siblings_right=True), "siblings"),
        # A trimmer that is broad or never peaks points at a fault (a 1950s communications-receiver manual, sec. VI).
        (Signs(never_peaks=True), "never peaks"),
    ],
)
def test_what_else_was_seen_points_at_a_part(signs: Signs, says: str) -> None:
    judged = centre(350.0, signs=signs)
    assert judged.verdict is Verdict.SUSPECT
    assert says in judged.text
    assert centre(20.0, signs=signs).verdict is Verdict.LEAVE


def test_activity_under_its_least_is_adjusted_unless_even_its_best_is_under_it() -> None:
    low = Estimate(2.0, 0.05)
    plain = judge_at_least("The activity on 21", low, 3.0, say_volts)
    assert plain.verdict is Verdict.ADJUST
    weak = judge_at_least("The activity on 21", low, 3.0, say_volts, reachable=Estimate(2.4, 0.1))
    assert weak.verdict is Verdict.SUSPECT
    assert "2.4 V" in weak.text
    good = judge_at_least("The activity on 21", Estimate(3.5, 0.05), 3.0, say_volts, reachable=Estimate(3.6, 0.1))
    assert good.verdict is Verdict.LEAVE
    close = judge_at_least("The activity on 21", Estimate(3.05, 0.05), 3.0, say_volts, reachable=Estimate(2.9, 0.02))
    assert close.standing is Standing.AT_LIMIT
    assert close.verdict is Verdict.MEASURE_AGAIN


@pytest.mark.parametrize(("microvolts", "verdict"), [(3.0, Verdict.LEAVE), (6.5, Verdict.LEAVE), (9.0, Verdict.ADJUST)])
def test_a_published_limit_says_when_not_to_realign(microvolts: float, verdict: Verdict) -> None:
    # USAAF AN 08-10-112, sec. V par. 34: normal under 3 uV; do not realign unless worse than 7 uV with good tubes.
    judged = judge_at_most("The signal for 10 mW", Estimate(microvolts * 1e-6, 0.1e-6), 7e-6, say_volts)
    assert judged.verdict is verdict


@given(error=st.floats(-1e4, 1e4), sigma=st.floats(0.0, 1e3), limit=st.floats(1.0, 1e3), scale=st.floats(1e-3, 1e3))
def test_neither_unit_nor_sign_changes_a_verdict(error: float, sigma: float, limit: float, scale: float) -> None:
    plain = judge_error("It", Estimate(error, sigma), limit, say_hz)
    beyond = abs(error) - limit
    if min(abs(beyond - 2.0 * sigma), abs(beyond + 2.0 * sigma), abs(beyond - limit)) < 1e-6 * (abs(error) + limit):
        return
    other = judge_error("It", Estimate(-scale * error, scale * sigma), scale * limit, say_hz)
    assert other.verdict is plain.verdict
    assert other.standing is plain.standing


@given(error=st.floats(0.0, 1e3), more=st.floats(0.0, 1e3))
def test_a_larger_error_is_never_judged_more_mildly(error: float, more: float) -> None:
    order = [Verdict.LEAVE, Verdict.MEASURE_AGAIN, Verdict.TOUCH_UP, Verdict.ADJUST]
    assert order.index(centre(error + more).verdict) >= order.index(centre(error).verdict)


def test_a_gain_may_be_in_another_unit() -> None:
    judged = centre(150.0, gain=Gain(Estimate(0.01, 0.001), worth=0.1, say=say_volts))
    assert "10 mV" in judged.text
    assert "1.00 ± 0.20 dB" in judge_at_most("The ripple", Estimate(1.0, 0.1), 3.0, say_db).text


def test_what_nothing_may_turn_is_a_part_where_it_is_surely_off_and_left_where_it_is_not() -> None:
    signs = Signs(nothing_to_turn=True)

    off = judge_at_most("The width error", Estimate(30.0, 1.0), 20.0, in_unit("%"), signs=signs)
    unsure = judge_at_most("The width error", Estimate(20.5, 1.0), 20.0, in_unit("%"), signs=signs)

    assert off.verdict is Verdict.SUSPECT
    assert "nothing that may be turned" in off.text
    assert unsure.verdict is Verdict.LEAVE
    assert "too close to call" in unsure.text


def test_an_adjuster_that_cannot_be_turned_points_at_a_part_without_a_figure() -> None:
    judged = suspect_without_figure("What the slug can still gain", 0.5, Signs(seized=True))

    assert judged.verdict is Verdict.SUSPECT
    assert judged.figure is None
    assert judged.text == (
        "What the slug can still gain could not be measured, since the adjuster cannot be turned. Suspect a part."
    )
    with pytest.raises(ValueError, match="on a sign"):
        suspect_without_figure("What the slug can still gain", 0.5, Signs())


@pytest.mark.parametrize(
    "error",
    [
        Estimate(0.0, 60.0),
        Estimate(math.nan, 1.0),
        Estimate(0.0, math.nan),
        Estimate(0.0, math.inf),
        Estimate(99.0, 8.0),
    ],
)
def test_what_cannot_be_decided_is_never_an_order_to_turn(error: Estimate) -> None:
    for judged in (
        judge_error("It", error, 100.0, say_hz),
        judge_at_most("It", error, 100.0, say_hz),
        judge_at_least("It", error, 100.0, say_hz),
    ):
        if judged.standing is Standing.AT_LIMIT:
            assert judged.verdict is Verdict.MEASURE_AGAIN
            assert "Measure it again" in judged.text
    assert judge_error("It", error, 100.0, say_hz).standing is Standing.AT_LIMIT
    assert judge_error("It", error, 100.0, say_hz).verdict is Verdict.MEASURE_AGAIN


def test_what_is_too_close_to_call_says_how_many_readings_would_decide() -> None:
    # 10 Hz from the limit at 10 Hz: two sigmas of the mean fall below that from four times the readings on.
    judged = centre(90.0)
    assert judged.repeats == 4
    assert judged.text == (
        "The centre is 90 ± 20 Hz high, too close to call against the limit of 100 Hz. "
        "Measure it again: about 4 times as many readings would decide."
    )
    assert centre(100.0).repeats is None
    assert "may not decide" in centre(100.0).text
    assert centre(50.0).repeats is None


def test_a_verdict_comes_with_the_chance_that_the_limit_is_kept() -> None:
    assert centre(90.0).conformance == pytest.approx(0.8413, abs=1e-4)  # one sigma inside: tables of the normal
    assert centre(150.0).conformance == pytest.approx(2.9e-7, rel=0.02)  # five sigmas outside
    assert centre(math.nan).conformance is None
    assert not centre(math.nan).is_told
    assert centre(90.0).is_told
    assert centre(90.0).beyond == Estimate(-10.0, 10.0)
    assert judge_at_least("It", Estimate(4.0, 0.5), 3.0, say_volts).beyond == Estimate(-1.0, 0.5)
    assert judge_at_most("It", Estimate(4.0, 0.5), 3.0, say_volts).beyond == Estimate(1.0, 0.5)
