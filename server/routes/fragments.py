"""The parts of the page as HTML, for a page that only swaps them in."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from sequences.kinds import alignment_plan
from server.api.plan_views import plan_view, receiver_view
from server.api.scan_views import scan_summary, scan_view
from server.api.service import Service
from server.fragments.places import fragment
from server.fragments.sources import Json, Query
from server.routes.parts import Client, ServiceDep

router = APIRouter(include_in_schema=False)


@router.get("/fragments/{place:path}", response_class=HTMLResponse)
def read_fragment(place: str, request: Request, service: ServiceDep, client: Client) -> HTMLResponse:
    """Give what stands at a place of the page, as this client sees it."""
    html = fragment(ServiceSources(service, client), place, dict(request.query_params))
    return HTMLResponse(html, headers={"Cache-Control": "no-store"})


class ServiceSources:
    """What the page's parts are made of, from a running service."""

    def __init__(self, service: Service, client: str | None) -> None:
        self._service = service
        self._client = client

    def bench(self) -> Json:
        """Tell how the bench stands."""
        return self._service.bench_for(self._client)

    def receivers(self) -> list[Json]:
        """List the receivers."""
        return [receiver_view(one.receiver) for one in self._service.receivers]

    def plan(self, receiver_id: str) -> Json:
        """Give the steps of a receiver's plan."""
        receiver = self._service.receivers[receiver_id].receiver
        return plan_view(receiver, alignment_plan(receiver))

    def jobs(self, query: Query) -> list[Json]:
        """List the jobs that fit a search, newest first."""
        names = {"since": "since_utc", "until": "until_utc"}
        asked: dict[str, Any] = {names.get(name, name): value for name, value in query.items()}
        return self._service.store.jobs(**asked)

    def job(self, job_id: int) -> Json:
        """Give a job with its steps."""
        return self._service.jobs.view(job_id)

    def history(self, receiver_id: str, query: Query) -> Json:
        """Give the figures of a receiver over the years."""
        found = self._service.store.history(
            receiver_id, query.get("serial"), since_utc=query.get("since"), until_utc=query.get("until")
        )
        return {"figures": found.figures, "jobs": found.jobs, "jobs_shown": found.jobs_shown}

    def scans(self) -> list[Json]:
        """List the kept runs, newest first."""
        return [scan_summary(run) for run in self._service.store.runs()]

    def scan(self, scan_id: int) -> Json:
        """Give one run."""
        return scan_view(self._service.store.run(scan_id))
