"""Conversations with a server, apart from what carries them.

A talk is a generator: it gives what is to be sent, or how long to pause, and is given what came back. The same talks
are carried by a client that waits and by one that does not, so both try again, and fail, alike.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from leadline.client.problems import problem_of
from leadline.errors import Unreachable

__all__ = ["AGAIN", "Call", "Lost", "Patience", "Pause", "Reply", "Talk", "ask"]

T = TypeVar("T")

AGAIN: Final = frozenset({429, 502, 503, 504})
"""Statuses after which the same may be asked again."""
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.1, 5.0
STRANGER_S: Final = 1.0
"""How long a server that has never answered is tried, s."""


@dataclass(frozen=True, slots=True)
class Call:
    """Something to be sent.

    Parameters
    ----------
    method, path
        What is asked.
    query, headers
        With what; None values in the query are left out.
    json, text
        The body, if any: as JSON, or as the text of a study.
    """

    method: str
    path: str
    query: Mapping[str, Any] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    json: Any = None
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Pause:
    """Some time in which nothing is to be done, s."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Reply:
    """What a server answered; header names are in lower case."""

    status: int
    headers: Mapping[str, str]
    content: bytes

    @property
    def retry_after_s(self) -> float | None:
        """How long the server asks to wait, s; None where it says nothing, or names a time of day."""
        said = self.headers.get("retry-after", "")
        return float(said) if said.isascii() and said.isdigit() else None


@dataclass(frozen=True, slots=True)
class Lost:
    """Nothing came back, and why."""

    reason: str


Talk = Generator[Call | Pause, Reply | Lost | None, T]


class Patience:
    """How long a server is tried again.

    Parameters
    ----------
    server
        Its address, for what is said of it.
    total_s
        How long one that has answered before may be away, s.
    now
        Tells the time, s.
    """

    def __init__(self, server: str, total_s: float, now: Callable[[], float] = time.monotonic) -> None:
        self.server, self.total_s, self.now = server, total_s, now
        self.known = False

    def tries(self, most_s: float | None = None) -> Tries:
        """Return the count of tries for one call, for at most so long."""
        return Tries(self, self.total_s if most_s is None else min(most_s, self.total_s), self.now())


@dataclass(slots=True)
class Tries:
    """The tries of one call."""

    patience: Patience
    most_s: float
    began: float
    pause_s: float = FIRST_PAUSE_S

    def there(self, *, gets_on: bool) -> None:
        """Take note that the server was there just now; where things get on, the next pause is short again."""
        self.patience.known = True
        self.began = self.patience.now()
        self.pause_s = FIRST_PAUSE_S if gets_on else self.pause_s

    def after_loss(self, lost: Lost) -> Pause:
        """Return how long to wait before the next try.

        Raises
        ------
        Unreachable
            It was tried long enough.
        """
        most_s = self.most_s if self.patience.known else min(STRANGER_S, self.most_s)
        pause = self._pause(0.0, most_s)
        if pause is None:
            raise Unreachable(f"the server at {self.patience.server} cannot be reached: {lost.reason}")
        return pause

    def after_refusal(self, reply: Reply) -> Pause | None:
        """Return how long to wait before the same is asked again; None where that is of no use or took too long."""
        if reply.status not in AGAIN:
            return None
        return self._pause(reply.retry_after_s or 0.0, self.most_s)

    def _pause(self, at_least_s: float, most_s: float) -> Pause | None:
        # Up to a half more, so that clients who were refused together do not come back together.
        wait_s = max(at_least_s, self.pause_s) * random.uniform(1.0, 1.5)  # noqa: S311 - no secret
        self.pause_s = min(2 * self.pause_s, LONGEST_PAUSE_S)
        late = self.patience.now() + wait_s > self.began + most_s
        return None if late else Pause(wait_s)


def ask(
    patience: Patience, call: Call, *, fine: frozenset[int] = frozenset(), most_s: float | None = None
) -> Talk[Reply]:
    """Send something, again where nothing or a refusal for now came back, and return the answer.

    Only what may be sent twice may be asked so: reading, storing by content, and what carries an idempotency key.

    Parameters
    ----------
    patience
        How long to try.
    call
        What to send.
    fine
        Statuses beyond 299 that are answers too.
    most_s
        How long to try, where that is less than the patience there is, s.

    Raises
    ------
    StudyError
        The study cannot be used as it was sent.
    Refused
        The server does not do it.
    Unreachable
        Nobody answers.
    """
    tries = patience.tries(most_s)
    while True:
        reply = yield call
        if not isinstance(reply, Reply):
            yield tries.after_loss(reply if isinstance(reply, Lost) else Lost("no answer"))
            continue
        patience.known = True
        if reply.status < 300 or reply.status in fine:
            return reply
        pause = tries.after_refusal(reply)
        if pause is None:
            raise problem_of(reply, call.path)
        yield pause
