"""The route of the hand-over: a plan as text of one form or another, for the firmware and the project file."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Query, Request
from starlette.responses import Response

from wheelwork.api.described import EXAMPLES, CheckBody, Problems
from wheelwork.api.faults import Refused
from wheelwork.api.routes import REFUSALS, library_of, read_body
from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.handover.forms import Form, Wish, file_name, forms
from wheelwork.handover.names import LONGEST_PREFIX, PREFIX, read_prefix
from wheelwork.judge import judge

router = APIRouter(prefix="/api/handover", tags=["hand-over"])
ASKED = ("prefix", "reasons")
TRUTHS = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}


def _described() -> dict[str, Any]:
    """The media type of each form, as the OpenAPI text names it."""
    kinds = {form.media_type: {"schema": _schema(form)} for form in forms().values()}
    return {"description": "The text.", "content": kinds}


def _schema(form: Form) -> dict[str, str]:
    return {"type": "object" if form.media_type == "application/json" else "string"}


_NO_FORM: dict[int | str, dict[str, Any]] = {404: {"model": Problems, "description": "No such form."}}


@router.post("/{form}", responses={**REFUSALS, **_NO_FORM, 200: _described()}, response_class=Response)
def hand_over(
    form: Annotated[str, Path(description=f"A form: {', '.join(forms())}.", examples=["c"])],
    body: Annotated[CheckBody, Body(openapi_examples=EXAMPLES)],
    request: Request,
    prefix: Annotated[
        str, Query(description=f"What every name begins with, at most {LONGEST_PREFIX} characters.")
    ] = PREFIX,
    reasons: Annotated[str, Query(description="Whether each value has its reason beside it: yes or no.")] = "yes",
) -> Response:
    """A plan as text: every setting and frequency under its name, with what stands outside said in it twice."""
    known = forms()
    if form not in known:
        like = nearest(form, known)
        offer = f"did you mean {like}?" if like else f"{name_list(list(known))} are"
        raise Refused([Problem("form", f"{quote(form)} is no form of hand-over", offer)], 404)
    wish = _read_wish(prefix, reasons, request)
    judgement = judge(*read_body(body.plan, body.part, library_of(request)))
    headers = {"Content-Disposition": f'inline; filename="{file_name(judgement, known[form])}"'}
    text = known[form].write(judgement, wish)
    return Response(text.encode("utf-8", "replace"), media_type=known[form].media_type, headers=headers)


def _read_wish(prefix: str, reasons: str, request: Request) -> Wish:
    """How the text is wanted. Raises Refused with all that is wrong with it."""
    problems = [
        Problem(f"query.{key[:100]}", f"{quote(key)} is no key here", f"{name_list(ASKED)} are")
        for key in request.query_params
        if key not in ASKED
    ]
    try:
        read_prefix(prefix)
    except Unreadable as fault:
        problems.append(fault.at("query.prefix"))
    if reasons not in TRUTHS:
        problems.append(Problem("query.reasons", f"{quote(reasons)} is neither", "write yes or no"))
    if problems:
        raise Refused(problems)
    return Wish(prefix, TRUTHS[reasons])
