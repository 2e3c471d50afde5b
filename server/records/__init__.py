"""The record: jobs and runs, every reading and event, on disk before anybody sees it.

`store.py` is what the rest of the server uses; below it each module has one subject:

- `place.py`: where a record is kept, a SQLite file or a PostgreSQL database, and how it is opened;
- `tables.py`: what is kept, table by table; `schema.py` and `migrations/`: how an older record becomes that;
- `owner.py`: which program has a run or a job in hand; `programs.py`: whether that still lives;
- `database.py`: transactions, and the one sentence a fault of the database becomes;
- `runs.py`: runs with their readings; `jobs.py`: jobs with their notes and answers; `attachments.py`: remarks, photos;
- `archive.py`, `job_export.py`, `job_import.py`, `intake.py`: a whole job as one file, out and in;
- `when_taken.py`: how older records and files said when a figure was taken;
- `search.py`: finding jobs, and a receiver's figures over the years.
"""
