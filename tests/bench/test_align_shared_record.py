"""`peakwright align` with its record in PostgreSQL, as in a shop where several benches share one."""

from sequences.kinds import alignment_plan
from server.records.store import Store
from tests.bench.steps import shipped
from tests.bench.talk import Talk
from tests.postgresql import Cluster

ARGUMENTS = ("skerry-7", "--practice", "--seed", "6", "--speed", "1000")
FIRST_STEPS = 3


def test_an_alignment_stops_and_goes_on_in_a_shared_record(postgresql: Cluster) -> None:
    """Stopped after three steps; what a second program finds is where the first one stopped."""
    steps = len(alignment_plan(shipped("skerry-7")).steps)
    with postgresql.database() as url:
        with Talk(*ARGUMENTS, store=url) as talk:
            while f"Step {FIRST_STEPS + 1} of" not in (talk.listen() or ""):
                talk.type("")
            talk.type("stop")
            assert talk.end() == (0, "")
        with Talk(*ARGUMENTS, store=url) as talk:
            assert f"stopped after {FIRST_STEPS} of {steps} steps" in (talk.listen() or "")
            talk.type("resume")
            assert f"Step {FIRST_STEPS + 1} of" in (talk.listen() or "")
            talk.type("stop")
            assert talk.end() == (0, "")

        store = Store(url)
        job = store.job(1)
        runs = [store.run(run["id"]) for run in job["runs"]]
        (listed,) = store.jobs()
        store.close()

    assert (job["state"], listed["steps_done"]) == ("paused", FIRST_STEPS)
    assert all(run["readings"] and run["ending"] == "completed" for run in runs)
