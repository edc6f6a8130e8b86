"""Every address of the app sent what its OpenAPI description allows, and what it does not."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from starlette.testclient import TestClient
from web_served import token

from futtock.yard import Journal, place_of

EXAMPLES = 6
_MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
_BY_TURNS = ("/papers", "/frames/settings", "/rack", "/lines", "/layout")
"""What changes the vessel comes last, so that the others are tried on a whole one."""


@pytest.mark.slow
def test_nothing_that_is_sent_breaks_the_pages(
    small_app: FastAPI, small: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sent data made from the description, and data that breaks it, every address answers without
    a server's error or a trace, under the strict policy; the journal stays whole, and nothing is
    written beside the folder. Long work is not begun: that it was asked for is noted.
    """
    asked: list[str] = []
    tasks = small_app.state.office.tasks
    monkeypatch.setattr(tasks, "begin", lambda kind, **_: asked.append(kind))
    folder = small_app.state.office.folder
    beside = {p.name for p in folder.parent.iterdir()}
    headers = {"X-Futtock-Token": token(small), "Host": "localhost"}
    cookies = dict(small.cookies)
    schema = schemathesis.openapi.from_asgi("/openapi.json", small_app, headers=headers)
    operations = [o.ok() for o in schema.get_all_operations()]
    assert len(operations) > 45
    operations.sort(
        key=lambda o: (o.method != "get", o.path.startswith(_BY_TURNS), o.path == "/papers/{name}")
    )
    answers: Counter[int] = Counter()
    wrong: list[str] = []

    def try_one(case: Any) -> None:
        answer = case.call(base_url="http://localhost", headers=headers, cookies=cookies)
        answers[answer.status_code] += 1
        said = answer.content.decode("utf-8", "replace")
        policy = answer.headers.get("content-security-policy", [""])[0]
        later = answer.status_code == 503 and "later" in said
        if (
            (answer.status_code >= 500 and not later)
            or "Traceback" in said
            or "default-src 'none'" not in policy
        ):
            wrong.append(f"{answer.status_code}: {case.as_curl_command()[:600]}")

    for operation in operations:
        for mode in _MODES:
            trial = settings(
                max_examples=EXAMPLES, derandomize=True, database=None, deadline=None,
                phases=[Phase.generate], suppress_health_check=list(HealthCheck),
            )(given(case=operation.as_strategy(generation_mode=mode))(try_one))  # fmt: skip
            try:
                trial()
            except schemathesis.errors.InvalidSchema:
                continue
            except Exception as error:  # nothing can be made that breaks it
                if (
                    "negate" not in str(error).lower()
                    and "Unsatisfiable" not in type(error).__name__
                ):
                    raise
    assert wrong == []
    assert answers[200] > 20
    assert answers[422] > 50
    with Journal(place_of(folder)) as journal:
        assert not [f for f in journal.verify() if f.severity == "fault"]
    assert {p.name for p in folder.parent.iterdir()} == beside
    assert set(asked) <= {
        "layout",
        "heal",
        "enough",
        "patterns",
        "sheets",
        "slabs",
        "book",
        "photo",
    }
