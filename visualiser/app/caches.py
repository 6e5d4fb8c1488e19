"""What is kept of the core's answers, how long, and how much of it, whoever is working."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import streamlit as st

from visualiser.app.measuring import MeasuringStopped
from visualiser.errors import ProjectError, VisualiserError

if TYPE_CHECKING:
    from visualiser.photo.photo import Photo

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Outcome(Generic[T]):
    """A value, or why there is none: failures take as long as successes and are kept as well."""

    value: T | None
    error: VisualiserError | None = None

    def unwrap(self) -> T:
        """Give the value, or raise why there is none."""
        if self.error is not None:
            raise type(self.error)(self.error.message, hint=self.error.hint)
        assert self.value is not None
        return self.value


def _outcome(work: Callable[[], T]) -> Outcome[T]:
    try:
        return Outcome(work())
    except (ProjectError, MeasuringStopped):
        raise  # a missing file may be put back at any moment, and so with measuring: never kept
    except VisualiserError as error:
        return Outcome(None, error)


# Large things have their own, short shelves: a decoded photo of 12 megapixels takes 36 MB, a wall
# made ready 6 MB, an artwork up to 12 MB. Together no more than about 1.2 GB, whoever is working.
@st.cache_resource(max_entries=16, ttl=1800, show_spinner=False)
def cached_wall(key: str, _work: Callable[[], Any]) -> Outcome[Any]:  # noqa: ARG001 - is hashed
    """Keep walls made ready."""
    return _outcome(_work)


@st.cache_resource(max_entries=72, ttl=1800, show_spinner=False)
def cached_artwork(key: str, _work: Callable[[], Any]) -> Outcome[Any]:  # noqa: ARG001 - is hashed
    """Keep artworks as they are drawn."""
    return _outcome(_work)


@st.cache_resource(max_entries=6, ttl=1800, show_spinner=False)
def cached_photo(key: str, _work: Callable[[], Any]) -> Outcome[Any]:  # noqa: ARG001 - is hashed
    """Keep decoded photos."""
    return _outcome(_work)


def kept_photo(key: str, load: Callable[[], Photo]) -> Photo:
    """Decode a wall's photo, or give the one kept by the hash of its content."""
    photo: Photo = cached_photo(key, load).unwrap()
    return photo


@st.cache_resource(max_entries=300, ttl=1800, show_spinner=False)
def cached_answer(key: str, _work: Callable[[], Any]) -> Outcome[Any]:  # noqa: ARG001 - is hashed
    """Keep all that is small."""
    return _outcome(_work)
