"""The receiver and the bench: what was measured, by whom, with what."""

from sequences.alignment.outcome import Finding
from server.report.content import Block, Cell, Facts, Paragraph, Section, Table
from server.report.quantities import NONE, say_plain
from server.report.record import JobHistory, parse_utc
from server.report.times import say_date, say_time

NOT_GIVEN = "not given"
STATES = {"open": "under way", "paused": "paused", "done": "done"}


def receiver_section(job: JobHistory) -> Section:
    """Say which receiver it was, and whose."""
    header = job.header
    rows = [
        ("Receiver file", f"{job.receiver.name}: {job.receiver.description}"),
        ("Make", header["make"] or NOT_GIVEN),
        ("Serial", header["serial"] or NOT_GIVEN),
        ("Owner", header["owner"] or NOT_GIVEN),
    ]
    if header["remark"]:
        rows.append(("Remark", header["remark"]))
    return Section("Receiver", 1, (Facts(tuple(rows)),))


def bench_section(job: JobHistory) -> Section:
    """Say who measured when, with which instruments."""
    header = job.header
    temperature = header["room_temperature_c"]
    rows = (
        ("Operator", header["operator"] or NOT_GIVEN),
        ("Date", dates_of(job)),
        ("Job", f"number {header['id']}, {STATES.get(header['state'], header['state'])}"),
        ("Room temperature", NOT_GIVEN if temperature is None else say_plain(temperature, "\u00b0C", figures=3)),
        *_told_of_bench(job),
        (
            "Calibration",
            header["calibration_note"] or "no calibration note given: limits hold as far as the instruments do",
        ),
    )
    return Section("Bench", 1, (Facts(rows), *_instruments(job)))


def dates_of(job: JobHistory) -> str:
    """Say from when to when the job went."""
    began = parse_utc(job.header["started_utc"])
    ended = job.last_note_utc or began
    if say_date(began) == say_date(ended):
        return say_time(began)
    return f"{say_time(began)} to {say_time(ended)}"


def _told_of_bench(job: JobHistory) -> list[tuple[str, str]]:
    """Give what steps measured of the bench itself, such as how long the receiver warmed up."""
    last = [history.last.outcome.findings for history in job.steps if history.last is not None]
    told = {each.quantity.header: each for findings in last for each in findings if each.quantity.header}
    headers = dict.fromkeys(each.quantity.header for history in job.steps for each in history.step.limits)
    return [(header, _say_bare(told.get(header))) for header in headers if header]


def _say_bare(finding: Finding | None) -> str:
    figure = None if finding is None else finding.figure
    return "not counted" if figure is None or finding is None else say_plain(figure.value, finding.unit, figures=2)


def _instruments(job: JobHistory) -> tuple[Block, ...]:
    entries = job.header["instruments"]
    if not entries:
        return (Paragraph("The record names no instruments."),)
    rows = tuple(
        (
            Cell(str(each.get("role") or NONE)),
            Cell(str(each.get("identity") or "did not say what it is")),
            Cell(str(each.get("address") or NONE)),
        )
        for each in entries
    )
    caption = "Instruments, with what each answers to *IDN?"
    return (Table(caption, ("Role", "Identity", "Address"), (False, False, False), (14, 52, 34), rows),)
