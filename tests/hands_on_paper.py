"""A human hand, a coach, a circuit and a meter on paper, in a time of their own: thousands of trials in a minute.

The circuit is a single one (its universal resonance curve) or an oscillator whose frequency goes with the turns; the
meter averages over its interval behind a first-order lag. Nothing of it is taken from the coach.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from sequences.numerics.adjusters.coach import Advice, LiveReading, Trend, Word
from sequences.numerics.adjusters.coach_error import ErrorCourse, ErrorGoal, coach_error
from sequences.numerics.adjusters.coach_peak import PeakCourse, PeakGoal, coach_peak
from sequences.numerics.wording import say_db, say_hz
from tests.human_hands import BACK, HandKind, HumanHand

PATIENCE_S = 300.0
"""After so long a person gives up."""

FINE_STEP_S = 0.02
TOLD_DB, TOLD_ZONES = 0.2, 3.0
"""Below the best, and off the target in good zones: from there on the level, or the error, has told where it is."""


@dataclass(frozen=True, slots=True)
class Meter:
    """How what is there is read: so often a second, behind a lag, with noise (one sigma, in the reading's unit)."""

    rate_hz: float
    lag_s: float = 0.3
    noise: float = 0.02


@dataclass
class Trial:
    """What one trial came to. `astray`: moves for which the display had pointed away from the target twice running."""

    done: bool
    left: float
    seconds: float
    moves: int
    astray: int
    words: list[Word] = field(default_factory=list)


class Coach(Protocol):
    """Gives advice on a reading."""

    def __call__(self, reading: LiveReading) -> Advice:
        """Fold the reading in."""


def by_peak(within: float = 0.05, good_enough: float = 0.25) -> Coach:
    """Give the coach to a maximum."""
    goal = PeakGoal("trimmer", within, say_db, good_enough)
    course: list[PeakCourse | None] = [None]

    def coach(reading: LiveReading) -> Advice:
        known = course[0] = coach_peak(goal, course[0], reading)
        return known.advice

    return coach


def by_error(within: float = 7.0, clockwise: int = 0) -> Coach:
    """Give the coach to a target."""
    goal = ErrorGoal("slug", 0.0, within, say_hz, clockwise)
    course: list[ErrorCourse | None] = [None]

    def coach(reading: LiveReading) -> Advice:
        known = course[0] = coach_error(goal, course[0], reading)
        return known.advice

    return coach


def peak_trial(
    kind: HandKind, meter: Meter, seed: int, *, half_width_turns: float = 0.35, coach: Coach | None = None
) -> Trial:
    """Turn a circuit from half to one and a half turns off its peak to it; `left` is what is lost then, in dB."""
    random = np.random.default_rng(seed + 1_000_000)
    start = float(random.uniform(0.5, 1.5) * random.choice((-1, 1)))

    def level_db(at_turns: float) -> float:
        return -10.0 * math.log10(1.0 + (at_turns / half_width_turns) ** 2)

    def told(advice: Advice, at_turns: float) -> bool:
        return advice.best is not None and advice.best - level_db(at_turns) > TOLD_DB

    return _work(HumanHand(kind, seed), meter, random, start, level_db, coach or by_peak(), told)


def error_trial(
    kind: HandKind, meter: Meter, seed: int, *, per_turn_hz: float = 600.0, coach: Coach | None = None
) -> Trial:
    """Turn an oscillator from 100 to 900 Hz off to its frequency; `left` is the error then, in Hz."""
    random = np.random.default_rng(seed + 1_000_000)
    start = float(random.uniform(100.0, 900.0) * random.choice((-1, 1))) / per_turn_hz

    def told(advice: Advice, at_turns: float) -> bool:
        return abs(at_turns * per_turn_hz) > TOLD_ZONES * 7.0 and advice.word is not Word.WAIT

    hand = HumanHand(kind, seed)
    return _work(hand, meter, random, start, lambda at: at * per_turn_hz, coach or by_error(), told)


def _work(
    hand: HumanHand,
    meter: Meter,
    random: np.random.Generator,
    start: float,
    value_at: Callable[[float], float],
    coach: Coach,
    told: Callable[[Advice, float], bool],
) -> Trial:
    at, now_s, seen = start, 0.0, value_at(start)
    trial = Trial(done=False, left=math.nan, seconds=0.0, moves=0, astray=0)
    running = 0
    every_s = 1.0 / meter.rate_hz
    while now_s < PATIENCE_S:
        seen, reading = _read(meter, seen, value_at(at), random)
        now_s += every_s
        advice = coach(LiveReading(reading, meter.noise, at_s=now_s))
        if not trial.words or trial.words[-1] is not advice.word:
            trial.words.append(advice.word)
        hand.see(now_s, advice, advice.turn)
        points = _points(hand, advice)
        deed = hand.act(now_s)
        if deed == "done":
            trial.done = True
            break
        if isinstance(deed, float):
            trial.moves += 1
            # A turn clockwise adds to the position, so the way to the target is against its sign.
            away = points * at > 0.0 and advice.trend is not Trend.UNKNOWN and told(advice, at)
            running = running + 1 if away else 0
            trial.astray += int(running > 1)
            at += deed
    trial.left, trial.seconds = abs(value_at(at)), now_s
    return trial


def _read(meter: Meter, seen: float, true: float, random: np.random.Generator) -> tuple[float, float]:
    """Give what the lag has come to, and the reading: its mean over the interval, with noise."""
    steps = max(1, round(1.0 / meter.rate_hz / FINE_STEP_S))
    share = 1.0 - math.exp(-1.0 / meter.rate_hz / steps / meter.lag_s) if meter.lag_s else 1.0
    total = 0.0
    for _ in range(steps):
        seen += (true - seen) * share
        total += seen
    return seen, total / steps + float(random.normal(0.0, meter.noise))


def _points(hand: HumanHand, advice: Advice) -> int:
    """Give the way that the display points, as a person takes it: on, or back from where the last move went."""
    if advice.turn:
        return advice.turn
    if advice.word is Word.TURN:
        return hand.way
    return (hand.way if hand.obeying else -hand.way) if advice.word in BACK else 0


METER_STEP_DB = 0.5
"""To so much a person reads a meter's needle."""


def peaked_by_hand(kind: HandKind, seed: int, *, half_width_turns: float = 0.35) -> float:
    """Give what is lost, in dB, where the same hand peaks by a needle read to half a decibel and no coach."""
    return peak_trial(kind, Meter(5.0, noise=0.0), seed, half_width_turns=half_width_turns, coach=_ByNeedle(seed)).left


@dataclass
class _ByNeedle:
    """What a person makes of a needle: on until it falls by a mark, back until it reads the best again, and done."""

    seed: int
    best: float = -math.inf
    first: float | None = None
    word: Word = Word.TURN
    at_best: int = 0

    def __call__(self, reading: LiveReading) -> Advice:
        offset = self.seed % 97 / 97.0 * METER_STEP_DB  # where the marks happen to lie
        value = METER_STEP_DB * round(((reading.value or 0.0) - offset) / METER_STEP_DB)
        self.first = value if self.first is None else self.first
        passed = self.best > self.first
        if value > self.best:
            self.best = value
            self.word = Word.TURN
        elif value < self.best and self.word is Word.TURN:
            self.word = Word.PAST_IT if passed else Word.TURN_BACK
            self.best = self.best if passed else value
        elif value >= self.best and self.word is Word.PAST_IT:
            self.at_best += 1
            self.word = Word.DONE if self.at_best > 1 else Word.PAST_IT
        return _shown(self.word)


DEAD_ZONE_HZ = 30.0
"""Nearer to zero beat the ear hears nothing."""


def beaten_by_ear(kind: HandKind, seed: int, *, per_turn_hz: float = 600.0) -> float:
    """Give the error left, in Hz, where the same hand turns until the ear hears nothing."""
    before: list[float] = []
    word = [Word.TURN]

    def ear(reading: LiveReading) -> Advice:
        error = abs(reading.value or 0.0)
        if error < DEAD_ZONE_HZ:
            word[0] = Word.DONE
        elif before and error > before[-1] + 5.0:
            word[0] = Word.TURN_BACK
        elif before and error < before[-1] - 5.0:
            word[0] = Word.TURN
        before.append(error)
        return _shown(word[0])

    return error_trial(kind, Meter(5.0, 0.0, 0.0), seed, per_turn_hz=per_turn_hz, coach=ear).left


def _shown(word: Word) -> Advice:
    return Advice(
        None, None, None, None, 1.0, None, None, Trend.UNKNOWN, word, turn=0, turns_left=None, sentence=word.value
    )
