"""Who is there: a form for the passphrase, which gives the browser a pass for thirty days."""

from __future__ import annotations

import re
from dataclasses import dataclass
from time import gmtime, strftime, time
from typing import Literal
from urllib.parse import urlencode, urlsplit

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.access.gate import CHALLENGE, COOKIE, Access
from wheelwork.access.leave import NoLeave
from wheelwork.access.passphrase import SECONDS_OF_A_PASS
from wheelwork.pages.rendering import render, wants_fragment
from wheelwork.pages.telling import tell

router = APIRouter(include_in_schema=False)

FIRST_PAGE = "/"
_LOCAL = re.compile(r"/(?![/\\])[!-\[\]-~]{0,60000}")
"""A path of this server: one slash first, no backslash, no space, no control sign."""


@dataclass(frozen=True, slots=True)
class WhoView:
    """What the page shows: how keeping stands for whoever looks, and where they go from here."""

    stands: Literal["open", "named", "given", "asked", "closed"]
    then: str
    user: str = ""
    until: str = ""
    fault: str = ""


@router.get("/who")
def show_who(request: Request, then: str = FIRST_PAGE) -> Response:
    """How keeping stands here, with the form where it needs the passphrase."""
    return render("who.html", page=_view(request, _local(then)))


@router.post("/who")
async def take_passphrase(request: Request) -> Response:
    """Give a browser its pass, or take it away again."""
    access, form = _access(request), await request.form(max_files=0, max_fields=10)
    given, then = form.get("passphrase"), _local(form.get("then"))
    asker = access.asker(request.scope)
    if "leave" in form:
        answer = RedirectResponse("/who", 303)
        answer.delete_cookie(COOKIE, httponly=True, samesite="lax", secure=asker.scheme == "https")
        return answer
    if access.passphrase is None or not isinstance(given, str):
        return RedirectResponse("/who", 303)
    refusal = await access.try_passphrase(given, asker)
    if refusal is not None:
        problem, status, headers = refusal
        fault = f"{problem.what[0].upper()}{problem.what[1:]}; {problem.allowed}."
        page = WhoView("asked", then, fault=fault)
        return render("who.html", status, dict(headers), page=page)
    answer = RedirectResponse(then, 303)
    answer.set_cookie(
        COOKIE,
        access.passphrase.make_pass(time()),
        max_age=SECONDS_OF_A_PASS,
        httponly=True,
        samesite="lax",
        secure=asker.scheme == "https",
    )
    return answer


def ask_who(request: Request, fault: NoLeave) -> Response:
    """What is told to who may not keep: the form where a passphrase would help and pages are read, else the problem."""
    then = _local(_path_of(request.headers.get("hx-current-url") or request.headers.get("referer") or ""))
    headers = dict(CHALLENGE) if fault.status == 401 else {}
    if wants_fragment(request):  # the script goes to the form; the plan rides in the address that leads back
        return Response(None, fault.status, {**headers, "HX-Redirect": f"/who?{urlencode({'then': then})}"})
    if fault.status == 401 and "text/html" in request.headers.get("accept", ""):
        return render("who.html", 401, headers, page=WhoView("asked", then))
    answer = tell(request.scope, [fault.problem], fault.status)
    answer.headers.update(headers)
    return answer


def _view(request: Request, then: str) -> WhoView:
    access, user = _access(request), str(request.state.user)
    ends = access.pass_ends(request.scope)
    if user:
        return WhoView("named", then, user=user)
    if access.open:
        return WhoView("open", then)
    if ends is not None:
        return WhoView("given", then, until=strftime("%Y-%m-%d", gmtime(ends)))
    return WhoView("closed" if access.passphrase is None else "asked", then)


def _access(request: Request) -> Access:
    access: Access = request.app.state.access
    return access


def _local(address: object) -> str:
    """An address of this server; the first page in place of any other."""
    return address if isinstance(address, str) and _LOCAL.fullmatch(address) else FIRST_PAGE


def _path_of(address: str) -> str:
    try:
        split = urlsplit(address)
    except ValueError:
        return FIRST_PAGE
    return f"{split.path}?{split.query}" if split.query else split.path
