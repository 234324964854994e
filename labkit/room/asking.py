"""What the pages of a room ask for, read in one way; and how it is answered."""

from __future__ import annotations

from typing import Any, Final

from starlette.requests import HTTPConnection, Request
from starlette.responses import PlainTextResponse, Response

from labkit.page.app import of_this_page, said_in

_A_DAY: Final = 24 * 3600


async def asked_for(request: Request) -> dict[str, Any] | None:
    """What a page of this host asks for; None for what came from elsewhere, or is no such thing."""
    said = await said_in(request)
    return said if of_this_page(request) and isinstance(said, dict) else None


def word(said: dict[str, Any], name: str) -> str:
    """The text under a name; "" where there is none."""
    found = said.get(name, "")
    return found if isinstance(found, str) else ""


def words(said: dict[str, Any], name: str) -> list[str]:
    """The texts in the list under a name; none where there is no such list."""
    found = said.get(name)
    return [each for each in found if isinstance(each, str)] if isinstance(found, list) else []


def number(said: dict[str, Any], name: str) -> int:
    """The whole number under a name; 0 where there is none."""
    found = said.get(name)
    return found if isinstance(found, int) and not isinstance(found, bool) else 0


def no(sentence: str, status: int = 403) -> Response:
    """A refusal: a sentence that the page shows."""
    return PlainTextResponse(sentence, status)


def too_many(wait: float) -> Response:
    """A refusal for so many seconds."""
    return no(f"Too many wrong tries: wait {round(wait + 0.5)} seconds.", 429)


def address(asked: HTTPConnection) -> str:
    """Where the asking device is."""
    return asked.client.host if asked.client else ""


def give(request: Request, answer: Response, name: str, shown: str, path: str = "/") -> None:
    """A pass for this browser alone; over plain http no browser keeps a Secure cookie."""
    secure = request.url.scheme == "https"
    answer.set_cookie(
        name, shown, max_age=_A_DAY, path=path, secure=secure, httponly=True, samesite="strict"
    )
