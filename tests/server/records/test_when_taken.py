"""Records and job files of before figures had a field for when they were taken read as those of today."""

from typing import Any

import pytest
from sqlalchemy import select, text, update

from sequences.alignment.outcome import Phase
from sequences.alignment.progress import StepMeasured
from server.records.notes import note_from_plain, note_to_plain
from server.records.schema import NEWEST
from server.records.store import Store
from server.records.tables import FigureRow, NoteRow
from tests.server.records.samples import JOB, NOTES

FOUND, LEFT = "as found", "as left"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (("centre", "2 kHz, as found"), ("centre", "2 kHz", FOUND)),
        (("centre", "as left"), ("centre", "", LEFT)),
        (("dial error as found", "300 kHz"), ("dial error", "300 kHz", FOUND)),
        (("test point voltage", "14 as found"), ("test point voltage", "14", FOUND)),
        (("centre", "as found, band 3.5, 3750 kHz"), ("centre", "band 3.5, 3750 kHz", FOUND)),
        (("source level", "as left, 2.69 V at the meter"), ("source level", "2.69 V at the meter", LEFT)),
        (("source level", "band 7, as left, 2 V at the meter"), ("source level", "band 7, 2 V at the meter", LEFT)),
        (("dial error", "300 kHz"), ("dial error", "300 kHz", None)),
    ],
)
def test_a_note_that_says_it_in_name_or_place_is_read_as_one_that_says_it_by_itself(
    old: tuple[str, str], new: tuple[str, str, str | None]
) -> None:
    """The old ways, as the kinds of step wrote them before version 4 of the tables."""
    note = note_from_plain("StepMeasured", old_body(*old))

    assert isinstance(note, StepMeasured)
    (finding,) = note.outcome.findings
    assert (finding.name, finding.where, finding.when) == new


def old_body(name: str, where: str) -> dict[str, Any]:
    """Give a measurement's note as it used to be written: without that field."""
    finding = {"name": name, "where": where, "unit": "Hz", "figure": {"value": 1.0, "sigma": 0.1}}
    body = note_to_plain(NOTES[1])
    outcome = {**body["outcome"], "findings": [{**finding, "judged": None, "reason": None}]}
    return {**body, "outcome": outcome}


def test_a_note_of_today_is_left_as_it_is() -> None:
    assert note_from_plain("StepMeasured", note_to_plain(NOTES[1])) == NOTES[1]


def test_an_older_record_opens_with_its_figures_sorted_by_when_they_were_taken(place: str) -> None:
    """Made older by hand: the tables, the figures and the note that they came from."""
    store = Store(place)
    job_id = store.begin_job(JOB)
    for note in NOTES[:2]:
        store.note(job_id, note)
    with store._writing() as connection:  # noqa: SLF001 - stands for an older program
        connection.execute(text("DROP TABLE outputs"))
        connection.execute(text("DROP TABLE programs"))
        connection.execute(text("UPDATE alembic_version SET version_num = '2'"))
        connection.execute(update(NoteRow).where(NoteRow.seq == 1).values(body=old_body("centre", "2 kHz, as left")))
        connection.execute(
            update(FigureRow).where(FigureRow.place == 0).values(name="centre", where="2 kHz, as left", phase="adjust")
        )
    store.close()

    store = Store(place)

    first, second = store.history("skerry-7").figures
    assert (first["name"], first["where"], first["phase"]) == ("centre", "2 kHz", LEFT)
    assert (second["name"], second["where"], second["phase"]) == ("error", "", FOUND)
    (finding,) = store.progress(job_id).current.last.findings  # type: ignore[union-attr]
    assert (finding.name, finding.where, finding.when) == ("centre", "2 kHz", Phase.AS_LEFT)
    assert store.claim(job_id) is None, "there is a table for programs"
    with store._reading() as connection:  # noqa: SLF001 - the version is looked at from below
        assert (
            connection.execute(select(text("version_num")).select_from(text("alembic_version"))).scalar_one() == NEWEST
        )
    store.close()
