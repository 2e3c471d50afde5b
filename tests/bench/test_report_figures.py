"""The figures that a report prints, recomputed from the exported readings by code that shares nothing with ours.

The job is done on a practice receiver over real sockets; the report is the one the program would hand to a customer. A
figure agrees where it lies within three times both uncertainties together.
"""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest

from server.records.job_export import export_job
from server.records.store import Store
from server.report.content import Report, Section, Table
from server.report.report import make_report
from tests.bench import recomputed
from tests.bench.recomputed import Figure, Run
from tests.bench.talk import Talk

WANTED = ("Beat oscillator", "Passband of the third IF", "Dial", "Crystal oscillator activity", "Preselector")
ADJUSTED = "Beat oscillator is"
SURE = 3.0
HZ_IN_UNIT = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6}


@dataclass(frozen=True)
class Done:
    """A job that was done: the runs of its export, and its report."""

    runs: list[Run]
    report: Report

    def run(self, step: str, phase: str = "as found") -> Run:
        """Give the run that a report takes: the first as found, the last as left."""
        runs = [run for run in self.runs if (run.step, run.phase) == (step, phase)]
        return runs[0] if phase == "as found" else runs[-1]

    def section(self, title: str) -> Section:
        """Give a step of the report."""
        return next(section for section in self.report.sections if section.title == title)


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """Do the steps wanted, adjust the beat oscillator only, and export the job."""
    folder = tmp_path_factory.mktemp("job")
    place = folder / "record.sqlite"
    with Talk("skerry-7", "--practice", "--seed", "4", "--speed", "2000", store=place) as talk:
        while (said := talk.listen()) is not None:
            talk.type(_answer(said))
    store = Store(place)
    try:
        with (folder / "job.zip").open("wb") as file:
            export_job(store, 1, file)
        report = make_report(store, 1, datetime(2026, 11, 25, tzinfo=UTC))
    finally:
        store.close()
    return Done(recomputed.read_export(folder / "job.zip"), report)


def _answer(said: str) -> str:
    """Begin what is wanted and leave all else; of what was measured, adjust one thing. Enter does what is asked."""
    _, choice, question = re.sub(r"\s+", " ", said).rpartition("Choose ")
    if not choice:
        return ""
    begin = re.match(r"Begin '(.+?)'\?", question)
    if begin is not None:
        return "" if begin[1] in WANTED else "leave"
    return "adjust" if question.startswith(ADJUSTED) else "leave"


def rows(section: Section) -> Iterator[tuple[str, str, str, str]]:
    """Give the name, place, and the figures as found and as left of every row of a step's tables."""
    for block in section.blocks:
        if not isinstance(block, Table):
            continue
        name = ""
        for row in block.rows:
            if len(row) == 1:
                name = row[0].text
            else:
                yield name, row[0].text, row[1].text, row[2].text


def printed(section: Section, name: str, where: str, *, left: bool = False) -> Figure:
    """Read a figure off the report, in the base unit where it is a frequency."""
    texts = [row[3 if left else 2] for row in rows(section) if (row[0], row[1]) == (name, where)]
    texts += [row[3 if left else 2] for row in rows(section) if row[0] == "" and row[1] == name and not where]
    return read(texts[0])


def read(text: str) -> Figure:
    """Read `60.02972 \u00b1 0.00049 kHz`."""
    match = re.fullmatch(r"([+\u2212]?)([\d.]+) \u00b1 ([\d.]+)(?:[\u00a0\u202f](.+))?", text)
    assert match is not None, text
    factor = HZ_IN_UNIT.get(match[4] or "", 1.0)
    sign = -1.0 if match[1] == "\u2212" else 1.0
    return Figure(sign * float(match[2]) * factor, float(match[3]) * factor)


def assert_agree(report: Figure, independent: Figure) -> None:
    """Within three times both uncertainties taken together."""
    both = math.hypot(report.sigma, independent.sigma)
    assert abs(report.value - independent.value) <= SURE * both, (report, independent)


def test_a_passbands_centres_and_widths(done: Done) -> None:
    section = done.section("Passband of the third IF")
    sweeps = list(recomputed.sweeps(done.run("passband-third")))

    assert len(sweeps) == 3
    for sweep in sweeps:
        where = sweep[-1].controls["selectivity"]
        centre, width = recomputed.fit_response(sweep, circuits=4)
        assert_agree(printed(section, "Centre", where), centre)
        assert_agree(printed(section, "3 dB width", where), width)


def test_a_preselectors_centres_and_widths_on_every_band(done: Done) -> None:
    section = done.section("Preselector")
    places = {row[1].removeprefix("band ").partition(",")[0]: row[1] for row in rows(section) if row[0] == "Centre"}
    sweeps = list(recomputed.sweeps(done.run("preselector")))

    assert len(sweeps) == 7
    for sweep in sweeps:
        where = places[sweep[-1].controls["band"]]
        centre, width = recomputed.fit_response(sweep, circuits=2)
        assert_agree(printed(section, "Centre", where), centre)
        assert_agree(printed(section, "3 dB width", where), width)


def test_the_dial_error_at_every_mark_and_the_best_shift_of_the_pointer(done: Done) -> None:
    """The tunable IF runs from 2800 kHz at 0 to 2300 kHz at 500, against the dial."""
    section = done.section("Dial")
    tuned: Callable[[float], float] = lambda mark: 2800.0 - mark  # noqa: E731 - one line says it best
    errors = recomputed.dial_errors_khz(done.run("dial-second"), tuned)

    assert sorted(errors) == [0.0, 100.0, 200.0, 300.0, 400.0, 500.0]
    for mark, error in errors.items():
        assert_agree(printed(section, "Dial error", f"{mark:g} kHz"), Figure(1e3 * error, 0.0))
    shift, remaining = recomputed.best_pointer_shift(errors)
    name = "Pointer shift that makes the worst error smallest"
    assert_agree(printed(section, name, ""), Figure(1e3 * shift, 0.0))
    assert_agree(printed(section, "Worst error after that shift", ""), Figure(1e3 * remaining, 0.0))


def test_the_activity_of_every_band_that_oscillates(done: Done) -> None:
    section = done.section("Crystal oscillator activity")
    table = next(block for block in section.blocks if isinstance(block, Table))
    found = {row[0].text: row[3].text for row in table.rows}
    activities = recomputed.activities_db(done.run("activity-first"), "14")

    assert {band for band, text in found.items() if text == "none"} == set(found) - set(activities)
    for band, activity in activities.items():
        if band != "14":
            assert_agree(read(found[band]), activity)


@pytest.mark.parametrize(("phase", "left"), [("as found", False), ("as left", True)])
def test_an_oscillators_error_as_found_and_as_left(done: Done, phase: str, *, left: bool) -> None:
    section = done.section("Beat oscillator")
    error = recomputed.frequency_error_hz(done.run("beat-oscillator", phase), 60e3)

    assert_agree(printed(section, "Frequency error", "", left=left), error)
