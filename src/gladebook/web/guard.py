"""What may ask this server anything: pages that it gave out itself, and nobody else.

A page of any site that is open in the same browser can send requests to this machine. Names that point to this machine
for a moment (DNS rebinding) are told by the Host header, foreign pages by Origin and Sec-Fetch-Site (W3C Fetch
Metadata), on every method.
"""

from collections.abc import Iterable
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from gladebook.view.aerial import PHOTO_HOST

__all__ = ["MOST_BYTES", "Guard", "allowed_hosts"]

MOST_BYTES: Final = 200_000_000  # of a dropped file
_MOST_ASKED: Final = 4_000_000  # of any other question; 20,000 corners take a fifth of it
_FILES: Final = ("/api/file", "/api/tracks", "/api/labels")

_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        f"img-src 'self' data: {PHOTO_HOST}",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)


def allowed_hosts(port: int) -> frozenset[str]:
    """The values of Host under which this machine's own browser asks."""
    return frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))


class Guard:
    """ASGI middleware that refuses foreign requests and too large ones, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str], most_bytes: int = MOST_BYTES) -> None:
        self._app, self._hosts, self._most = app, frozenset(hosts), most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        reason = self._refusal(Headers(scope=scope))
        if reason:
            await JSONResponse({"error": reason}, status_code=403)(scope, receive, self._with_headers(send))
            return
        length = Headers(scope=scope).get("content-length", "0")
        most = self._most if scope["path"] in _FILES else min(self._most, _MOST_ASKED)
        if not length.isdecimal() or int(length) > most:
            answer = JSONResponse({"error": "That is too large to be taken in here."}, status_code=413)
            await answer(scope, receive, self._with_headers(send))
            return
        await self._app(scope, self._counted(receive, most), self._with_headers(send))

    def _refusal(self, headers: Headers) -> str:
        if headers.get("host", "") not in self._hosts:
            return "This page answers only under its own address, as the command printed it."
        origin = headers.get("origin")
        if origin is not None and origin.removeprefix("http://") not in self._hosts:
            return "Another site's page asked for this; it was refused."
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return "Another site's page asked for this; it was refused."
        return ""

    @staticmethod
    def _counted(receive: Receive, most: int) -> Receive:
        """What comes in, up to the limit, whatever the request says of its length."""
        seen = 0

        async def inner() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > most:
                return {"type": "http.disconnect"}
            return message

        return inner

    @staticmethod
    def _with_headers(send: Send) -> Send:
        async def inner(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["content-security-policy"] = _POLICY
                headers["x-content-type-options"] = "nosniff"
                headers["referrer-policy"] = "no-referrer"
                headers["cross-origin-resource-policy"] = "same-origin"
                headers["cross-origin-opener-policy"] = "same-origin"
                headers["cache-control"] = "no-store"
            await send(message)

        return inner
