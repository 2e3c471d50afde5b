"""A step's plots: which responses lie over each other, and what their captions say."""

from collections.abc import Callable

from sequences.alignment.progress import Measured
from sequences.plan.content import Shown, Step
from server.report.content import Block, Drawing, Drawings
from server.report.curves import Response, responses_of
from server.report.dial_scale import dial_scale
from server.report.over_time import Course, course_of
from server.report.pairs import pairs_of
from server.report.plots import AS_FOUND, AS_LEFT, dial_plot, response_plot, time_plot
from server.report.record import Row, StepHistory

HZ_PER_KHZ = 1000.0
WITHOUT_MARKS = ", and a line without marks is what remains when the response behind it is taken off"


def drawings_of(history: StepHistory, read_run: Callable[[int], Row]) -> list[Block]:
    """Draw what a step's kind has to show."""
    if history.step.shown is Shown.OVER_THE_DIAL:
        return _dial(history)
    if history.step.shown is Shown.OVER_TIME:
        return _over_time(history, read_run)
    if history.step.shown is not Shown.RESPONSES:
        return []
    found = _responses(history.found, read_run)
    left = _responses(history.left, read_run)
    drawings = [
        _response_drawing(history.step, where, found.get(where), left.get(where))
        for where in dict.fromkeys((*found, *left))
    ]
    return [Drawings(tuple(drawings), _what_is_drawn(found, left))] if drawings else []


def _responses(measured: Measured | None, read_run: Callable[[int], Row]) -> dict[str, Response]:
    run_id = None if measured is None else measured.run_id
    if measured is None or run_id is None:
        return {}
    return {each.where: each for each in responses_of(read_run(run_id), measured.outcome)}


def _response_drawing(step: Step, where: str, found: Response | None, left: Response | None) -> Drawing:
    place = f", {where}" if where else ""
    times = " and ".join(word for word, each in ((AS_FOUND, found), (AS_LEFT, left)) if each is not None)
    says = f"{step.title}{place}: level in dB against the peak, over frequency, {times}."
    svg = response_plot(found, left, _nominal_hz(step, left or found), says)
    return Drawing(svg, f"{step.title}{place}", says)


def _nominal_hz(step: Step, response: Response | None) -> float | None:
    """Give where the centre should be: the step's own frequency, or that of the scan whose span holds the response."""
    if step.nominal_khz is not None:
        return HZ_PER_KHZ * step.nominal_khz
    if response is None or response.centre_hz is None:
        return None
    centre_hz = response.centre_hz
    fitting = [each for each in step.targets if each.start_hz <= centre_hz <= each.stop_hz]
    nearest = min(fitting, key=lambda each: abs(each.nominal_centre_hz - centre_hz), default=None)
    return None if nearest is None else nearest.nominal_centre_hz


def _what_is_drawn(found: dict[str, Response], left: dict[str, Response]) -> str:
    both = found and left
    overlaid = ", as found and as left each against its own peak, so that shapes and places compare and heights do not"
    bare = any(not each.readings for each in (*found.values(), *left.values()))
    return (
        f"Level in dB against the peak, over frequency{overlaid if both else ''}. Marks are readings, lines the curves "
        f"fitted to them{WITHOUT_MARKS if bare else ''}; the upright dotted line is where the middle should be, and "
        "the level one is 3 dB down."
    )


def _dial(history: StepHistory) -> list[Block]:
    scale = dial_scale(history.step, pairs_of(history))
    if scale is None:
        return []
    says = (
        f"{history.step.title}: dial error in kHz against the dial's marks, with the limit of {scale.limit_khz:g} kHz "
        "either way."
    )
    caption = (
        "Dial error over the scale: above nought the receiver is higher than its dial says, below it lower. The bars, "
        "where they can be seen, are twice the uncertainty."
    )
    return [Drawing(dial_plot(scale, says), caption, says)]


def _over_time(history: StepHistory, read_run: Callable[[int], Row]) -> list[Block]:
    found, left = _course(history.found, read_run), _course(history.left, read_run)
    if found is None and left is None:
        return []
    says = f"{history.step.title}: the oscillator's frequency in Hz against its first count, over minutes."
    caption = "The oscillator's frequency over time, against its first count. Marks are counts."
    return [Drawing(time_plot(found, left, says), caption, says)]


def _course(measured: Measured | None, read_run: Callable[[int], Row]) -> Course | None:
    run_id = None if measured is None else measured.run_id
    return None if run_id is None else course_of(read_run(run_id))
