"""HTTP(S), polled politely: asked only for what is new, and more seldom while it fails."""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from urllib.parse import unquote, urlsplit

import httpx

from layers.earth.errors import InputError
from layers.feeds.arrival import BackOff, Incoming
from layers.ingest.pieces import LARGEST_FILE

TIMEOUT_S = 20.0
WHOLE_S = 120.0  # from the first byte to the last
MOST_REDIRECTS = 3
AGENT = "Musterplot (feed reader; asks with If-None-Match)"


class WebTransport:
    """One address, asked again after ``every_s`` seconds.

    Parameters
    ----------
    address : str
        ``http://`` or ``https://``.
    every_s : float
        Seconds between two questions while all is well.
    jitter : float
        0 to 1; spreads the tries after a failure.
    """

    def __init__(self, address: str, every_s: float, jitter: float) -> None:
        self.address = address
        self._back_off = BackOff(every_s, jitter)
        self._client = httpx.Client(
            timeout=TIMEOUT_S,
            follow_redirects=True,
            max_redirects=MOST_REDIRECTS,
            headers={"User-Agent": AGENT},
        )
        self._marks: dict[str, str] = {}
        self.next_at: datetime | None = None

    @property
    def failures(self) -> int:
        """Failures in a row."""
        return self._back_off.failures

    def poll(self, now: datetime) -> list[Incoming]:
        """Return the answer when it is time to ask and there is a new one."""
        if self.next_at is not None and now < self.next_at:
            return []
        asked_to_wait_s = 0.0
        try:
            content, asked_to_wait_s = self._ask()
            self._back_off.failures = 0
        except (httpx.HTTPError, httpx.InvalidURL) as fault:
            self._back_off.failures += 1
            said = str(fault) or type(fault).__name__
            raise InputError(f"{self._host()} does not answer ({said[:160]})") from None
        except InputError as fault:
            self._back_off.failures += 1
            asked_to_wait_s = getattr(fault, "wait_s", 0.0)
            raise
        finally:
            wait_s = max(self._back_off.wait_s(), min(asked_to_wait_s, 86_400.0))
            self.next_at = now + timedelta(seconds=wait_s)
        if content is None:
            return []
        return [Incoming(source=self._name(), received_at=now, content=content)]

    def _ask(self) -> tuple[bytes | None, float]:
        with self._client.stream("GET", self.address, headers=self._marks) as answer:
            if answer.status_code == httpx.codes.NOT_MODIFIED:
                return None, 0.0
            if answer.status_code != httpx.codes.OK:
                raise _Refused(
                    f"{self._host()} answers {answer.status_code} {answer.reason_phrase}",
                    _seconds(answer.headers.get("Retry-After", "")),
                )
            content = self._body(answer)
            marks = {"ETag": "If-None-Match", "Last-Modified": "If-Modified-Since"}
            self._marks = {
                question: answer.headers[name]
                for name, question in marks.items()
                if name in answer.headers
            }
            return content, 0.0

    def _body(self, answer: httpx.Response) -> bytes:
        held, length, until = [], 0, time.monotonic() + WHOLE_S
        for block in answer.iter_bytes():
            length += len(block)
            if length > LARGEST_FILE:
                raise _Refused(
                    f"{self._host()} sends more than {LARGEST_FILE // 1024**2} MB", 3_600.0
                )
            if time.monotonic() > until:
                raise _Refused(f"{self._host()} takes more than {WHOLE_S:.0f} s to send", 0.0)
            held.append(block)
        return b"".join(held)

    def _host(self) -> str:
        return urlsplit(self.address).hostname or self.address

    def _name(self) -> str:
        parts = urlsplit(self.address)
        return unquote(parts.path.rsplit("/", 1)[-1]) or parts.hostname or self.address

    def close(self) -> None:
        """Close the connections."""
        self._client.close()


class _Refused(InputError):
    """An answer that is no data; ``wait_s`` is how long the server asks to be left alone."""

    def __init__(self, what: str, wait_s: float) -> None:
        super().__init__(what)
        self.wait_s = wait_s


def _seconds(text: str) -> float:
    return float(text) if text.isdecimal() else 0.0
