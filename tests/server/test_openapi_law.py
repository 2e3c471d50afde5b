"""What the OpenAPI description says and what the service does are the same, by an outside tool that tries both out."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from server.api.seat import CLIENT_HEADER
from tests.server.processes import FakeService

CHECKS = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "negative_data_rejection",
    "unsupported_method",
    "missing_required_header",
)
"""Not among them: that whatever fits its shape is granted. A day may be no day, and a job not there."""

ENDLESS = "/api/live"
NO_PATCH = "/api/jobs/import"
"""For a PATCH it is a job by the name of `import`, which is refused as no number."""


def test_an_outside_tool_finds_no_contradiction(tmp_path: Path) -> None:
    """Requests that keep to the description and requests that do not, drawn by a seed.

    With `--phases coverage,fuzzing` it also tries every method at every address, which takes minutes.
    """
    tool = Path(sys.executable).parent / "schemathesis"
    if not tool.exists() and not os.environ.get("CI"):
        pytest.skip("schemathesis is not installed here")
    with FakeService(tmp_path) as service:
        base = str(service.http.base_url).rstrip("/")
        command = [str(tool), "run", f"{base}/api/openapi.json", "--url", base, "--seed", "1", "--max-examples", "3"]
        command += ["--phases", "fuzzing", "--checks", ",".join(CHECKS), "--request-timeout", "60"]
        command += ["-H", f"{CLIENT_HEADER}: one", "--exclude-path", ENDLESS, "--exclude-path", NO_PATCH, "--no-color"]
        run = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)

    assert run.returncode == 0, run.stdout
    assert "Tested:" in run.stdout
