"""A whole report put together, from the record of a job."""

import re
from datetime import datetime
from importlib.metadata import version

from sequences.plan.not_planned import not_planned, sentence
from server.report.bench import bench_section, dates_of, receiver_section
from server.report.cautions import cautions_section
from server.report.content import Block, Bullets, Facts, Paragraph, Report, Section
from server.report.left_alone import left_alone
from server.report.photos import picture_of
from server.report.record import JobHistory, Records, parse_utc, read_history
from server.report.said import doubts_of
from server.report.steps import step_section
from server.report.summary import summary_section
from server.report.times import say_time
from server.report.words import WORDS_USED

PRACTICE = "Practice: a simulated receiver, no real one"
PRACTICE_SENTENCE = (
    "This is a practice job. The receiver and the instruments were simulated, and nothing here says anything about a "
    "real receiver."
)


def make_report(records: Records, job_id: int, now: datetime) -> Report:
    """Write the report of a job as it stands at `now`.

    Raises:
        UnknownThing: there is no such job.
        StoreError: the record holds what this program cannot read.
        ReceiverListError: the job's own receiver file cannot be used.
    """
    job = read_history(records, job_id)
    practice = PRACTICE if job.is_practice else ""
    sections = (
        summary_section(job, PRACTICE_SENTENCE if practice else ""),
        receiver_section(job),
        bench_section(job),
        *_job_remarks(job),
        Section("Steps", 1, (Paragraph(STEPS_SAY),)),
        *(step_section(history, records.run) for history in job.steps),
        *_left_alone(job),
        *_not_planned(job),
        *_doubts(job),
        cautions_section(job.receiver),
        Section("Words used", 1, (Facts(WORDS_USED),)),
    )
    serial = f", serial {job.header['serial']}" if job.header["serial"] else ""
    name = f"{job.header['make']} {job.receiver.name}".strip()
    return Report(
        title=f"Alignment of {name}{serial}",
        subtitle=_subtitle(job),
        running=f"{name}{serial}, job {job_id}",
        practice=practice,
        made=f"Made by Peakwright {version('peakwright')} on {say_time(now)}",
        page_of="page {page} of {pages}",
        author=job.header["operator"],
        sections=sections,
        file_stem=_file_stem(job),
    )


STEPS_SAY = (
    "Steps are in the order done, last stage first, so that no step undoes an earlier one. The number after \u00b1 "
    "is half the 95 % interval."
)


def _subtitle(job: JobHistory) -> str:
    operator = job.header["operator"]
    return f"{dates_of(job)}{f', by {operator}' if operator else ''}"


def _job_remarks(job: JobHistory) -> tuple[Section, ...]:
    blocks: list[Block] = [Paragraph(f"{say_time(each.at_utc)}: {each.text}") for each in job.remarks]
    blocks += [picture_of(each) for each in job.photos]
    return (Section("Remarks and photos", 1, tuple(blocks)),) if blocks else ()


def _left_alone(job: JobHistory) -> tuple[Section, ...]:
    begun = [history for history in job.steps if history.record is not None]
    items = [f"{history.step.title}: {why}" for history in begun for why in left_alone(history)]
    rest = tuple(history.step.title for history in job.steps if history.record is None)
    if rest:
        items.append(f"Not begun: {'; '.join(rest)}.")
    return (Section("What was left alone, and why", 1, (Bullets(tuple(items)),)),) if items else ()


def _not_planned(job: JobHistory) -> tuple[Section, ...]:
    found = not_planned(job.receiver, job.plan)
    items = tuple(sentence(each) for each in found)
    return (Section("Not planned, and why", 1, (Bullets(items),)),) if items else ()


def _doubts(job: JobHistory) -> tuple[Section, ...]:
    items = tuple(f"{history.step.title}: {doubt}" for history in job.steps for doubt in doubts_of(history))
    return (Section("Doubts", 1, (Bullets(items),)),) if items else ()


def _file_stem(job: JobHistory) -> str:
    day = parse_utc(job.header["started_utc"])
    serial = re.sub(r"[^A-Za-z0-9]+", "-", job.header["serial"]).strip("-")
    parts = (f"{day:%Y-%m-%d}", job.receiver.id, serial, f"job-{job.header['id']}")
    return "-".join(part for part in parts if part)
