"""Streamlit's answers to the browser's own questions, kept where a run of the page begins.

A browser asks where to send a file that was dropped, or for a download that is made when it is
wanted. When a run of the page begins, Streamlit throws away what is still to be sent of the run
before, and these answers with it: the browser waits for ever, and the file is lost without a word.
"""

from __future__ import annotations

from functools import wraps
from typing import Any

_REPLIES = frozenset({"file_urls_response", "backend_operation_response", "heartbeat_ack"})
"""Messages that belong to no run, by their names in Streamlit's protocol."""


def keep_replies() -> None:
    """Have the answers outlive the beginning of a run, for the whole server.

    The queue is no public part of Streamlit (1.67); where it is another one, it is left alone.
    """
    try:
        from streamlit.runtime.forward_msg_queue import ForwardMsgQueue
    except ImportError:
        return
    if not hasattr(ForwardMsgQueue.clear, "__wrapped__"):
        ForwardMsgQueue.clear = _keeping(ForwardMsgQueue.clear)  # type: ignore[method-assign]


def _keeping(clear: Any) -> Any:
    @wraps(clear)
    def clear_but_replies(queue: Any, *arguments: Any, **named: Any) -> None:
        before = getattr(queue, "_queue", [])
        clear(queue, *arguments, **named)
        if not (named.get("retain_lifecycle_msgs") or any(arguments[:1])):
            return  # all is given out to be sent
        kept = {id(message) for message in queue._queue}
        for message in before:
            if message.WhichOneof("type") in _REPLIES and id(message) not in kept:
                queue._queue.append(message)

    return clear_but_replies
