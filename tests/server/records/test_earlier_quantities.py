"""Records of before quantities had keys open with nothing lost.

`earlier/` was written by the program of that time: `notes.json.gz` are all notes of two whole practice jobs,
`job.zip` and `record.sqlite.gz` are a short one, exported and as it lay in the record.
"""

import gzip
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from sequences.alignment.outcome import Finding
from sequences.alignment.progress import StepMeasured
from sequences.kinds import QUANTITIES
from sequences.quantities import Sense
from server.records.job_import import import_job
from server.records.notes import note_from_plain, note_to_plain
from server.records.quantities import SINCE_NAMED
from server.records.store import Store
from server.report.record import read_history
from server.report.report import make_report
from tests.server.records.samples import at_noon

EARLIER = Path(__file__).parent / "earlier"
NAMED_BUT_NOT_MET = {
    ("disagreement of two injection points", "Hz"),
    ("drift still to come", "Hz"),
    ("half of the silent zone", "Hz"),
    ("upper hump over lower hump", "dB"),
    ("zero beat behind the mixer", "Hz"),
}
"""What the two jobs did not come upon."""


def earlier_notes() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = json.loads(gzip.decompress((EARLIER / "notes.json.gz").read_bytes()))
    return rows


def earlier_findings() -> list[tuple[dict[str, Any], Finding]]:
    """Put each finding as it was written beside what is read of it now."""
    both = []
    for row in earlier_notes():
        note = note_from_plain(row["kind"], row["body"])
        if isinstance(note, StepMeasured):
            both += list(zip(row["body"]["outcome"]["findings"], note.outcome.findings, strict=True))
    return both


def test_every_figure_is_read_as_a_known_quantity_with_all_that_was_written_of_it() -> None:
    for written, read in earlier_findings():
        figure = None if read.figure is None else read.figure.value
        judged = None if read.judged is None else read.judged.text
        kept = (read.name, read.where, read.unit, figure, judged, read.reason)
        old_figure, old_judged = written["figure"], written["judged"]
        assert kept == (
            written["name"],
            written["where"],
            written["unit"],
            None if old_figure is None else old_figure["value"],
            None if old_judged is None else old_judged["text"],
            written["reason"],
        )
        assert read.quantity.key in QUANTITIES


def test_what_was_judged_has_the_sense_that_its_limit_had_then() -> None:
    """The old notes tell it by their arithmetic: beyond is figure minus limit, limit minus figure, or the size's."""
    for written, read in earlier_findings():
        old = written["judged"]
        if old is None or old["figure"] is None or old["beyond"] is None:
            continue
        value, limit, beyond = (old["figure"]["value"], old["limit"], old["beyond"]["value"])
        if read.quantity.sense is Sense.AT_LEAST:
            assert beyond == pytest.approx(limit - value)
        else:
            assert beyond == pytest.approx(abs(value) - limit)


def test_a_dial_error_knows_its_mark_as_a_number() -> None:
    dial = [read for _, read in earlier_findings() if read.quantity.key == "dial-error"]

    assert dial
    assert all(read.mark is not None and f"{read.mark:g} kHz" in read.where for read in dial)


def test_the_table_of_old_names_is_that_of_the_quantities() -> None:
    met = {(read.quantity.words, read.unit) for _, read in earlier_findings()}

    assert set(SINCE_NAMED.values()) <= set(QUANTITIES)
    assert {(one.words, one.unit): one.key for one in QUANTITIES.values()}.items() >= SINCE_NAMED.items()
    assert set(SINCE_NAMED) - met == NAMED_BUT_NOT_MET


def test_notes_read_and_written_once_more_say_the_same() -> None:
    for row in earlier_notes():
        note = note_from_plain(row["kind"], row["body"])

        assert note_from_plain(row["kind"], note_to_plain(note)) == note


def test_a_quantity_nobody_knows_keeps_its_name_and_unit() -> None:
    body = next(row["body"] for row in earlier_notes() if row["kind"] == "StepMeasured")
    body["outcome"]["findings"][0] |= {"name": "odd {figure}", "unit": "cd"}

    note = note_from_plain("StepMeasured", body)

    assert isinstance(note, StepMeasured)
    assert (note.outcome.findings[0].name, note.outcome.findings[0].unit) == ("odd {figure}", "cd")
    assert note_from_plain("StepMeasured", note_to_plain(note)) == note


def test_a_record_opens_and_a_job_file_is_taken_in_with_the_same_figures(tmp_path: Path) -> None:
    place = tmp_path / "record.sqlite"
    with gzip.open(EARLIER / "record.sqlite.gz") as packed, place.open("wb") as plain:
        shutil.copyfileobj(packed, plain)
    store = Store(str(place), now=at_noon)
    other = Store(str(tmp_path / "other.sqlite"), now=at_noon)
    with (EARLIER / "job.zip").open("rb") as file:
        taken = import_job(other, file)

    opened, imported = read_history(store, 1), read_history(other, taken)
    sections = str(make_report(store, 1, at_noon()).sections)
    store.close()
    other.close()

    assert [one.outcomes for one in opened.steps] == [one.outcomes for one in imported.steps]
    assert "drifting by" in sections
