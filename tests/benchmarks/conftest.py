"""The app's server and browser, for timings of the whole round trip."""

from tests.app.conftest import page, room, server  # noqa: F401
