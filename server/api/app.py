"""The HTTP application: routes, page, guard and errors around one service."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

from fastapi import FastAPI
from starlette.responses import FileResponse
from starlette.staticfiles import StaticFiles

from server.api.error_answers import ERROR_STATUSES, answer_errors
from server.api.guard import Guard
from server.api.service import Service
from server.fragments.setting import prepare
from server.routes import (
    archives,
    attachments,
    bench,
    downloads,
    fragments,
    health,
    jobs,
    live,
    practice,
    receivers,
    reports,
    scans,
    session,
    targets,
)


def create_app(service: Service) -> FastAPI:
    """Make the application of a service. It starts the bench with itself and ends it with itself."""

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        service.worker.start()
        watch = asyncio.create_task(service.watch_operator())
        reading = asyncio.create_task(asyncio.to_thread(prepare))
        try:
            yield
        finally:
            watch.cancel()
            await asyncio.wait({watch, reading})
            await asyncio.to_thread(service.close)

    app = FastAPI(
        title="Peakwright",
        version=version("peakwright"),
        lifespan=lifespan,
        docs_url=None,  # the framework's own pages load scripts from elsewhere
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=ERROR_STATUSES,
        # Nothing leaves this machine, whatever the environment says.
        telemetry={"auto_configure": False, "tracing": False, "metrics": False, "logs": False},
    )
    app.state.service = service
    answer_errors(app)
    for module in (
        health,
        bench,
        receivers,
        targets,
        scans,
        downloads,
        fragments,
        reports,
        live,
        archives,
        jobs,
        attachments,
        session,
        practice,
    ):
        app.include_router(module.router)
    # Found by name, so that neither the charts' package nor its dependencies are imported to serve one script.
    app.mount("/static/bokeh", StaticFiles(packages=[("bokeh", "server/static/js")]))
    app.mount("/page", StaticFiles(directory=page_folder()))
    app.add_api_route("/", _page, include_in_schema=False, response_class=FileResponse)
    app.add_middleware(Guard, settings=service.settings)
    return app


def page_folder() -> Path:
    """Give the folder of the page's files."""
    return Path(str(files("server"))) / "page"


def _page() -> FileResponse:
    return FileResponse(page_folder() / "index.html")
