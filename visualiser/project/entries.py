"""What every entry of a saved job is made of: texts that can be shown, numbers with bounds."""

from __future__ import annotations

import re
import unicodedata
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from visualiser.project.paths import checked_path

FARTHEST = 1e6
"""1 km in mm, and more pixels than a photo is wide."""
_HIDDEN = re.compile("[\u202a-\u202e\u2066-\u2069\ufeff]")  # they turn text around or hide in it


def checked_text(text: str) -> str:
    """Return a text unchanged when all of it can be shown.

    Raises
    ------
    ValueError
        Else.
    """
    if _HIDDEN.search(text) or any(unicodedata.category(c) in ("Cc", "Cs") for c in text):
        raise ValueError("the text holds characters that cannot be shown")
    return text


Text = Annotated[str, Field(max_length=200), AfterValidator(checked_text)]
Id = Annotated[str, Field(min_length=1, max_length=40), AfterValidator(checked_text)]
Number = Annotated[float, Field(ge=-FARTHEST, le=FARTHEST)]
Size = Annotated[float, Field(gt=0, le=FARTHEST)]
Point = tuple[Number, Number]
Colour = Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")]


class Entry(BaseModel):
    """Frozen, finite, and without keys that nothing reads."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, revalidate_instances="always"
    )


class FileEntry(Entry):
    """A picture in the job's folder."""

    path: Annotated[str, AfterValidator(checked_path)]
    sha256: Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")] = ""
