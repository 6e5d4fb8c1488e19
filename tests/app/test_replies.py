"""What the browser asked is answered, whatever runs begin meanwhile."""

import pytest
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.runtime.forward_msg_queue import ForwardMsgQueue

from visualiser.app.replies import keep_replies


@pytest.fixture
def queue(monkeypatch):
    monkeypatch.setattr(ForwardMsgQueue, "clear", ForwardMsgQueue.clear)
    keep_replies()
    keep_replies()  # as by a server that is started again in one process
    return ForwardMsgQueue()


def text(words):
    message = ForwardMsg()
    message.delta.new_element.markdown.body = words
    message.metadata.delta_path.extend([0, 0])
    return message


def places_for_files():
    message = ForwardMsg()
    message.file_urls_response.response_id = "7"
    return message


def test_where_a_file_goes_is_told_though_a_run_begins(queue):
    queue.enqueue(text("of the run before"))
    queue.enqueue(places_for_files())
    queue.clear(retain_lifecycle_msgs=True)
    assert [message.WhichOneof("type") for message in queue.flush()] == ["file_urls_response"]


@pytest.mark.parametrize("fragments", [None, ["a part"]])
def test_it_is_told_once(queue, fragments):
    queue.enqueue(places_for_files())
    queue.clear(retain_lifecycle_msgs=True, fragment_ids_this_run=fragments)
    queue.enqueue(text("of the new run"))
    kinds = [message.WhichOneof("type") for message in queue.flush()]
    assert kinds == ["file_urls_response", "delta"]
    assert queue.flush() == []
