"""The fake's answers as the sources of the page's parts: the parts themselves are the product's."""

from collections.abc import Mapping

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from sequences.receiver.file import shipped_receivers
from server.api.plan_views import receiver_view
from server.errors import UnknownThing
from server.fragments.places import fragment
from tests.page.fake_jobs import Client, FakeJobs
from tests.page.fake_service import Json, summary


class FakeSources:
    """What one client of the fake may ask for."""

    def __init__(self, jobs: FakeJobs, client: str | None) -> None:
        self._jobs = jobs
        self._client = client

    def bench(self) -> Json:
        return self._jobs.bench.view(self._client)

    def receivers(self) -> list[Json]:
        return [receiver_view(one) for one in reversed(shipped_receivers())]

    def plan(self, receiver_id: str) -> Json:
        return self._jobs.plans[receiver_id]

    def jobs(self, query: Mapping[str, str]) -> list[Json]:
        return self._jobs.search(query)

    def job(self, job_id: int) -> Json:
        if not 0 < job_id <= len(self._jobs.jobs):
            raise UnknownThing(f"There is no job number {job_id}.")
        return self._jobs.view(job_id)

    def history(self, _receiver_id: str, _query: Mapping[str, str]) -> Json:
        return self._jobs.history_view()

    def scans(self) -> list[Json]:
        return [summary(scan) for scan in reversed(self._jobs.bench.scans)]

    def scan(self, scan_id: int) -> Json:
        if not 0 < scan_id <= len(self._jobs.bench.scans):
            raise UnknownThing(f"There is no scan number {scan_id}.")
        return self._jobs.bench.scans[scan_id - 1]


def add_fragments(app: FastAPI, jobs: FakeJobs) -> None:
    """Add the route of the page's parts."""

    @app.get("/fragments/{place:path}")
    def read_fragment(place: str, request: Request, client: Client = None) -> Response:
        try:
            return HTMLResponse(fragment(FakeSources(jobs, client), place, dict(request.query_params)))
        except UnknownThing as error:
            return JSONResponse({"error": str(error)}, status_code=404)
