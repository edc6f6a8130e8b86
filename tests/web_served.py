"""What tests of the pages share: waiting until all is worked out, and a visit's token."""

from __future__ import annotations

import re

from fastapi import FastAPI
from starlette.testclient import TestClient

from futtock.job.office.office import STEPS


def worked_out(app: FastAPI, seconds: float = 240.0) -> None:
    """Wait until every step of what is stated now is done."""
    sitting = app.state.office.sitting()
    for step in STEPS:
        assert sitting.wait(step.name, seconds), f"the {step.called} is not done"


def token(client: TestClient) -> str:
    """The token of the client's visit."""
    found = re.search(r'"X-Futtock-Token": "([0-9a-f]{64})"', client.get("/papers").text)
    assert found
    return found[1]
