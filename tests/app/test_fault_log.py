"""What is logged of a fault tells where it happened, and nothing of whom the job is for."""

import logging

from visualiser.app.faults import note_fault


def test_a_fault_is_logged_without_its_message(caplog):
    caplog.set_level(logging.INFO)
    try:
        raise OSError("/jobs/Client of the corner house/project.json")
    except OSError as fault:
        note_fault("step wall", fault)
    assert "step wall failed: OSError at test_fault_log.py:" in caplog.text
    assert "corner house" not in caplog.text
