"""``visualiser start``: a job from nothing, as far as its plan where everything is given."""

from __future__ import annotations

import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.job import (
    Measured,
    SizeOption,
    UnitsOption,
    WallKindOption,
    job_data,
    say_needs,
    wall_sentence,
)
from visualiser.cli.output import (
    AsJson,
    Force,
    fail,
    finding_data,
    print_json,
    say,
    say_findings,
    working,
    write_file,
)
from visualiser.cli.plan import DespiteOption
from visualiser.errors import ProjectError, VisualiserError

if TYPE_CHECKING:
    from visualiser.findings import Finding
    from visualiser.inventory.piece import Piece
    from visualiser.inventory.piece_list import ListedPiece
    from visualiser.project.products import SurveyedWall
    from visualiser.project.store import Project
    from visualiser.rendering.mockup import Mockup


class Stage(StrEnum):
    """How far to go, each stage with those before it."""

    measure = "measure"
    proposals = "proposals"
    mockup = "mockup"
    approval = "approval"
    plan = "plan"


def start(
    folder: Annotated[Path, typer.Argument(help="New folder for the job.")],
    photo: Annotated[Path | None, typer.Option(help="Photograph of the wall.")] = None,
    reference: Annotated[
        str,
        typer.Option(
            metavar="KIND",
            help="What of known size is on the wall: a4, letter, …, card, target, or “4 x 6 in”.",
        ),
    ] = "a4",
    floor: Annotated[
        str,
        typer.Option(
            metavar="FLOOR",
            help="“sheet 1300”: height of the reference's lower edge above the floor; not needed "
            "where the floor shows in the photo.",
        ),
    ] = "",
    size: SizeOption = "",
    pieces: Annotated[
        Path | None, typer.Option(metavar="LIST", help="List of the pieces, CSV or JSON.")
    ] = None,
    artworks: Annotated[
        Path | None,
        typer.Option(
            help="Folder of the artworks' files; without --pieces each is a piece, named by title "
            "and size: “heron 40x50.jpg”."
        ),
    ] = None,
    furniture: Annotated[
        list[str] | None,
        typer.Option(
            metavar="THING",
            help="“sofa 2200 x 850 at 900”: width, height, left side; may be given again.",
        ),
    ] = None,
    zone: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ZONE",
            help="To keep clear: “switch 80 x 80 at 3500, 1050”; may be given again.",
        ),
    ] = None,
    wall: WallKindOption = "",
    units: UnitsOption = None,
    name: Annotated[str, typer.Option(help="What the job is called; the folder's name else.")] = "",
    family: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Way of hanging to try; may be given again."),
    ] = None,
    count: Annotated[int, typer.Option(min=1, max=20, help="How many proposals.")] = 3,
    through: Annotated[
        Stage,
        typer.Option(help="How far to go; each stage's files are put into the job's folder out."),
    ] = Stage.measure,
    despite: DespiteOption = "",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Start a job from a photo and a list: measure it, say what it needs, or go on to its plan."""
    import visualiser as vis
    from visualiser.cli.pieces import listed_pieces
    from visualiser.cli.wall_marks import reference_typed
    from visualiser.project.document import Document
    from visualiser.project.filling import read_picture, with_marks
    from visualiser.project.made_files import refuse_place
    from visualiser.project.phrases import floor_of, furniture_of, zone_of
    from visualiser.units import parse_size

    unit = units or "mm"
    # All that was given is read before the folder is made: what cannot be read leaves nothing.
    values: dict[str, Any] = {"reference": reference_typed(reference)}
    if floor:
        values |= floor_of(floor, unit)
    if size:
        values["width_mm"], values["height_mm"] = parse_size(size, unit)
    if wall:
        values["wall"] = wall.strip().lower()
    marked: list[Any] = [furniture_of(words, unit) for words in furniture or []]
    marked += [zone_of(words, unit) for words in zone or []]
    document = with_marks(Document(name=name or folder.name, units=unit), marked, values)
    if photo is not None:
        read_picture(photo, of_wall=True)
    listed: list[ListedPiece] = []
    ignored: tuple[str, ...] = ()
    works = Path()
    if pieces is not None or artworks is not None:
        listed, ignored, works = listed_pieces(pieces, artworks, unit)
        for item in listed:
            if item.artwork_file:
                read_picture(works / item.artwork_file)
    refuse_place(folder / "job")
    with working("Starting the job …"):
        job = vis.create_project(folder, document)
        if photo is not None:
            job = job.add_photo(photo)
        if listed:
            job = job.add_pieces(listed, works)
    road = _Road(job, force, despite)
    stage_fault: VisualiserError | None = None
    try:
        with working("Measuring, arranging and drawing …"):
            road.go(through, family, count)
    except VisualiserError as error:
        stage_fault = error
    _answer(road, through, stage_fault, ignored, as_json)


class _Road:
    """The stages from a filled job to its plan, each made from the one before."""

    def __init__(self, job: Project, force: bool, despite: str) -> None:
        self.job, self._force, self._despite = job, force, despite
        self.wall: SurveyedWall | None = None
        self.measured = Measured(None)
        self.files: dict[str, Path] = {}
        self.findings: tuple[Finding, ...] = ()
        self._drawn: dict[str, Mockup] = {}
        self._pieces: tuple[Piece, ...] = ()  # held, so that their artworks stay decoded

    def go(self, through: Stage, families: list[str] | None, count: int) -> None:
        """Go as far as asked; what a stage cannot do stops there."""
        stages = list(Stage)
        for stage in stages[: stages.index(through) + 1]:
            match stage:
                case Stage.measure:
                    self._measure()
                    if self.measured.fault is not None and through is not Stage.measure:
                        raise self.measured.fault
                case Stage.proposals:
                    self._propose(families, count)
                case Stage.mockup:
                    self._mockup()
                case Stage.approval:
                    self._approval()
                case Stage.plan:
                    self._plan()

    def _measure(self) -> None:
        from visualiser.project.products import surveyed_wall

        if self.job.document.photo is None and self.job.document.wall.width_mm is None:
            return
        try:
            self.wall = surveyed_wall(self.job)
            self.measured = Measured(self.wall.survey)
        except VisualiserError as error:
            self.measured = Measured(None, error)

    def _propose(self, families: list[str] | None, count: int) -> None:
        import visualiser as vis
        from visualiser.arrangement.setting import piece_colours
        from visualiser.photo.encoding import encode_png

        pieces, rules = self.job.pieces(), self.job.guidelines()
        self._pieces = pieces
        if not pieces:
            raise ProjectError(
                "The job has no pieces to arrange.",
                hint=f"Add them: visualiser pieces {self.job.folder} --from pieces.csv",
            )
        if self.wall is None:
            raise ProjectError(
                "Nothing is known of the wall yet.",
                hint=f"Add a photo: visualiser job {self.job.folder} --photo wall.jpg",
            )
        survey = self.wall.survey
        colours = piece_colours(pieces)
        proposals = vis.propose(
            pieces, survey, rules, families or None, count, 0, colours=colours or None
        )
        document, letters = self.job.document, []
        for arrangement in proposals:
            document, letter = document.with_option(arrangement)
            letters.append(letter)
        self.job = self.job.save(document.changed(chosen=letters[0]))
        self.findings = proposals[0].findings
        for arrangement, letter in zip(proposals, letters, strict=True):
            drawn = vis.draw_elevation(arrangement, survey, guidelines=rules)
            self._write(f"option-{letter}.png", encode_png(drawn))

    def _mockup(self) -> None:
        from visualiser.photo.encoding import encode_jpeg
        from visualiser.project.products import prepared

        if self.wall is None or self.wall.photo is None:
            return  # a wall of typed size has nothing to draw over
        chosen = self.job.document.option().id
        result = prepared(self.job, chosen, self.wall).mockup()
        self._drawn[chosen] = result
        self._write("mockup.jpg", encode_jpeg(result.pixels, title=self.job.document.name))

    def _approval(self) -> None:
        from visualiser.printing.approval import approval_pdf
        from visualiser.printing.approval_page import WIDEST_PX, approval_html
        from visualiser.project.products import approval_sheet

        today = datetime.date.today().isoformat()
        sheet = approval_sheet(
            self.job, (), today, self.wall, self._despite, self._drawn, WIDEST_PX
        )
        self._write("approval.pdf", approval_pdf(sheet))
        self._write("options.html", approval_html(sheet, self.job.document.units))

    def _plan(self) -> None:
        from visualiser.printing.hanging_plan import plan_pdf
        from visualiser.printing.templates import templates_pdf
        from visualiser.project.products import prepared

        plan = prepared(self.job, "", self.wall).hanging_plan(accepted=self._despite)
        self.findings = plan.findings
        self._write("plan.pdf", plan_pdf(plan, title=self.job.document.name))
        self._write("templates.pdf", templates_pdf(plan))

    def _write(self, name: str, data: bytes) -> None:
        place = self.job.folder / "out" / name
        write_file(place, data, force=self._force)
        self.files[name] = place


def _answer(
    road: _Road,
    through: Stage,
    fault: VisualiserError | None,
    ignored: tuple[str, ...],
    as_json: bool,
) -> None:
    job = road.job
    if as_json:
        data = {
            **job_data(job, road.measured),
            "files": {name: str(place) for name, place in road.files.items()},
            "ignored_columns": list(ignored),
        }
        data["findings"] += finding_data(road.findings)
        if fault is not None:
            fail(fault, as_json=True, extra={"done": False, **data})
        print_json({"done": True, **data})
        return
    count = len(job.document.pieces)
    say(f"Started {job.folder} with {count} piece{'' if count == 1 else 's'}.", as_json=False)
    if ignored:
        say(f"Columns not read: {', '.join(ignored)}.", as_json=False)
    survey = road.measured.survey
    say(wall_sentence(job, survey), as_json=False)
    kind = job.document.wall.kind
    said = f"is taken for {kind}" if kind and kind != "unknown" else "is of unknown build"
    say(f"The wall {said}; lengths without a unit are {job.document.units}.", as_json=False)
    for option in job.document.options:
        chosen = ", chosen" if option.id == job.document.chosen else ""
        say(f"  option {option.id}  {option.name or option.family}{chosen}", as_json=False)
    for place in road.files.values():
        say(f"  {place}", as_json=False)
    shown = survey.plane.findings if survey is not None and survey.plane is not None else ()
    say_findings((*shown, *road.findings), as_json=False, units=job.document.units)
    if fault is not None:
        fail(fault, as_json=False)
    if through is Stage.measure or not road.files:
        say_needs(job, road.measured, as_json=False)
