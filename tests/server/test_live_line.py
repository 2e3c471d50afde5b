"""Live adjusting at a terminal: what the line shows, and which typed lines are signals."""

import io
import os
from collections.abc import Callable
from dataclasses import replace

import pytest
from rich.console import Console

from sequences.engine.events import Asked, GaugeKind, Guidance, TurnWay
from sequences.numerics.adjusters.coach import Trend, Word
from server.alignment.wishes import StopHere
from server.bench.stop_switch import StopSwitch
from server.practice.turner import MOVE_S, PracticeTurner
from server.terminal.live_line import LiveLine, drawn
from server.terminal.person import TerminalPerson
from server.terminal.typed_lines import TypedLines

ERROR = Guidance(
    adjuster="beat oscillator slug",
    gauge=GaugeKind.FREQUENCY,
    value=250.0,
    sigma=1.0,
    unit="Hz",
    target=0.0,
    within=7.0,
    error=250.0,
    full_scale=500.0,
    best=None,
    below_best=None,
    trend=Trend.NEARER,
    word=Word.TURN,
    way=TurnWay.CLOCKWISE,
    turns_left=0.4,
    sentence="beat oscillator slug: 250 Hz high. Turn clockwise, about 0.4 of a turn.",
)
PEAK = replace(
    ERROR,
    gauge=GaugeKind.LEVEL,
    unit="dB",
    error=None,
    target=None,
    best=60.0,
    below_best=0.5,
    full_scale=1.0,
    word=Word.TURN_BACK,
    way=None,
    turns_left=None,
)
TAKE_HOLD = Asked("adjust", "beat oscillator slug", "Take hold of it.", ("ready", "cannot"), {})


def bar_of(guidance: Guidance) -> str:
    """Give what stands between the brackets."""
    text = drawn(guidance, 200).plain
    return text[text.index("[") + 1 : text.index("]")]


def test_the_line_has_the_word_the_bar_the_figure_and_the_way() -> None:
    text = drawn(ERROR, 200).plain

    assert text.startswith("TURN ")
    assert "+250 Hz of 500 Hz clockwise 0.40 turn" in text


@pytest.mark.parametrize(("error", "place"), [(0.0, 20), (250.0, 30), (-500.0, 0), (500.0, 40), (9000.0, 40)])
def test_the_bar_points_to_the_side_of_the_error(error: float, place: int) -> None:
    assert bar_of(replace(ERROR, error=error)).index("#") == place


def test_the_bar_of_a_peak_shrinks_with_what_is_below_the_best() -> None:
    assert bar_of(replace(PEAK, below_best=0.0)) == "#" * 41
    assert bar_of(PEAK).count("#") == 20
    assert "0.50 dB below the best of 1.00 dB" in drawn(PEAK, 200).plain


def test_no_reading_leaves_the_bar_empty() -> None:
    text = drawn(replace(ERROR, error=None, value=None, word=Word.WAIT, way=None, turns_left=None), 200).plain

    assert text.startswith("WAIT ")
    assert "no reading" in text
    assert "#" not in text


def test_the_line_fits_a_narrow_terminal() -> None:
    assert len(drawn(ERROR, 40).plain) < 40


def test_where_it_is_no_terminal_a_line_is_printed_when_the_word_changes() -> None:
    printed = io.StringIO()
    line = LiveLine(Console(file=printed, width=200))
    for word in (Word.TURN, Word.TURN, Word.HOLD, Word.HOLD, Word.DONE):
        line.show(replace(ERROR, word=word))

    assert [each.split()[0] for each in printed.getvalue().splitlines()] == ["TURN", "HOLD", "DONE"]


def test_counted_steps_are_told_by_their_questions_and_not_by_the_line() -> None:
    printed = io.StringIO()
    LiveLine(Console(file=printed, width=200)).show(replace(PEAK, gauge=GaugeKind.STEP_AND_FIT))

    assert not printed.getvalue()


def holding(glance: Callable[[], str | None], answer: str = "") -> TerminalPerson:
    """Give a person at a terminal who was asked to take hold."""
    person = TerminalPerson(Console(file=io.StringIO()), lambda _: answer, StopSwitch(), glance)
    person.answer(TAKE_HOLD)
    return person


@pytest.mark.parametrize(
    ("typed", "signal"),
    [(None, None), ("", "done"), ("d", "done"), ("cannot", "cannot"), ("s", None), ("step", "step"), ("fly", None)],
)
def test_enter_says_done_and_a_word_says_what_it_says(typed: str | None, signal: str | None) -> None:
    """An s alone may be step or stop, and is neither."""
    assert holding(lambda: typed).signal() == signal


def test_stop_is_heard_while_an_adjuster_is_held() -> None:
    with pytest.raises(StopHere):
        holding(lambda: "stop").signal()


def test_nothing_typed_is_taken_for_a_signal_where_nothing_is_held() -> None:
    assert holding(lambda: "", answer="cannot").signal() is None
    done = holding(lambda: "")
    assert done.signal() == "done"
    assert done.signal() is None


def test_typed_lines_are_waited_for_or_looked_for_and_none_is_lost() -> None:
    out, into = os.pipe()
    try:
        lines = TypedLines(out)
        assert lines.glance() is None
        os.write(into, b"ready\ncan")
        assert lines.read("> ") == "ready"
        assert lines.glance() is None
        os.write(into, b"not\n\n")
        assert [lines.glance(), lines.glance(), lines.glance()] == ["cannot", "", None]
        os.write(into, b"last")
        os.close(into)
        assert lines.read("> ") == "last"
        with pytest.raises(EOFError):
            lines.glance()
        with pytest.raises(EOFError):
            lines.read("> ")
    finally:
        os.close(out)


class Hands:
    """Hands on a slug that goes `most` turns clockwise and no farther."""

    def __init__(self, most: float) -> None:
        """Begin in the middle."""
        self.at, self.most = 0.0, most

    def do(self, *tasks: dict[str, object]) -> list[dict[str, object]]:
        """Turn."""
        moved: list[dict[str, object]] = []
        for task in tasks:
            before = self.at
            self.at = max(-self.most, min(self.most, self.at + float(str(task["turns"]))))
            moved.append({"moved_turns": self.at - before})
        return moved


class Shown:
    """Shows the same thing again and again, a move's time apart by the clock of the run."""

    def __init__(self, turner: PracticeTurner) -> None:
        """Begin when the run begins."""
        self._turner, self._time_s = turner, 0.0

    def often(self, guidance: Guidance, times: int) -> None:
        """Show it and let the hand move; the first sight of all only begins the hand's time."""
        for _ in range(times):
            self._turner.see(replace(guidance, time_s=self._time_s))
            self._turner.move()
            self._time_s += 1.5 * MOVE_S


def test_the_practice_hand_goes_the_way_that_is_told() -> None:
    hands = Hands(5.0)
    Shown(PracticeTurner(hands)).often(replace(ERROR, way=TurnWay.ANTICLOCKWISE), 10)

    assert hands.at < -0.1


def test_the_practice_hand_turns_round_once_when_told_to_turn_back() -> None:
    hands = Hands(5.0)
    turner = PracticeTurner(hands)
    shown = Shown(turner)
    shown.often(replace(PEAK, word=Word.TURN), 10)
    farthest = hands.at
    shown.often(replace(PEAK, trend=Trend.NEARER), 6)

    assert farthest > 0.3
    assert hands.at < farthest


def test_the_practice_hand_holds_still_when_told_to() -> None:
    hands = Hands(5.0)
    Shown(PracticeTurner(hands)).often(replace(ERROR, word=Word.HOLD), 10)

    assert hands.at == 0.0


def test_the_practice_hand_says_that_it_cannot_at_a_stop_on_the_way_that_is_told() -> None:
    hands = Hands(0.3)
    turner = PracticeTurner(hands)
    shown = Shown(turner)
    shown.often(ERROR, 30)

    assert turner.cannot


def test_the_practice_hand_says_that_it_cannot_only_when_it_stopped_both_ways() -> None:
    hands = Hands(0.3)
    turner = PracticeTurner(hands)
    shown = Shown(turner)
    shown.often(replace(PEAK, word=Word.TURN), 10)
    assert not turner.cannot
    shown.often(replace(PEAK, word=Word.TURN), 40)
    assert turner.cannot
