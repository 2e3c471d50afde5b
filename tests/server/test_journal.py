"""The journal keeps what it acknowledged, and is read back to where the alignment stood."""

from datetime import UTC, datetime
from functools import reduce
from pathlib import Path

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Turned
from sequences.alignment.progress import Choice, Note, Progress, StepBegun, StepDecided, StepLeft, StepMeasured, noted
from sequences.engine.events import Asked, Notice
from sequences.engine.events import Progress as RunProgress
from sequences.numerics.figures import Estimate
from sequences.numerics.verdict import Signs, judge_error, suspect_without_figure
from sequences.plan.content import WayName
from server.errors import JournalError
from server.journal import JobBegan, Journal, journal_path, latest_journal, read_journal

JOB = JobBegan(receiver_id="skerry-7", mode="practice", seed=3)
TIME = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
UNBOUNDED = Finding("bend", "500 kHz", "kHz", Estimate(0.25, float("inf")))
JUDGED = Finding("error", "", "Hz", Estimate(30.0, 1.0), judge_error("It", Estimate(30.0, 1.0), 20.0, "{:g} Hz".format))
SUSPECT = Finding("left", "", "dB", None, suspect_without_figure("It", 0.5, Signs(seized=True)), "It sits fast.")
OUTCOME = StepOutcome(
    "filter-t2", Phase.ADJUST, (UNBOUNDED, JUDGED, SUSPECT), (Turned("T2 primary", -0.5),), ("Do.",), ("But.",)
)
NOTES: list[Note] = [
    StepBegun("filter-t2", WayName.STEP_AND_FIT),
    StepMeasured(OUTCOME, at_s=1e9),
    StepDecided("filter-t2", Choice.LEAVE),
    StepLeft("filter-t1", "The person left it as it is."),
]
ASKED = Asked("set", "dial", "Set dial to 3.", ("done",), {"to": 3.0})


def written(path: Path) -> Path:
    """Write a journal that was broken off."""
    with Journal(path, now=lambda: TIME) as journal:
        journal.begin(JOB)
        for note in NOTES:
            journal.note(note)
        journal.answered(ASKED, "done")
    return path


def test_what_was_noted_is_read_back_to_the_last_figure(tmp_path: Path) -> None:
    """Verdicts, figures without bound and all."""
    kept = read_journal(written(tmp_path / "a.jsonl"))

    assert kept.job == JOB
    assert list(kept.notes) == NOTES
    assert [(each.asked, each.answer) for each in kept.answers] == [(ASKED, "done")]
    assert not kept.ended
    assert reduce(noted, kept.notes, Progress("skerry-7")) == reduce(noted, NOTES, Progress("skerry-7"))


def test_a_line_is_on_disk_when_the_call_returns(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    with Journal(path, now=lambda: TIME) as journal:
        journal.begin(JOB)
        journal.event(Notice("Lowered."))

        assert [line for line in path.read_text(encoding="utf-8").splitlines() if "Lowered." in line]


def test_what_can_be_made_again_is_not_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    with Journal(path, now=lambda: TIME) as journal:
        journal.begin(JOB)
        journal.event(RunProgress(0.5, None, "Half"))

    assert len(path.read_text(encoding="utf-8").splitlines()) == 1


@pytest.mark.parametrize("cut", [1, 10, 100])
def test_a_line_that_a_crash_cut_short_is_dropped_and_the_journal_goes_on(tmp_path: Path, cut: int) -> None:
    """The last line written was the answer; nobody has seen what comes of it."""
    path = written(tmp_path / "a.jsonl")
    content = path.read_bytes()
    path.write_bytes(content[:-cut])

    before = read_journal(path)
    with Journal(path, now=lambda: TIME) as journal:
        journal.end()
    after = read_journal(path)

    assert before.answers == ()
    assert list(after.notes) == NOTES
    assert after.ended


@pytest.mark.parametrize("line", ['{"kind": "StepBegun", "step_id": 7}', "Dear Sir,", "[]", '"x"', "{}"])
def test_a_line_that_belongs_to_no_journal_is_named(tmp_path: Path, line: str) -> None:
    path = written(tmp_path / "a.jsonl")
    path.write_text(f"{path.read_text(encoding='utf-8')}{line}\n", encoding="utf-8")

    with pytest.raises(JournalError, match=f"line {len(NOTES) + 3} is not of an alignment"):
        read_journal(path)


def test_a_journal_of_a_newer_program_is_not_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    with Journal(path, now=lambda: TIME) as journal:
        journal.begin(JOB.model_copy(update={"format": 99}))

    with pytest.raises(JournalError, match="line 1"):
        read_journal(path)


def test_the_latest_journal_of_the_same_receiver_bench_and_seed_is_found(tmp_path: Path) -> None:
    store = tmp_path / "practice.sqlite"
    other = JOB.model_copy(update={"seed": 4})
    for hour, job in enumerate((JOB, JOB, other)):
        with Journal(journal_path(store, job.receiver_id, TIME.replace(hour=hour)), now=lambda: TIME) as journal:
            journal.begin(job)

    found = latest_journal(store, JOB)

    assert found is not None
    assert found[0] == journal_path(store, JOB.receiver_id, TIME.replace(hour=1))
    assert latest_journal(store, JOB.model_copy(update={"receiver_id": "millrace-5"})) is None


def test_a_journal_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")

    with pytest.raises(JournalError, match=r"cannot be written .* give another --store"):
        Journal(tmp_path / "file" / "a.jsonl", now=lambda: TIME)
