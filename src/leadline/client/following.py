"""A run's stream of events, apart from what carries it: what to send, what came, when to try again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Final, Protocol

from pydantic import ValidationError

from leadline.client.problems import problem_of
from leadline.client.talk import Call, Lost, Patience, Reply
from leadline.client.wire import ENDED, Event, RunProgress, RunState
from leadline.errors import Unreachable

__all__ = ["QUIET_S", "Following"]

QUIET_S: Final = 30.0
"""How long a stream may be silent before it is taken for broken, s; a server speaks every ten."""
NOTHING_MORE: Final = 204


class Sent(Protocol):
    """An event as it stands in a stream."""

    @property
    def id(self) -> str:
        """Its number."""
        ...

    @property
    def event(self) -> str:
        """Its kind."""
        ...

    @property
    def data(self) -> str:
        """What it says, as JSON."""
        ...


class Following:
    """Follows one run until it has ended, over as many streams as it takes.

    Parameters
    ----------
    patience
        How long the server may be away.
    run_id
        Which run.
    after
        The number of the last event that is known.
    """

    def __init__(self, patience: Patience, run_id: str, after: int = 0) -> None:
        self.run_id, self.after, self.ended = run_id, after, False
        self._tries, self._is_open, self._pause_s = patience.tries(), False, 0.0

    @property
    def pause_s(self) -> float:
        """How long to wait before the next stream is opened, s."""
        return 0.0 if self.ended else self._pause_s

    @property
    def call(self) -> Call:
        """What opens a stream of what is not known yet."""
        headers = {"accept": "text/event-stream", "cache-control": "no-store"}
        known = {"last-event-id": str(self.after)} if self.after else {}
        return Call("GET", f"/v1/runs/{self.run_id}/events", headers=headers | known)

    def opened(self) -> None:
        """Take note that a stream was opened."""
        self._is_open = True

    def refused(self, reply: Reply) -> None:
        """Take note that no stream was opened.

        Raises
        ------
        LeadlineError
            Waiting is of no use.
        """
        self._tries.patience.known = True
        if reply.status == NOTHING_MORE:
            self.ended = True
            return
        pause = self._tries.after_refusal(reply)
        if pause is None:
            raise problem_of(reply, self.call.path)
        self._pause_s = pause.seconds

    def lost(self, reason: str) -> None:
        """Take note that a stream broke off; Unreachable where waiting is of no use."""
        if self._is_open:  # it was there until now
            self._tries.there(gets_on=False)
            self._is_open = False
        self._pause_s = self._tries.after_loss(Lost(reason)).seconds

    def closed(self) -> None:
        """Take note that the server ended a stream."""
        if not self.ended:
            self.lost("it ends every stream of events")

    def take(self, sent: Sent) -> Iterator[Event]:
        """Yield the event, unless there is none in it or it is known.

        Raises
        ------
        Unreachable
            It is none of this kind of server.
        """
        if not sent.data or not sent.id:
            return
        event = _event(sent)
        if event.number <= self.after:
            return
        self._tries.there(gets_on=True)
        self.after = event.number
        self.ended = event.state in ENDED
        yield event


def _event(sent: Sent) -> Event:
    try:
        body = json.loads(sent.data)
        state = RunState(body["state"]) if sent.event == "state" else None
        progress = RunProgress.model_validate(body) if sent.event == "progress" else None
        return Event(number=int(sent.id), kind=sent.event, body=body, state=state, progress=progress)
    except (ValueError, KeyError, TypeError, ValidationError) as error:
        raise Unreachable(f"what answers is no Leadline server of this version: an event says {sent.data!r}") from error
