"""A job on a real receiver with everything in it that a report must tell, entered through the record's own door."""

import io
import math
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Turned
from sequences.alignment.progress import Choice, StepBegun, StepDecided, StepLeft, StepMeasured
from sequences.engine.events import CurveFitted, Ending, LevelTaken, ReadingTaken, RunEnded
from sequences.engine.instruments import Mark
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, Signs, Standing, Verdict, judge_at_least, judge_error
from sequences.numerics.wording import in_unit, say_hz
from sequences.plan.content import WayName
from sequences.receiver.file import shipped_receiver_files
from server.records.jobs import NewJob
from server.records.runs import NewRun
from server.records.store import Store
from server.report.content import Report
from server.report.report import make_report
from tests.quantities import called

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
OWNER = "Reed & Daughters <script>alert('1')</script>"
MAKE = 'The "Harbour" works'
SERIAL = "12/34 #5"
REMARK = "Smells of wax; <b>one</b> valve is not of its kind."
LEFT_REASON = "The person left it as it is."
IDENTITY = "Invented,SG-1,0001,2.0"
DIAL_FOUND = {0: -10.05, 100: -9.26, 200: -8.72, 300: -8.32, 400: -7.83, 500: -7.21}
DIAL_LEFT = {0: 0.012, 100: 0.177, 200: 0.115, 300: -0.052, 400: -0.1, 500: -0.001}
CENTRES_HZ = {Phase.AS_FOUND: 85_290.0, Phase.AS_LEFT: 85_020.0}


@dataclass
class Job:
    """A job under way in a record."""

    store: Store
    number: int
    at_s: float = NOON.timestamp()
    begun: list[str] = field(default_factory=list)

    def begin(self, step: str, way: WayName) -> None:
        """Begin a step."""
        self.store.note(self.number, StepBegun(step, way))

    def measured(self, outcome: StepOutcome, run_id: int | None = None) -> None:
        """Enter what a run came to."""
        self.at_s += 60.0
        self.store.note(self.number, StepMeasured(outcome, self.at_s), run_id=run_id)

    def decided(self, step: str, choice: Choice) -> None:
        """Enter a decision."""
        self.store.note(self.number, StepDecided(step, choice))


def customer_store(folder: Path, mode: str = "bench") -> Store:
    """Make a record that holds the job, as number 1."""
    store = Store(folder / "record.sqlite", now=lambda: NOON)
    text = next(each.text for each in shipped_receiver_files() if each.receiver.id == "skerry-7")
    instruments = [{"role": "source", "address": "GPIB::5", "identity": IDENTITY, "state": "ready", "detail": None}]
    number = store.begin_job(
        NewJob(
            receiver_id="skerry-7",
            receiver_name="Skerry 7",
            receiver_file=text,
            mode=mode,
            seed=4 if mode == "practice" else None,
            owner=OWNER,
            make=MAKE,
            serial=SERIAL,
            operator="B. Marsh",
            room_temperature_c=21.5,
            calibration_note="Counter against a rubidium standard, March 2026",
            instruments=instruments,
            remark=REMARK,
        )
    )
    job = Job(store, number)
    _warm_up(job)
    _beat_oscillator(job)
    _passband(job)
    _third_oscillator(job)
    store.note(number, StepLeft("filter-t2", LEFT_REASON))
    _dial(job)
    _activity(job)
    store.remark(number, None, REMARK)
    store.remark(number, "beat-oscillator", "The slug was loose.")
    store.photo(number, "dial-second", "dial.jpg", "image/jpeg", photo())
    return store


def report_of(store: Store) -> Report:
    """Report the job."""
    return make_report(store, 1, NOON)


def photo() -> bytes:
    """Make a photo taken with the camera on its side: 60 wide and 20 high as stored, red at the left."""
    image = Image.new("RGB", (60, 20), "white")
    image.paste("red", (0, 0, 20, 20))
    exif = image.getexif()
    exif[0x0112] = 6  # EXIF 2.3: the row at the top is the right-hand side of the scene
    exif[0x010F] = "CAMERA OF SOMEBODY"
    content = io.BytesIO()
    image.save(content, "JPEG", exif=exif, quality=95)
    return content.getvalue()


def _error(name: str, value: float, sigma: float, limit: float, signs: Signs | None = None) -> Finding:
    figure = Estimate(value, sigma)
    return Finding(called(name, "Hz"), "", figure, judge_error("The oscillator", figure, limit, say_hz, signs=signs))


def _warm_up(job: Job) -> None:
    job.begin("warm-up", WayName.COUNT)
    time = Finding(called("time", "minutes"), "", Estimate(22.4, 0.0))
    job.measured(StepOutcome("warm-up", Phase.AS_FOUND, (_error("drift", 1.2, 0.3, 5.0), time)))
    job.decided("warm-up", Choice.LEAVE)


def _beat_oscillator(job: Job) -> None:
    """Was off, and was put right by the meter: nobody counted the turns."""
    step = "beat-oscillator"
    job.begin(step, WayName.COUNT)
    found, left = _error("frequency error", -334.746, 0.976, 20.0), _error("frequency error", 4.85, 0.46, 20.0)
    job.measured(StepOutcome(step, Phase.AS_FOUND, (found,)))
    job.decided(step, Choice.ADJUST)
    job.measured(StepOutcome(step, Phase.ADJUST, (left,), (Turned("beat oscillator slug", None),)))
    job.measured(StepOutcome(step, Phase.AS_LEFT, (left,), doubts=("The pick-up may pull by 2 Hz ± 1 Hz.",)))
    job.decided(step, Choice.LEAVE)


def _passband(job: Job) -> None:
    """Measured twice, since a later step moved it; good both times."""
    for phase in (Phase.AS_FOUND, Phase.AS_LEFT):
        job.begin("passband-third", WayName.SWEEP)
        centre_hz = CENTRES_HZ[phase]
        error = Estimate((centre_hz - 85e3) / 20.0, 0.1)
        judged = judge_error("The centre", error, 20.0, in_unit("%"))
        findings = (
            Finding(called("centre", "Hz"), "1.6 kHz", Estimate(centre_hz, 1.5)),
            Finding(called("centre error", "% of the 3 dB width"), "1.6 kHz", error, judged),
        )
        job.measured(StepOutcome("passband-third", Phase.AS_FOUND, findings), _sweep(job, centre_hz))
        job.decided("passband-third", Choice.LEAVE)


def _sweep(job: Job, centre_hz: float) -> int:
    """Enter a run: readings on a single circuit's curve, one of them not used, and the curve itself."""
    new = NewRun("bench", "passband", "Passband", "Skerry 7", {}, [], job.number, "passband-third", "as found", "sweep")
    run_id = job.store.begin_run(new)
    frequencies = [centre_hz + 600.0 * step for step in range(-5, 6)]
    levels = [-50.0 - 10.0 * math.log10(1.0 + ((hz - centre_hz) / 1000.0) ** 2) for hz in frequencies]
    for index, (hz, level_db) in enumerate(zip(frequencies, levels, strict=True)):
        reading = ReadingTaken(index, float(index), "meter", "scan", 1.0, "V", Mark.GOOD, hz, -51.0)
        job.store.keep(run_id, 2 * index, reading)
        job.store.keep(run_id, 2 * index + 1, LevelTaken(index, hz, level_db, used=index != 3))
    figures = {
        "centre_hz": centre_hz,
        "width_3db_hz": 2000.0,
        "peak_level_db": -50.0,
        "curve": {"frequency_hz": frequencies, "level_db": levels},
    }
    job.store.keep(run_id, 2 * len(frequencies), CurveFitted(figures))
    job.store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", output_off=True), None)
    return run_id


def _third_oscillator(job: Job) -> None:
    """Is off, and its slug sits fast: a part is suspected."""
    step = "oscillator-third"
    job.begin(step, WayName.COUNT)
    job.measured(StepOutcome(step, Phase.AS_FOUND, (_error("frequency error", 335.0, 1.0, 30.0),)))
    job.decided(step, Choice.ADJUST)
    stuck = _error("frequency error", 330.0, 1.0, 30.0, Signs(seized=True))
    job.measured(StepOutcome(step, Phase.ADJUST, (stuck,)))
    job.measured(StepOutcome(step, Phase.AS_LEFT, (stuck,)))
    job.decided(step, Choice.LEAVE)


def _dial(job: Job) -> None:
    """Was off all over, and is right."""
    step = "dial-second"
    job.begin(step, WayName.ZERO_BEAT)
    job.measured(_dial_outcome(Phase.AS_FOUND, DIAL_FOUND))
    job.decided(step, Choice.ADJUST)
    turned = (Turned("dial pointer", -2.5), Turned("tunable oscillator trimmer", 1.3125))
    job.measured(_dial_outcome(Phase.ADJUST, DIAL_LEFT, turned))
    job.measured(_dial_outcome(Phase.AS_LEFT, DIAL_LEFT))
    job.decided(step, Choice.LEAVE)


def _dial_outcome(phase: Phase, errors: dict[int, float], turned: tuple[Turned, ...] = ()) -> StepOutcome:
    findings = [
        Finding(
            called("dial error", "kHz"),
            f"{mark} kHz",
            figure,
            judge_error("It", figure, 1.0, in_unit("kHz")),
            mark=mark,
        )
        for mark, figure in ((mark, Estimate(error, 0.0014)) for mark, error in errors.items())
    ]
    bend = Finding(called("bend at the high end", "kHz"), "", Estimate(0.25, math.inf))
    return StepOutcome("dial-second", phase, (*findings, bend), turned)


def _activity(job: Job) -> None:
    """One band is weak but within its limit, and one is dead; nothing was turned."""
    step = "activity-first"
    job.begin(step, WayName.TEST_POINT)
    weak = Estimate(-4.266, 0.0025)
    against = called("activity against band 16", "dB")
    dead = Judged(Verdict.ADJUST, Standing.BEYOND, None, -6.0, None, "Band 19 does not oscillate: adjust it.")
    findings = (
        Finding(called("test point voltage", "V"), "16", Estimate(-6.9224, 0.0014)),
        Finding(called("test point voltage", "V"), "19", Estimate(-1.6e-7, 7.0e-7)),
        Finding(called("test point voltage", "V"), "25.5", Estimate(-4.2358, 0.0009)),
        Finding(against, "19", None, dead, "The crystal of band 19 does not oscillate."),
        Finding(against, "25.5", weak, judge_at_least("It", weak, -6.0, in_unit("dB"))),
    )
    job.measured(StepOutcome(step, Phase.AS_FOUND, findings))
    job.decided(step, Choice.LEAVE)
