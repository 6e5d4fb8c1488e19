"""What is made of a job: mock-up, plan and templates, from a wall measured once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from visualiser.arrangement.arrangement import Arrangement
from visualiser.photo.photo import Photo
from visualiser.project.store import Project
from visualiser.raster import shrunk
from visualiser.survey.survey import Survey

if TYPE_CHECKING:
    from visualiser.hanging.plan import HangingPlan
    from visualiser.printing.approval import ApprovalSheet
    from visualiser.rendering.compositing import PreparedWall
    from visualiser.rendering.mockup import Mockup, MockupOptions
    from visualiser.survey.main_light import MainLight


@dataclass(frozen=True, slots=True)
class SurveyedWall:
    """A job's wall as measured, and the photo it was measured in; None for a typed wall."""

    photo: Photo | None
    survey: Survey
    _ready: dict[tuple[str, int | None], PreparedWall] = field(
        default_factory=dict, repr=False, compare=False
    )
    _lights: list[MainLight] = field(default_factory=list, repr=False, compare=False)

    def prepared(self, options: MockupOptions) -> PreparedWall:
        """Prepare the photo to be drawn on, once for options that ask for the same wall.

        All options of a job share its marks; only the wall's colour differs between them.
        """
        from visualiser.rendering.compositing import prepare_wall

        assert self.photo is not None
        wanted = (options.wall_colour, options.max_side_px)
        if wanted not in self._ready:
            self._ready.clear()  # a photo of 12 megapixels is large: one at a time
            self._ready[wanted] = prepare_wall(self.photo, self.survey, options)
            if options.max_side_px is None:
                self._lights[:] = [self._ready[wanted].light.main]
        return self._ready[wanted]

    def main_light(self) -> MainLight:
        """Measure where the light comes from, or take it from the photo as prepared."""
        from visualiser.survey.light import estimate_light

        assert self.photo is not None
        if not self._lights:
            self._lights[:] = [estimate_light(self.photo, self.survey).main]
        return self._lights[0]


@dataclass(frozen=True, slots=True)
class Prepared:
    """One arrangement of a job on its measured wall: all that its products are made of."""

    job: Project
    option_id: str
    wall: SurveyedWall
    arrangement: Arrangement

    def mockup(self, max_side_px: int | None = None) -> Mockup:
        """Draw the arrangement over the photo.

        Parameters
        ----------
        max_side_px
            Longest side to draw at; the photo's own when None.

        Raises
        ------
        ProjectError
            If the job has no photo.
        """
        from visualiser.rendering.compositing import render_mockup

        photo = self.job.photo() if self.wall.photo is None else self.wall.photo
        options = self.job.mockup_options(self.option_id or None, max_side_px)
        shared = self.wall.prepared(options) if self.wall.photo is not None else None
        return render_mockup(photo, self.wall.survey, self.arrangement, options, wall=shared)

    def answer(self) -> str:
        """Find what the person said to the option's dangers; empty where one is new or moved."""
        from visualiser.hanging.refusals import dangers

        found = dangers(self.arrangement, self.wall.survey, self.job.guidelines())
        return self.job.document.option(self.option_id or None).words_for(found)

    def answered(self, words: str = "") -> str:
        """Find the words that are printed with the option's dangers; empty where there are none.

        Parameters
        ----------
        words
            Said now; what was said in the job when empty.

        Raises
        ------
        HangingError
            If there is a danger that nobody answers for.
        """
        from visualiser.hanging.refusals import dangers, refuse_dangers

        found = dangers(self.arrangement, self.wall.survey, self.job.guidelines())
        said = words.strip() or self.answer()
        refuse_dangers(found, said)
        return said if found else ""

    def cautions(self) -> tuple[str, ...]:
        """List what could hurt somebody in its plan, in sentences."""
        return tuple(str(finding) for finding in self.hanging_plan().gravest)

    def hanging_plan(self, wall_kind: str = "", **options: Any) -> HangingPlan:
        """Plan how it hangs; ``options`` as `plan_hanging` takes them."""
        from visualiser.hanging.plan import plan_hanging

        if self.wall.photo is not None and self.wall.survey.plane is not None:
            options["light"] = self.wall.main_light()
        kind = wall_kind or self.job.document.wall.kind
        options["seismic"] = options.get("seismic") or self.job.document.wall.earthquakes
        options["ratings_kg"] = {
            **self.job.document.wall.ratings_kg,
            **(options.get("ratings_kg") or {}),
        }
        options.setdefault("guidelines", self.job.guidelines())
        options["accepted"] = options.get("accepted") or self.answer()
        return plan_hanging(self.arrangement, self.wall.survey, kind, **options)


def surveyed_wall(job: Project) -> SurveyedWall:
    """Measure a job's wall.

    Raises
    ------
    VisualiserError
        If the photo cannot be read or measured, or the wall has neither photo nor size.
    """
    photo = job.photo() if job.document.photo is not None else None
    return SurveyedWall(photo, job.survey(photo))


def prepared(job: Project, option_id: str = "", wall: SurveyedWall | None = None) -> Prepared:
    """Bring together what an option's products are made of; the chosen option when none is named.

    Parameters
    ----------
    job
        The job.
    option_id
        Which of its options.
    wall
        Its wall, where that has been measured already.

    Raises
    ------
    VisualiserError
        If the job cannot be read or measured, or has no such option.
    """
    arrangement = job.arrangement(option_id or None)
    return Prepared(job, option_id, wall or surveyed_wall(job), arrangement)


def approval_sheet(
    job: Project,
    option_ids: Sequence[str] = (),
    date: str = "",
    wall: SurveyedWall | None = None,
    despite: str = "",
    drawn: dict[str, Mockup] | None = None,
    most_px: int | None = None,
) -> ApprovalSheet:
    """Collect what the client sees from a job, mock-ups drawn where there is a photo.

    Parameters
    ----------
    job
        The job.
    option_ids
        Its options to show; all when empty.
    date
        As it is to be printed.
    wall
        Its wall, where that has been measured already.
    despite
        Words of whoever answers for an option that is dangerous; they are printed.
    drawn
        Mock-ups by option at the photo's own size, of those that are drawn already.
    most_px
        Longest side at which its pictures are looked at; the photo's own when None. A photo twice
        as large is reduced before it is drawn on: what a picture loses then, its noise, would be
        averaged away all the same.

    Raises
    ------
    VisualiserError
        If the job cannot be read or measured, has no such option, or an option is dangerous and
        nobody answers for it.
    """
    from visualiser.printing.approval import ApprovalOption, ApprovalSheet
    from visualiser.printing.approval_pictures import group_palette
    from visualiser.project.answering import reply_key

    document = job.document
    wall = wall or surveyed_wall(job)
    photo, plane, max_side_px = wall.photo, wall.survey.plane, None
    if (
        most_px is not None
        and photo is not None
        and plane is not None
        and max(photo.width_px, photo.height_px) >= 2 * most_px
    ):
        from visualiser.rendering.compositing import reduced
        from visualiser.rendering.mockup import MockupOptions

        max_side_px = most_px
        photo, _, _ = reduced(photo, wall.survey, MockupOptions(max_side_px=most_px))
    options = []
    for option_id in option_ids or [entry.id for entry in document.options]:
        shown = prepared(job, option_id, wall)
        pictured = photo is not None and plane is not None
        said = shown.answered(despite)
        mockup = None
        if pictured:
            done = (drawn or {}).get(option_id) or shown.mockup(max_side_px)
            assert photo is not None
            mockup = shrunk(done.pixels, photo.width_px, photo.height_px)
        options.append(
            ApprovalOption(
                shown.arrangement,
                mockup,
                group_palette(shown.arrangement),
                said,
                reply_key(document, document.option(option_id)),
            )
        )
    return ApprovalSheet(
        survey=wall.survey,
        options=tuple(options),
        title=document.name or "Picture group",
        date=date,
        revision=str(document.revision) if document.revision else "",
        bare=photo.pixels if photo is not None else None,
    )


def _mockup(job: Prepared) -> bytes:
    from visualiser.photo.encoding import encode_jpeg

    return encode_jpeg(job.mockup().pixels, title=job.arrangement.name or None)


def _plan(job: Prepared) -> bytes:
    from visualiser.printing.hanging_plan import plan_pdf
    from visualiser.sizes import paper_size

    return plan_pdf(job.hanging_plan(), paper_size("a4"), job.job.document.name)


def _templates(job: Prepared) -> bytes:
    from visualiser.printing.templates import templates_pdf
    from visualiser.sizes import paper_size

    return templates_pdf(job.hanging_plan(), paper_size("a4"), title=job.job.document.name)


PRODUCTS: dict[str, tuple[str, Callable[[Prepared], bytes]]] = {
    "mockup": ("mockup.jpg", _mockup),
    "plan": ("plan.pdf", _plan),
    "templates": ("templates.pdf", _templates),
}
"""File name of each product and what makes it, just as the command of that name would."""
PLANNED = ("plan", "templates")
"""Those that somebody drills by."""
