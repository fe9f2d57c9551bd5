"""The interface against its own OpenAPI text: no request ends in a 5xx, and every answer is as it is described."""

from __future__ import annotations

import atexit
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
    unsupported_method,
)

from wheelwork.api.described import EXAMPLES
from wheelwork.app import make_app
from wheelwork.settings import Settings

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    unsupported_method,
]

shelf = TemporaryDirectory()
atexit.register(shelf.cleanup)
described = schemathesis.openapi.from_asgi("/openapi.json", make_app(Settings(data=Path(shelf.name))))


@described.hook
def map_body(context: schemathesis.HookContext, body: Any) -> Any:
    """Lets plans meet a sheet, or nearly every one would name a sheet that is not here and be left unread."""
    if isinstance(body, dict) and isinstance(body.get("plan"), dict) and body.get("part") is None:
        body["plan"]["part"] = "turnstone-58"
    return body


@described.parametrize()
@settings(max_examples=50, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_the_interface_is_as_it_describes_itself(case: schemathesis.Case[Any]) -> None:
    case.call_and_validate(checks=CHECKS)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_is_answered(client: TestClient, name: str) -> None:
    answer = client.post("/api/check", json=EXAMPLES[name]["value"])
    assert answer.status_code == 200
    described["/api/check"]["POST"].validate_response(answer)


def test_no_shape_is_described_to_which_nothing_leads(client: TestClient) -> None:
    text = client.get("/openapi.json").text
    shapes = client.get("/openapi.json").json()["components"]["schemas"]
    assert {"CheckBody", "PlanTable", "SheetTable", "Checked", "Problems"} <= shapes.keys()
    assert [name for name in shapes if f'"#/components/schemas/{name}"' not in text] == []
