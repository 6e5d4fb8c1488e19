"""What is said where photos cannot be joined, or not as they were taken."""

from __future__ import annotations

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.rectification.joined.next_pose import PairPose

LEAST_TIES = 16
"""Fewer points altogether may agree by chance."""


def lines_left_out(photo: int) -> Finding:
    """Say that a photo's lines contradict what ties it to others."""
    return Finding(
        "note",
        f"The room's lines in photo {photo + 1} contradict what it shares with the others and were "
        "left out.",
        "Nothing to do; a photo taken squarer to the wall would tell more.",
        "lines-left-out",
    )


def contradicting(known: int, new: int) -> MeasurementError:
    """Name two photos that would move the sheet's own photo further than it can be off."""
    return MeasurementError(
        f"Photos {min(known, new) + 1} and {max(known, new) + 1} contradict what the sheet shows.",
        hint="Things may have moved between them, or only pictures that hang before the wall are "
        "in both. Take them again, with a few notes or a second sheet on the wall where they "
        "overlap.",
    )


def cannot_join(known: int, new: int, pose: PairPose | None) -> MeasurementError:
    """Name two photos that cannot be joined, and what would help."""
    pair = f"Photos {min(known, new) + 1} and {max(known, new) + 1}"
    if pose is not None and pose.in_room.sum() >= LEAST_TIES:
        return MeasurementError(
            f"{pair} share things before the wall, but next to nothing on the wall itself.",
            hint="Tape a few notes or a second sheet to the wall where they overlap, or step back "
            "until the floor before it is in both.",
        )
    return MeasurementError(
        f"{pair} show too little in common to be joined.",
        hint="Let each photo overlap the next by a third, with something on the wall in it, such "
        "as a few notes taped up, or put a sheet there.",
    )


def unproven(known: int, new: int) -> MeasurementError:
    """Name two photos that only the floor ties, while nothing shows that the wall is the same."""
    return MeasurementError(
        f"Photos {min(known, new) + 1} and {max(known, new) + 1} share the floor, but nothing "
        f"shows that the wall in photo {new + 1} is the same one.",
        hint="Tape a few notes or a second sheet to the wall where they overlap, or let the foot "
        "of the wall show in both.",
    )


def low_front(known: int, new: int) -> MeasurementError:
    """Name two photos that share but one low plane, which may be the front of furniture."""
    return MeasurementError(
        f"All that photos {min(known, new) + 1} and {max(known, new) + 1} share of the wall lies "
        "low, and may be the front of a piece of furniture.",
        hint="Tape a few notes or a second sheet to the wall where they overlap, as high as the "
        "first sheet.",
    )


def repeating(known: int, new: int) -> MeasurementError:
    """Name two photos that fit together in more than one place."""
    return MeasurementError(
        f"Photos {min(known, new) + 1} and {max(known, new) + 1} fit together in more than one "
        "place: the wall's pattern repeats.",
        hint="Tape a few notes to the wall where they overlap, each unlike the others, or put a "
        "sheet there.",
    )


def placed_twice(known: int, new: int) -> MeasurementError:
    """Name two photos that fit together in another place than a third one puts them."""
    return MeasurementError(
        f"Photos {min(known, new) + 1} and {max(known, new) + 1} fit together in another place "
        f"than the other photos put photo {new + 1}: the wall's pattern may repeat.",
        hint="Tape a few notes to the wall where photos overlap, each unlike the others, or take "
        "out a photo that looks like another.",
    )
