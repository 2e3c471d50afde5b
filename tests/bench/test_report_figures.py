"""The figures that a report prints, recomputed from the exported readings by code that shares nothing with ours.

The jobs are done on practice receivers over real sockets; the report is the one the program would hand to a customer. A
figure agrees where it lies within three times both uncertainties together.
"""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.records.job_export import export_job
from server.records.store import Store
from server.report.content import Report, Section, Table
from server.report.report import make_report
from tests.bench.recomputed.dial import best_pointer_shift, dial_errors_khz, passband_centres_hz
from tests.bench.recomputed.export import Figure, Reading, Run, read_export
from tests.bench.recomputed.oscillators import activities_db, frequency_error_hz
from tests.bench.recomputed.responses import (
    Fitted,
    fit_sweep,
    four_circuits,
    one_circuit,
    sweeps,
    two_circuits,
    two_pairs,
)
from tests.bench.talk import Talk

SURE = 3.0
HZ_IN_UNIT = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6}
ABOUT_THE_TOP_DB = 8.0
"""How far down a can is taken to be a pair of circuits and nothing else: its skirts also show how it is coupled."""


@dataclass(frozen=True)
class Alignment:
    """What is done: on which unit of which receiver, which steps, and of those which are adjusted."""

    receiver: str
    seed: int
    wanted: tuple[str, ...]
    adjusted: tuple[str, ...] = ()

    def answer(self, said: str) -> str:
        """Begin what is wanted and leave all else; Enter does what is asked."""
        _, choice, question = re.sub(r"\s+", " ", said).rpartition("Choose ")
        if not choice:
            return ""
        begin = re.match(r"Begin '(.+?)'\?", question)
        if begin is not None:
            return "" if begin[1] in self.wanted else "leave"
        return "adjust" if question.startswith(tuple(f"{title} is" for title in self.adjusted)) else "leave"


SKERRY = Alignment(
    "skerry-7",
    4,
    ("Beat oscillator", "Passband of the third IF", "Dial", "Crystal oscillator activity", "Preselector"),
    adjusted=("Beat oscillator",),
)
MILLRACE = Alignment("millrace-5", 7, ("Can 2, IF", "Can 1, IF", "Passband of the IF", "Dial", "Antenna circuit"))


@dataclass(frozen=True)
class Done:
    """A job that was done: the runs of its export, and its report."""

    runs: list[Run]
    report: Report

    def run(self, step: str, phase: str = "as found") -> Run:
        """Give the run that a report takes: the first as found, the last as left."""
        runs = [run for run in self.runs if (run.step, run.phase) == (step, phase)]
        return runs[0] if phase == "as found" else runs[-1]

    def sweeps(self, step: str) -> list[tuple[Reading, ...]]:
        """Give the sweeps of a run as found."""
        return list(sweeps(self.run(step)))

    def section(self, title: str) -> Section:
        """Give a step of the report."""
        return next(section for section in self.report.sections if section.title == title)


def carry_out(alignment: Alignment, folder: Path) -> Done:
    """Do an alignment, and export the job."""
    place = folder / "record.sqlite"
    unit = (alignment.receiver, "--practice", "--seed", str(alignment.seed), "--speed", "2000")
    with Talk(*unit, store=place) as talk:
        while (said := talk.listen()) is not None:
            talk.type(alignment.answer(said))
    store = Store(place)
    try:
        with (folder / "job.zip").open("wb") as file:
            export_job(store, 1, file)
        report = make_report(store, 1, datetime(2026, 11, 25, tzinfo=UTC))
    finally:
        store.close()
    return Done(read_export(folder / "job.zip"), report)


@pytest.fixture(scope="module")
def skerry(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """A Skerry 7, of which the beat oscillator only is adjusted."""
    return carry_out(SKERRY, tmp_path_factory.mktemp("skerry"))


@pytest.fixture(scope="module")
def millrace(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """A Millrace 5 as found; a can of it is off."""
    return carry_out(MILLRACE, tmp_path_factory.mktemp("millrace"))


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


def test_a_passbands_centres_and_widths(skerry: Done) -> None:
    section = skerry.section("Passband of the third IF")
    taken = skerry.sweeps("passband-third")

    assert len(taken) == 3
    for sweep in taken:
        where = sweep[-1].controls["selectivity"]
        centre, width = fit_sweep(sweep, four_circuits).centre_and_width()
        assert_agree(printed(section, "Centre", where), centre)
        assert_agree(printed(section, "3 dB width", where), width)


def test_a_preselectors_centres_and_widths_on_every_band(skerry: Done) -> None:
    section = skerry.section("Preselector")
    places = {row[1].removeprefix("band ").partition(",")[0]: row[1] for row in rows(section) if row[0] == "Centre"}
    taken = skerry.sweeps("preselector")

    assert len(taken) == 7
    for sweep in taken:
        where = places[sweep[-1].controls["band"]]
        centre, width = fit_sweep(sweep, two_circuits).centre_and_width()
        assert_agree(printed(section, "Centre", where), centre)
        assert_agree(printed(section, "3 dB width", where), width)


def test_the_dial_error_at_every_mark_and_the_best_shift_of_the_pointer(skerry: Done) -> None:
    """The tunable IF runs from 3400 kHz at 0 to 2900 kHz at 500, against the dial."""
    section = skerry.section("Dial")
    tuned: Callable[[float], float] = lambda mark: 3400.0 - mark  # noqa: E731 - one line says it best
    errors = dial_errors_khz(skerry.run("dial-second"), tuned)

    assert sorted(errors) == [0.0, 100.0, 200.0, 300.0, 400.0, 500.0]
    for mark, error in errors.items():
        assert_agree(printed(section, "Dial error", f"{mark:g} kHz"), Figure(1e3 * error, 0.0))
    shift, remaining = best_pointer_shift(errors)
    name = "Pointer shift that makes the worst error smallest"
    assert_agree(printed(section, name, ""), Figure(1e3 * shift, 0.0))
    assert_agree(printed(section, "Worst error after that shift", ""), Figure(1e3 * remaining, 0.0))


def test_the_activity_of_every_band_that_oscillates(skerry: Done) -> None:
    section = skerry.section("Crystal oscillator activity")
    table = next(block for block in section.blocks if isinstance(block, Table))
    found = {row[0].text: row[3].text for row in table.rows}
    activities = activities_db(skerry.run("activity-first"), "16")

    assert {band for band, text in found.items() if text == "none"} == set(found) - set(activities)
    for band, activity in activities.items():
        if band != "16":
            assert_agree(read(found[band]), activity)


@pytest.mark.parametrize(("phase", "left"), [("as found", False), ("as left", True)])
def test_an_oscillators_error_as_found_and_as_left(skerry: Done, phase: str, *, left: bool) -> None:
    section = skerry.section("Beat oscillator")
    error = frequency_error_hz(skerry.run("beat-oscillator", phase), 85e3)

    assert_agree(printed(section, "Frequency error", "", left=left), error)


# Millrace 5: cans, one behind the other; a dial told by the passband; an antenna circuit that must follow it.


def test_a_cans_centre_width_and_coupling(millrace: Done) -> None:
    assert_is_told(millrace.section("Can 2, IF"), can_2(millrace, "filter-can-2"))


def test_a_can_seen_through_the_next_is_told_with_that_taken_off(millrace: Done) -> None:
    assert_is_told(millrace.section("Can 1, IF"), can_1(millrace, "filter-can-1"))


def test_the_passband_of_both_cans_and_each_of_them_alone(millrace: Done) -> None:
    section = millrace.section("Passband of the IF")

    whole = fit_sweep(millrace.sweeps("passband-main")[1], two_pairs, within_db=ABOUT_THE_TOP_DB)
    for where, fitted in (
        ("Passband of the IF", whole),
        ("can 2 alone", can_2(millrace, "passband-main")),
        ("can 1 alone", can_1(millrace, "passband-main")),
    ):
        centre, width = fitted.centre_and_width()
        assert_agree(printed(section, "Centre", where), centre)
        assert_agree(printed(section, "3 dB width", where), width)


def can_2(done: Done, step: str) -> Fitted:
    """Fit the last can: the first sweep of a step goes in before it."""
    return fit_sweep(done.sweeps(step)[0], two_circuits, within_db=ABOUT_THE_TOP_DB)


def can_1(done: Done, step: str) -> Fitted:
    """Fit the first can: the second sweep goes through both."""
    return fit_sweep(done.sweeps(step)[1], two_circuits, within_db=ABOUT_THE_TOP_DB, behind=can_2(done, step))


def assert_is_told(section: Section, fitted: Fitted) -> None:
    """Hold what is printed of a can to what was fitted."""
    centre, width = fitted.centre_and_width()
    assert_agree(printed(section, "Centre", ""), centre)
    assert_agree(printed(section, "3 dB width", ""), width)
    assert_agree(printed(section, "Coupling kQ", ""), fitted.coupling())


def test_the_dial_error_where_the_passband_tells_it(millrace: Done) -> None:
    section = millrace.section("Dial")
    centres = passband_centres_hz(millrace.run("dial-first"))

    assert sorted(centres) == [600.0, 800.0, 1000.0, 1200.0, 1400.0]
    errors = {}
    for mark, centre in centres.items():
        error = Figure(centre.value - 1e3 * mark, centre.sigma)
        assert_agree(printed(section, "Dial error", f"{mark:g} kHz"), error)
        errors[mark] = error.value
    shift, remaining = best_pointer_shift(errors)
    sigma = max(centre.sigma for centre in centres.values())
    name = "Pointer shift that makes the worst error smallest"
    assert_agree(printed(section, name, ""), Figure(shift, sigma))
    assert_agree(printed(section, "Worst error after that shift", ""), Figure(remaining, sigma))


def test_the_antenna_circuit_and_how_it_follows_the_receiver(millrace: Done) -> None:
    """Where the receiver is tuned, the passband tells; how far the circuit is off there, and what that costs."""
    section = millrace.section("Antenna circuit")
    tuned = passband_centres_hz(millrace.run("preselector"))
    taken = [sweep for sweep in millrace.sweeps("preselector") if any(one.purpose == "scan" for one in sweep)]

    assert len(taken) == 3
    for sweep in taken:
        mark = sweep[-1].controls["dial"]
        fitted, at = fit_sweep(sweep, one_circuit), tuned[mark]
        centre, width = fitted.centre_and_width()
        where = f"{mark:g} kHz"
        assert_agree(printed(section, "Centre", where), centre)
        assert_agree(printed(section, "3 dB width", where), width)
        off_percent = 100.0 * (centre.value - at.value) / width.value
        sigma_percent = 100.0 * math.hypot(centre.sigma, at.sigma) / width.value
        assert_agree(printed(section, "Centre error", where), Figure(off_percent, sigma_percent))
        assert_agree(printed(section, "Level still to be gained", where), fitted.loss_db(at))
