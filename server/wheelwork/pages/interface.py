"""The interface described: every call with what it takes and gives, from the server's own OpenAPI text."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from wheelwork.pages.rendering import render

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Call:
    """One call of the interface."""

    method: str
    path: str
    what: str
    more: str
    takes: str
    example: str
    gives: tuple[tuple[str, str], ...]


@router.get("/api/docs")
def show_interface(request: Request) -> Response:
    """All calls, with a link to the OpenAPI text itself."""
    schema: dict[str, Any] = request.app.openapi()
    return render("interface.html", calls=tuple(_calls(schema)), version=schema["info"]["version"])


def _calls(schema: dict[str, Any]) -> Iterator[Call]:
    for path, methods in schema["paths"].items():
        for method, call in methods.items():
            body = _body(call, schema)
            gives = tuple((status, answer["description"]) for status, answer in call["responses"].items())
            what, _, more = call.get("description", call["summary"]).partition("\n")
            yield Call(method.upper(), path, what, more.strip(), body.get("description", ""), _example(body), gives)


def _body(call: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    """The shape of what a call takes, whether it stands there or is named; empty where it takes nothing."""
    shape: dict[str, Any] = call.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema", {})
    named: dict[str, dict[str, Any]] = schema.get("components", {}).get("schemas", {})
    return named.get(str(shape.get("$ref", "")).rpartition("/")[2], shape)


def _example(body: dict[str, Any]) -> str:
    properties = body.get("properties", {})
    shown = {name: about["examples"][0] for name, about in properties.items() if about.get("examples")}
    return json.dumps(shown, ensure_ascii=False) if shown else ""
