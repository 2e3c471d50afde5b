"""What a report says of a step beside its figures: a slug seized in a step that is good, and a step that is blocked."""

from pathlib import Path

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Stuck, StuckAdjuster
from sequences.alignment.progress import Choice, StepBegun, StepDecided, StepLeft, StepMeasured
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import judge_error
from sequences.numerics.wording import in_unit
from sequences.plan.content import WayName
from sequences.receiver.file import shipped_receiver_files
from server.records.jobs import NewJob
from server.records.store import Store
from server.report.content import Report, Tone, Warned
from server.report.report import make_report
from tests.quantities import called
from tests.server.report.jobs import NOON
from tests.server.report.reading import point, section

STEP = "beat-oscillator"
WAITS = "It waits for the beat oscillator."


def outcome(phase: Phase, error_hz: float, *stuck: StuckAdjuster) -> StepOutcome:
    """Make what a run came to; the limit is 20 Hz."""
    error = Estimate(error_hz, 1.0)
    judged = judge_error("The beat oscillator", error, 20.0, in_unit("Hz"))
    return StepOutcome(STEP, phase, (Finding(called("frequency error", "Hz"), "", error, judged),), stuck=stuck)


def report_with(folder: Path) -> Report:
    """Make a job in which a slug would not turn, yet the figure is good, and a later step was blocked."""
    store = Store(folder / "record.sqlite", now=lambda: NOON)
    text = next(each.text for each in shipped_receiver_files() if each.receiver.id == "skerry-7")
    number = store.begin_job(NewJob(receiver_id="skerry-7", receiver_name="Skerry 7", receiver_file=text, mode="bench"))
    store.note(number, StepBegun(STEP, WayName.COUNT))
    for phase, stuck in ((Phase.AS_FOUND, ()), (Phase.ADJUST, (StuckAdjuster("beat slug", Stuck.SEIZED),))):
        store.note(number, StepMeasured(outcome(phase, 12.0, *stuck), NOON.timestamp()))
    store.note(number, StepDecided(STEP, Choice.LEAVE))
    store.note(number, StepLeft("passband-symmetry", WAITS, (STEP,)))
    return make_report(store, number, NOON)


def test_a_seized_slug_is_told_in_the_summary_of_a_step_that_is_good(tmp_path: Path) -> None:
    report = report_with(tmp_path)

    beat = point(report, "Beat oscillator")
    assert beat.tone is not Tone.BAD
    assert "The beat slug is seized: free it without force" in beat.text
    (warned,) = [block for block in section(report, "Summary").blocks if isinstance(block, Warned)]
    assert any("The beat slug is seized" in line for line in warned.items)


def test_a_blocked_step_is_told_as_such_with_its_reason(tmp_path: Path) -> None:
    blocked = point(report_with(tmp_path), "Passband control symmetry")

    assert (blocked.word, blocked.tone, blocked.text) == ("Blocked", Tone.BAD, WAITS)
