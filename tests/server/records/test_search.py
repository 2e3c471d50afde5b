"""Jobs are found by receiver, words, step, verdict and day."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from sequences.alignment.progress import Choice, StepBegun, StepDecided, StepMeasured
from sequences.plan.content import WayName
from server.errors import OrderRefused
from server.records import search
from server.records.store import Store
from tests.server.records.samples import FOUND, JOB, NOTES, empty_place

MOST = 4
"""A history of few jobs, so that the record is soon filled."""

FIRST_DAY = datetime(2026, 11, 23, 9, 30, tzinfo=UTC)
MEASURED_ONLY = (
    StepBegun("filter-t2", WayName.SWEEP),
    StepMeasured(FOUND, at_s=1e9),
    StepDecided("filter-t2", Choice.LEAVE),
)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A record with three jobs, begun a day apart: aligned, measured only, and of another receiver."""
    with empty_place(request, tmp_path_factory.mktemp("record")) as place:
        days = [FIRST_DAY]
        opened = Store(place, now=lambda: days[-1])
        aligned = opened.begin_job(JOB)
        for note in NOTES:
            opened.note(aligned, note)
        days.append(FIRST_DAY + timedelta(days=1))
        measured = opened.begin_job(replace(JOB, serial="77%", owner="Åse", remark=""))
        for note in MEASURED_ONLY:
            opened.note(measured, note)
        days.append(FIRST_DAY + timedelta(days=2))
        other = opened.begin_job(replace(JOB, receiver_id="millrace-5", receiver_name="Millrace 5", remark=""))
        opened.remark(other, None, "The dial cord slips at 5_5.")
        yield opened
        opened.close()


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({}, [3, 2, 1]),
        ({"receiver_id": "skerry-7"}, [2, 1]),
        ({"text": "SMELLS"}, [1]),
        ({"text": "7%"}, [2]),
        ({"text": "5_5"}, [3]),
        ({"text": "dial CORD"}, [3]),
        ({"text": "cord  the"}, [3]),
        ({"text": "cord smells"}, []),
        ({"text": " "}, [3, 2, 1]),
        ({"text": "åse"}, [2]),
        ({"text": "ÅSE 77"}, [2]),
        ({"text": "millrace"}, [3]),
        ({"text": "nothing of the kind"}, []),
        ({"step": "filter-t2"}, [2, 1]),
        ({"step": "filter-t1"}, [1]),
        ({"verdict": "touch up"}, [2, 1]),
        ({"verdict": "suspect a part"}, [1]),
        ({"verdict": "off"}, [2]),
        ({"verdict": "suspect"}, [1]),
        ({"verdict": "unmeasured"}, [1]),
        ({"verdict": "unmeasured", "step": "filter-t2"}, []),
        ({"verdict": "suspect a part", "step": "filter-t2"}, [1]),
        ({"since_utc": "2026-11-24"}, [3, 2]),
        ({"until_utc": "2026-11-24"}, [2, 1]),
        ({"since_utc": "2026-11-24", "until_utc": "2026-11-24"}, [2]),
        ({"since_utc": "2026-11-24T09:30:00.001Z"}, [3]),
        ({"until_utc": "2026-11-24T11:29:59+02:00"}, [1]),
        ({"until_utc": "2026-11-24T11:30:00+02:00"}, [2, 1]),
        ({"receiver_id": "skerry-7", "text": "marsh", "since_utc": "2026-11-24"}, [2]),
    ],
)
def test_jobs_are_found(store: Store, wanted: dict[str, str], found: list[int]) -> None:
    assert [job["id"] for job in store.jobs(**wanted)] == found


def test_a_job_in_the_list_tells_how_its_steps_ended(store: Store) -> None:
    aligned = store.jobs()[-1]

    assert aligned["counts"] == {"good": 0, "off": 0, "suspect": 1, "blocked": 0, "unjudged": 0, "unmeasured": 1}
    assert aligned["steps_done"] == 2
    assert aligned["owner"] == "A. Reed"
    assert not {"receiver_file", "claim_pid"} & set(aligned)


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        ({"since_utc": "yesterday"}, "'yesterday' is no day or time; write 2026-11-25"),
        ({"verdict": "fine"}, "'fine' is no verdict; ask for one of leave, touch up"),
    ],
)
def test_what_cannot_be_asked_for_is_one_sentence(store: Store, wanted: dict[str, str], sentence: str) -> None:
    with pytest.raises(OrderRefused, match=sentence):
        store.jobs(**wanted)


def years_of(store: Store, days: list[datetime], count: int) -> list[int]:
    """Measure one receiver once a year; the clock stands at the last of `days`."""
    jobs = []
    for year in range(count):
        days.append(FIRST_DAY.replace(year=1950 + year))
        jobs.append(store.begin_job(JOB))
        for note in MEASURED_ONLY:
            store.note(jobs[-1], note)
    days.append(FIRST_DAY.replace(year=1950))
    store.begin_job(JOB)  # of which nothing was measured
    return jobs


@pytest.mark.parametrize("count", [MOST, MOST + 1, 3 * MOST + 2])
def test_of_very_many_jobs_the_history_tells_of_some_and_says_so(
    place: str, count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the first to the last, with gaps between them that differ by one at most."""
    monkeypatch.setattr(search, "MOST_JOBS_IN_HISTORY", MOST)
    days = [FIRST_DAY]
    store = Store(place, now=lambda: days[-1])
    jobs = years_of(store, days, count)
    history = store.history("skerry-7")
    store.close()

    told = list(dict.fromkeys(row["job_id"] for row in history.figures))
    assert (history.jobs, history.jobs_shown, len(told)) == (count, MOST, MOST)
    assert (told[0], told[-1]) == (jobs[0], jobs[-1])
    gaps = {later - earlier for earlier, later in pairwise(told)}
    assert max(gaps) - min(gaps) <= 1
    assert [row["at_utc"] for row in history.figures] == sorted(row["at_utc"] for row in history.figures)


@pytest.mark.parametrize(
    ("wanted", "jobs"),
    [
        ({}, [1, 2]),
        ({"serial": "77%"}, [2]),
        ({"since_utc": "2026-11-24"}, [2]),
        ({"until_utc": "2026-11-23"}, [1]),
        ({"since_utc": "2026-11-25"}, []),
    ],
)
def test_figures_are_found_by_serial_and_day(store: Store, wanted: dict[str, str], jobs: list[int]) -> None:
    history = store.history("skerry-7", **wanted)

    assert list(dict.fromkeys(row["job_id"] for row in history.figures)) == jobs
    assert history.jobs == history.jobs_shown == len(jobs)
