"""Jobs as a bench would have them, for the fake: one on its way, one done, and years of figures."""

from tests.page.fake_jobs import GOOD, OFF, SUSPECT, FakeJobs, finding

YEARS = range(2019, 2027)


def job_on_its_way(jobs: FakeJobs) -> int:
    """Give a Skerry 7 with three steps done, one of them off, and the beat oscillator adjusted."""
    job = jobs.create(
        "skerry-7",
        make="Skerry Works 7",
        serial="0412",
        owner="the museum",
        operator="night shift",
        room_temperature_c=21.5,
        calibration_note="Counter against a frequency standard, 3 November",
    )
    number: int = job["id"]
    job["remarks"].append({"id": 1, "at_utc": "2026-11-25T09:58:00Z", "text": "Weak on 21 MHz."})
    drift = finding("drift", 1.2, 5, "Hz a minute")
    jobs.end_step(number, "warm-up", GOOD, as_found=[drift], way="count directly")
    jobs.end_step(
        number,
        "beat-oscillator",
        GOOD,
        as_found=[finding("frequency error", -64.3, 20)],
        as_left=[finding("frequency error", 2.1, 20)],
        turned=[{"adjuster": "beat oscillator slug", "turns": -0.375}],
        advice=["Seal the slug when the set has been warm for an hour."],
        way="offset beat",
    )
    jobs.end_step(
        number,
        "passband-third",
        OFF,
        as_found=[finding("centre error", 6.1, 5, "%"), finding("skew", 0.4, 2, "dB")],
        as_left=[finding("centre error", 5.9, 5, "%"), finding("skew", None, 2, "dB")],
        doubts=["The lower edge lies outside the sweep."],
        reason="The owner wants the seals left whole.",
        way="sweep",
    )
    jobs.add_run(number, "passband-third", "as found", 210.0)
    jobs.add_run(number, "passband-third", "as left", 40.0)
    return number


def job_done(jobs: FakeJobs) -> int:
    """Give a Millrace 5 whose plan is through, with one part suspected."""
    job = jobs.create(
        "millrace-5", serial="88-1201", owner="a neighbour", state="done", ended_utc="2026-11-21T16:40:00Z"
    )
    for step in job["steps"]:
        step["state"]["ending"] = GOOD
    job["steps"][2]["state"]["ending"] = SUSPECT
    number: int = job["id"]
    return number


def years_of_figures(jobs: FakeJobs, job_id: int) -> None:
    """Give the history of one set: the beat oscillator as found and as left, once a year."""
    for year in YEARS:
        for phase, value in (("as found", 8.0 * (year - 2016)), ("as left", 0.5 * (year - 2022))):
            row = {"job_id": job_id, "at_utc": f"{year}-05-12T10:00:00Z", "step_id": "beat-oscillator", "phase": phase}
            figure = {"name": "frequency error", "where": "", "unit": "Hz", "value": value, "sigma": 1.5}
            jobs.history.append({**row, **figure, "verdict": "leave" if abs(value) < 20 else "adjust"})
