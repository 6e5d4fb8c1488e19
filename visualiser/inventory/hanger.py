"""Kinds of hanger as values: how each bears, on how many hooks, how it is drawn and worded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, assert_never, get_args

from visualiser.errors import PieceError

HangerName = Literal[
    "wire",
    "two wires",
    "d-rings",
    "sawtooth",
    "keyhole",
    "security",
    "cleat",
    "rail",
    "strips",
]
Bears = Literal["wire", "two wires", "points", "bar", "cords", "adhesive"]
Drawn = Literal["cross", "bar", "cord", "corners"]
GoesOn = Literal["any hook", "open hook", "screw", "nothing"]
UsualSpacing = Literal["rails", "half", "two thirds", "none"]


@dataclass(frozen=True, slots=True)
class HangerKind:
    """One kind of hanger.

    Parameters
    ----------
    name
        As jobs and lists write it.
    words
        As people read it in a table or a sentence.
    part
        What carries at one hook, for the shopping list.
    bears
        How it bears: on a wire's legs, at fixed points, along a bar, from cords, by adhesive.
    drawn
        What stands for it on paper.
    usual_hooks
        Hooks where nobody says how many; 0 for strips.
    usual_spacing
        Where two points are that were not measured: on the middles of the side rails, half or two
        thirds of the width apart. Common practice, no source.
    usual_drop_mm, usual_drop_share
        The drop that is assumed where it was not measured, mm, or as a share of the height.
        Common practice, no source.
    drop
        How its drop is measured, from the top edge down.
    spacing
        What ``spacing_mm`` of the hanger is measured between.
    goes_on
        What it hangs on: any hook, where a closed one can be passed through it too; an open hook
        alone; the screw itself, where a hook does not hold it; nothing. Common practice, no source.
    allowance_kg
        What one part may carry without a maker's rating: common practice, no source. None where
        its strength follows from what it is screwed to.
    closed
        Whether it cannot be lifted or shaken off its hook.
    holes
        Whether its hooks make holes in the wall behind the piece.
    lock_up_mm
        Where it is locked to the wall, from the frame's lower edge up; None where it has no lock.
        Common practice, no source.
    """

    name: HangerName
    words: str
    part: str
    bears: Bears
    drawn: Drawn
    usual_hooks: int
    usual_spacing: UsualSpacing
    usual_drop_mm: float
    usual_drop_share: float
    drop: str
    spacing: str
    goes_on: GoesOn
    allowance_kg: float | None = None
    closed: bool = False
    holes: bool = True
    lock_up_mm: float | None = None


HANGERS: dict[HangerName, HangerKind] = {
    kind.name: kind
    for kind in (
        HangerKind(
            "wire", "wire", "picture wire", "wire", "cross", 1, "rails", 50.0, 0.0,
            "the wire pulled up taut, to where the hook will bear",
            "between the wire's two fixing points", "any hook",
        ),
        HangerKind(
            "two wires", "two wires", "picture wire", "two wires", "cross", 2, "half", 50.0, 0.0,
            "each wire pulled up taut, to where its hook will bear",
            "between the two fixing points of each wire", "any hook",
        ),
        HangerKind(
            "d-rings", "D-rings", "D-ring with its screws", "points", "cross", 2, "rails", 0.0,
            0.25, "to where the ring will bear", "between the two rings", "any hook",
        ),
        HangerKind(
            "sawtooth", "sawtooth", "sawtooth hanger", "points", "cross", 1, "half", 12.0, 0.0,
            "to where the teeth will bear", "between two sawtooth hangers", "open hook",
            allowance_kg=4.5,
        ),
        HangerKind(
            "keyhole", "keyhole plates", "keyhole plate", "points", "cross", 2, "rails", 25.0, 0.0,
            "to the narrow end of the slot, where the screw will bear", "between the two plates",
            "screw", allowance_kg=8.0,
        ),
        HangerKind(
            "security", "security hangers", "security hanger set", "points", "cross", 2, "rails",
            25.0, 0.0, "to where the upper plates will bear", "between the two upper plates",
            "screw", closed=True, lock_up_mm=10.0,
        ),
        HangerKind(
            "cleat", "cleat", "split batten or cleat", "bar", "bar", 2, "two thirds", 50.0, 0.0,
            "to the edge of the wall's half that the frame's half rests on",
            "from end to end of the cleat", "screw",
        ),
        HangerKind(
            "rail", "rail with cords", "cord or rod with its hook", "cords", "cord", 2, "rails",
            0.0, 0.25, "to where the cord's hook will bear", "between the two cords", "any hook",
            holes=False,
        ),
        HangerKind(
            "strips", "adhesive strips", "strip", "adhesive", "corners", 0, "none", 0.0, 0.0,
            "no drop: the frame's corners are marked", "", "nothing", holes=False,
        ),
    )
}  # fmt: skip
"""Every kind by its name. Sawtooth 4.5 kg (10 lb) and keyhole 8 kg: our own limits, common
practice, no source; a maker's rating governs."""
if set(HANGERS) != set(get_args(HangerName)):  # a name without its kind would fail far from here
    raise AssertionError("every name of a hanger needs its kind")


@dataclass(frozen=True, slots=True)
class Hanger:
    """How one piece hangs.

    Parameters
    ----------
    kind
        Name of one of `HANGERS`.
    drop_mm
        From the frame's top edge down to the point that bears on the hook, as measured with the
        wire pulled up; None when it has not been measured.
    spacing_mm
        Between the two rings or plates, between the wire's two fixing points, or the length of a
        cleat; None when it has not been measured.
    wire_length_mm
        Length of the wire between its fixing points, when known.
    attachment_drop_mm
        From the frame's top edge down to the wire's fixing points, when known.
    hooks
        Hooks in the wall: one or two; the usual number of the kind when None.
    hook_spacing_mm
        Between two hooks under one wire or two; a third of ``spacing_mm`` when None.
    rated_kg
        Maker's rating of the wire, of each ring, plate or cord with its screws, where known.
    """

    kind: HangerName = "d-rings"
    drop_mm: float | None = None
    spacing_mm: float | None = None
    wire_length_mm: float | None = None
    attachment_drop_mm: float | None = None
    hooks: int | None = None
    hook_spacing_mm: float | None = None
    rated_kg: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in HANGERS:
            raise PieceError(
                f"“{self.kind}” is not a kind of hanger known here.",
                hint=f"Use one of {', '.join(HANGERS)}.",
            )

    @property
    def of(self) -> HangerKind:
        """Kind as a value."""
        return HANGERS[self.kind]

    @property
    def hook_count(self) -> int:
        """Hooks that it takes: as given, or as usual; two rings measured apart take two."""
        bears = self.of.bears
        usual = self.of.usual_hooks if self.hooks is None else self.hooks
        match bears:
            case "adhesive":
                return 0
            case "points" | "bar" | "cords":
                return usual if self.spacing_mm is None else 2
            case "wire" | "two wires":
                return usual
            case _:
                assert_never(bears)
