"""A hand on a slug, on paper: it turns by what the coach says, with slack, coarse fingers, noise and pops."""

from dataclasses import dataclass, field

import numpy as np

from sequences.numerics.adjusters.coach import Advice, LiveReading, Trend, Word
from sequences.numerics.adjusters.coach_error import ErrorCourse, ErrorGoal, coach_error
from sequences.numerics.adjusters.coach_peak import PeakCourse, PeakGoal, coach_peak

FINGERS_TURNS = 0.02
SLACK_TURNS = 0.03
PATIENT_MOVES = 6


@dataclass
class HandOnSlug:
    """`error` moves by `per_turn` a turn clockwise, times `true_clockwise`; the hand moves at every other reading."""

    error: float
    per_turn: float
    noise: float
    seed: int
    pops: float = 0.0
    way: int = 1
    words: list[Word] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin with all the slack on one side."""
        self._random = np.random.default_rng(self.seed)
        self._slack = SLACK_TURNS
        self._pulled = 0
        self._obeying = False
        self._moves = 0

    def work(self, goal: ErrorGoal, most: int, true_clockwise: int) -> list[Word]:
        """Turn until it is done, or `most` readings are over; give the words in order."""
        course: ErrorCourse | None = None
        for count in range(most):
            course = coach_error(goal, course, LiveReading(self._read(), self.noise))
            self.words.append(course.advice.word)
            if course.advice.word is Word.DONE:
                break
            if count % 2 and course.advice.word in {Word.TURN, Word.PAST_IT, Word.TURN_BACK}:
                self._turn(course.advice, goal.within, true_clockwise)
        return self.words

    def _read(self) -> float:
        pop = 2000.0 if self._random.random() < self.pops else 0.0
        return self.error + float(self._random.normal(0.0, self.noise)) + pop

    def _turn(self, advice: Advice, within: float, true_clockwise: int) -> None:
        self._moves += 1
        back = advice.word in {Word.PAST_IT, Word.TURN_BACK}
        if advice.turn:
            wanted = advice.turn
        elif back and (not self._obeying or (advice.trend is Trend.FARTHER and self._moves > PATIENT_MOVES)):
            wanted = -self.way
        else:
            wanted = self.way
        self._obeying = back
        if wanted != self.way:
            self.way, self._moves = wanted, 0
        near = advice.error is not None and abs(advice.error) < 6.0 * within
        self._move(FINGERS_TURNS if near else 0.1, true_clockwise)

    def _move(self, turns: float, true_clockwise: int) -> None:
        if self.way != self._pulled:
            self._pulled, self._slack = self.way, SLACK_TURNS
        lost = min(self._slack, turns)
        self._slack -= lost
        self.error += true_clockwise * self.way * (turns - lost) * self.per_turn


@dataclass
class HandOnPeak:
    """A slug `at_half_widths` from the peak of a single circuit, half a half-width a turn, starting either way."""

    at_half_widths: float
    noise_db: float
    seed: int
    pops: float = 0.0
    way: int = 1
    words: list[Word] = field(default_factory=list)
    course: PeakCourse | None = None

    def __post_init__(self) -> None:
        """Begin with all the slack on one side."""
        self._random = np.random.default_rng(self.seed)
        self._slack = SLACK_TURNS
        self._pulled = 0
        self._obeying = False
        self._moves = 0

    @property
    def lost_db(self) -> float:
        """What is lost off the peak, by the universal resonance curve of a single circuit."""
        return float(10.0 * np.log10(1.0 + self.at_half_widths**2))

    def work(self, goal: PeakGoal, most: int) -> list[Word]:
        """Turn until it is done, or `most` readings are over; give the words in order."""
        for count in range(most):
            self.course = coach_peak(goal, self.course, LiveReading(self._read(), self.noise_db))
            advice = self.course.advice
            self.words.append(advice.word)
            if advice.word is Word.DONE:
                break
            if count % 2 and advice.word in {Word.TURN, Word.PAST_IT, Word.TURN_BACK}:
                self._turn(advice, goal.within)
        return self.words

    def _read(self) -> float:
        pop = 15.0 if self._random.random() < self.pops else 0.0
        return 60.0 - self.lost_db + float(self._random.normal(0.0, self.noise_db)) + pop

    def _turn(self, advice: Advice, within: float) -> None:
        self._moves += 1
        back = advice.word in {Word.PAST_IT, Word.TURN_BACK}
        if back and (not self._obeying or (advice.trend is Trend.FARTHER and self._moves > PATIENT_MOVES)):
            self.way, self._moves = -self.way, 0
        self._obeying = back
        near = advice.error is not None and abs(advice.error) < 6.0 * within
        turns = 2.0 * FINGERS_TURNS if near else 0.12
        if self.way != self._pulled:
            self._pulled, self._slack = self.way, SLACK_TURNS
        lost = min(self._slack, turns)
        self._slack -= lost
        self.at_half_widths += 0.5 * self.way * (turns - lost)
