"""The gate before every request: how often, from whose page, by whom, and whether they may keep.

Reading is open. Keeping is open too where neither a passphrase nor a user's header is set; else it takes one of them:

- a user whom a trusted proxy names (`request.state.user`),
- the passphrase, as `Authorization: Bearer …` (RFC 6750, section 2.1) or by the pass that a browser got for it.

`request.state.may_keep` says how it stands, for pages; where the shelf is written it is asked for again (`leave.py`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from threading import Lock
from time import time

from fastapi.concurrency import run_in_threadpool
from starlette.requests import cookie_parser
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from wheelwork.access.addresses import Asker, asker_of, header, user_named
from wheelwork.access.counts import Rate, WrongOnes
from wheelwork.access.leave import WANTING
from wheelwork.access.origin import SAFE, foreign
from wheelwork.access.passphrase import Passphrase
from wheelwork.access.telling import Tell
from wheelwork.findings import Problem
from wheelwork.settings import Settings, read_passphrase

COOKIE = "wheelwork_pass"
CHALLENGE = {"WWW-Authenticate": 'Bearer realm="Wheelwork"'}
NOT_COUNTED = ("/static/", "/healthz", "/readyz", "/metrics")
NO_PASSPHRASE = Problem(
    "passphrase", "keeping here needs the passphrase", "give it at /who, or send Authorization: Bearer with it"
)
WRONG = Problem("passphrase", "this is not the passphrase", "ask whoever keeps the server for it")
NO_USER = Problem(
    "user", "keeping here is for users whom the lab's proxy names", "come by the address that your lab has for it"
)


@dataclass
class Access:
    """What the gate goes by, and what it remembers."""

    settings: Settings
    passphrase: Passphrase | None = None
    rate: Rate = field(default_factory=lambda: Rate(0))
    wrong: WrongOnes = field(default_factory=WrongOnes)
    _one_at_a_time: Lock = field(default_factory=Lock)

    @property
    def open(self) -> bool:
        """Whether everyone may keep."""
        return self.passphrase is None and not self.settings.user_header

    def asker(self, scope: Scope) -> Asker:
        """Who asks."""
        return asker_of(scope, self.settings.trusted_proxies)

    def user(self, scope: Scope, asker: Asker) -> str:
        """The user whom a trusted proxy names; empty where none does."""
        name = self.settings.user_header
        return user_named(scope, name) if name and asker.proxied else ""

    def pass_ends(self, scope: Scope) -> int | None:
        """When the pass that a browser shows ends; None where it shows none."""
        if self.passphrase is None:
            return None
        return self.passphrase.pass_ends(cookie_parser(header(scope, b"cookie")).get(COOKIE, ""), time())

    async def try_passphrase(self, given: str, asker: Asker) -> tuple[Problem, int, Mapping[str, str]] | None:
        """None where it is right; else the problem with its status and headers. Wrong ones are counted."""
        return self._too_many(asker.key) or await run_in_threadpool(self._try, given, asker.key)

    def _try(self, given: str, key: str) -> tuple[Problem, int, Mapping[str, str]] | None:
        """One after the other, so that many sent at once are counted like any others."""
        assert self.passphrase is not None
        if self.passphrase.is_known(given):
            return None
        with self._one_at_a_time:
            if (refusal := self._too_many(key)) is not None:
                return refusal
            if self.passphrase.is_right(given):
                self.wrong.forget(key)
                return None
            self.wrong.add(key)
        return WRONG, 401, CHALLENGE

    def _too_many(self, key: str) -> tuple[Problem, int, Mapping[str, str]] | None:
        seconds = self.wrong.wait(key)
        return _wait("passphrase", "too many wrong ones came from this address", seconds) if seconds else None


def make_access(settings: Settings) -> Access:
    """The gate's rules by the settings. Raises UnfitSettings where the passphrase's file cannot be read."""
    text = read_passphrase(settings)
    return Access(settings, Passphrase(text) if text else None, Rate(settings.rate))


class Gate:
    """Lets a request pass, with what is known of whoever asks, or answers why not."""

    def __init__(self, app: ASGIApp, access: Access, tell: Tell) -> None:
        self.app = app
        self.access = access
        self.tell = tell

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand the request on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        asker = self.access.asker(scope)
        refusal = self._too_often(scope, asker) or _foreign(scope, asker) or await self._settle(scope, asker)
        if refusal is not None:
            problem, status, headers = refusal
            answer: Response = self.tell(scope, [problem], status)
            answer.headers.update(headers)
            await answer(scope, receive, send)
            return
        mark = WANTING.set(None if scope["state"]["may_keep"] else self._wanting())
        try:
            await self.app(scope, receive, send)
        finally:
            WANTING.reset(mark)

    def _too_often(self, scope: Scope, asker: Asker) -> tuple[Problem, int, Mapping[str, str]] | None:
        if asker.address is None or asker.here or scope["path"].startswith(NOT_COUNTED):
            return None
        seconds = self.access.rate.wait(asker.key)
        return (
            _wait("address", f"more than {self.access.settings.rate} requests a minute", seconds) if seconds else None
        )

    async def _settle(self, scope: Scope, asker: Asker) -> tuple[Problem, int, Mapping[str, str]] | None:
        """Write down who asks and whether they may keep; a wrong passphrase is refused wherever it would change."""
        access, state = self.access, scope.setdefault("state", {})
        state["user"] = access.user(scope, asker)
        state["may_keep"] = access.open or bool(state["user"]) or access.pass_ends(scope) is not None
        kind, _, given = header(scope, b"authorization").partition(" ")
        if state["may_keep"] or access.passphrase is None or kind.lower() != "bearer" or scope["method"] in SAFE:
            return None
        refusal = await access.try_passphrase(given, asker)
        state["may_keep"] = refusal is None
        return refusal

    def _wanting(self) -> tuple[Problem, int]:
        return (NO_USER, 403) if self.access.passphrase is None else (NO_PASSPHRASE, 401)


def _foreign(scope: Scope, asker: Asker) -> tuple[Problem, int, Mapping[str, str]] | None:
    problem = foreign(scope, asker)
    return None if problem is None else (problem, 403, {})


def _wait(where: str, what: str, seconds: float) -> tuple[Problem, int, Mapping[str, str]]:
    whole = math.ceil(seconds)
    allowed = f"try again in {whole} {'second' if whole == 1 else 'seconds'}"
    return Problem(where, what, allowed), 429, {"Retry-After": str(whole)}
