"""Seeded hands on a job in a real browser, and a model of what the person did.

The hands drag, nudge, undo, redo, change unit and step, reload, work in a second window, and go on
while the server stands still or is killed and started again. The model knows only what the person
did and saw. Once all has settled, screen, file and model must agree; nothing lost, nothing doubled,
nobody accused.

``python -m tests.app.hands --seed 1 --minutes 10`` plays for long and prints what it counted.
"""

import argparse
import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
from playwright.sync_api import TimeoutError as WaitedInVain
from playwright.sync_api import sync_playwright

from tests.app.conftest import ROOT, _free_port, _wait_for, make_job
from tests.conftest import CHROMIUM, FLAGS
from visualiser.app import jobs
from visualiser.project.store import open_project
from visualiser.units import parse_length

STEPS = ("Arrange", "Mock-up", "Approve", "Hang")
UNITS = ("mm", "cm", "in")
STEP_MM = {"mm": 1.0, "cm": 1.0, "in": 25.4 / 16}
AGREE_MM = 1.0
"""The screen says whole millimetres, or sixteenths of an inch."""
SAVED_MM = 0.01
"""The file holds what the hand let go of; half a nudge would be a nudge lost."""
PATIENCE_S = 120.0
AGAIN_MS = 15_000
"""After so long a person clicks again."""
ACCUSATIONS = ("saved elsewhere", "could not be saved", "does not fit", "no longer on this wall")
VIEW = """() => {
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  return roots.map((r) => r.querySelector(".wall-view")).find(Boolean);
}"""
LABELS = """() => [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean)
  .flatMap((r) => [...r.querySelectorAll("g.piece")].map((g) => g.getAttribute("aria-label")))"""
HELD = """() => [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean)
  .flatMap((r) => [...r.querySelectorAll("g.piece.held")])
  .map((g) => g.getAttribute("aria-label"))"""
STATE = """() => {
  const app = document.querySelector("[data-testid=stApp]");
  return { script: app?.dataset.testScriptState, connected: app?.dataset.testConnectionState,
    stale: document.querySelectorAll("[data-stale=true]").length, url: location.search,
    unheard: [...document.querySelectorAll("[aria-hidden=true], [inert]")]
      .filter((node) => node.querySelector("[data-testid=stMain]"))
      .map((node) => `${node.localName}#${node.id}.${node.className}`),
    dialogues: document.querySelectorAll("[role=dialog]").length,
    bars: [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean)
      .flatMap((r) => [...r.querySelectorAll(".undo")]).map((b) => b.getClientRects().length),
    hidden: document.hidden, text: document.body.innerText.slice(0, 400) };
}"""
UNDER = """([x, y]) => {
  let node = document.elementFromPoint(x, y);
  while (node?.shadowRoot?.elementFromPoint(x, y)) node = node.shadowRoot.elementFromPoint(x, y);
  const name = `${node?.localName}.${node?.getAttribute("class")}`;
  return [name, Boolean(node?.closest(".wall-view"))];
}"""
OUTBOX = """() => {
  const box = globalThis.visualiserOutbox;
  const move = box && [...box.done, ...box.waiting].filter((c) => c.kind === "move").at(-1);
  return box && { last: box.last, pending: box.pending().length, piece: move?.piece, to: move?.to };
}"""


class KillableServer:
    """The app as people start it, which can stand still, be killed, and be started again."""

    def __init__(self, folder):
        self.folder, self.port = Path(folder), _free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.process = None
        self.start()

    def start(self):
        environment = {**os.environ, jobs.FOLDER_VARIABLE: str(self.folder)}
        command = [sys.executable, "-m", "streamlit", "run", str(ROOT / "streamlit_app.py")]
        log = (self.folder / "server.log").open("ab")
        self.process = subprocess.Popen(
            [*command, f"--server.port={self.port}"],
            cwd=ROOT, env=environment, stdout=log, stderr=log,
        )  # fmt: skip
        log.close()
        _wait_for(f"{self.url}/_stcore/health", 120)

    def stand_still(self, seconds, meanwhile):
        self.process.send_signal(signal.SIGSTOP)
        end = time.monotonic() + seconds
        try:
            while time.monotonic() < end:
                meanwhile()
        finally:
            self.process.send_signal(signal.SIGCONT)

    def kill(self):
        self.process.kill()
        self.process.wait(10)


class Model:
    """What the person did: places, and the steps back and forth."""

    def __init__(self, places):
        self.places = dict(places)
        self.back, self.forth = [], []
        self.saves = 0
        self.unit = "mm"

    def move(self, piece_id, place):
        if np.array_equal(self.places[piece_id], place):  # such as up, while "down" is undone
            return
        self.back = [*self.back, dict(self.places)][-100:]
        self.forth = []
        self.places[piece_id] = np.array(place)
        self.saves += 1

    def undo(self):
        self.forth.append(dict(self.places))
        self.places = self.back.pop()
        self.saves += 1

    def redo(self):
        self.back.append(dict(self.places))
        self.places = self.forth.pop()
        self.saves += 1

    def set_unit(self, unit):
        self.saves += unit != self.unit
        self.unit = unit


class Hands:
    """One person at a job, in one or two windows."""

    def __init__(self, context, server, seed, *, faults=True):
        self.rng = random.Random(seed)
        self.server, self.faults = server, faults
        self.job_id, self.project = make_job("Stair hall", quick=True)
        self.start_revision = self.project.document.revision
        self.names = {p.name: p.id for p in self.project.document.pieces}
        option = self.project.document.option()
        self.model = Model({p.piece_id: np.array([p.x_mm, p.y_mm]) for p in option.placements})
        self.context = context
        self.counts = Counter()
        self.trail = []
        self.said = {}
        self.page = self.open("arrange")
        self.pages = [self.page]

    # --- looking

    def open(self, step):
        page = self.context.new_page()
        said = self.said.setdefault(page, [])
        page.on("console", lambda m: said.append(m.text[:200]) if m.type == "error" else None)
        page.on("pageerror", lambda error: said.append(str(error)[:200]))
        page.set_default_timeout(PATIENCE_S * 1000)
        page.goto(f"{self.server.url}/?job={self.job_id}&step={step}")
        page.wait_for_function(f"() => ({LABELS})().length === {len(self.names)}")
        return page

    def shown(self, page):
        """Where a window has the pieces, as it says it to a screen reader."""
        places = {}
        for label in page.evaluate(LABELS):
            name, _, rest = label.partition(", centre ")
            across, _, rest = rest.partition(" from the side, ")
            up = rest.partition(" high")[0]
            places[self.names[name]] = np.array([self.length(across), self.length(up)])
        return places

    def labels(self):
        return self.page.evaluate(LABELS)

    def labels_in(self, unit):
        labels = self.labels()
        return len(labels) == len(self.names) and all(f" {unit} from" in one for one in labels)

    @staticmethod
    def length(text):
        text = text.replace("\u00a0", " ")
        number, _, unit = text.rpartition(" ")
        sign = -1 if number.startswith("−") else 1
        compact = number.lstrip("−") if unit == "in" else number.lstrip("−").replace(" ", "")
        return sign * parse_length(f"{compact} {unit}")

    def saved(self):
        document = open_project(self.server.folder / self.job_id).document
        return document, {
            p.piece_id: np.array([p.x_mm, p.y_mm]) for p in document.option().placements
        }

    def last_saves(self, count=28):
        """What each of the last saves changed, and which command of which page it was."""
        job = open_project(self.server.folder / self.job_id)
        states = [*filter(None, map(job.earlier, job.revisions()[-count:])), job.document]
        told = []
        for before, after in pairwise(states):
            was = {p.piece_id: (p.x_mm, p.y_mm) for p in before.option().placements}
            now = {p.piece_id: (p.x_mm, p.y_mm) for p in after.option().placements}
            moved = {i: (was.get(i), place) for i, place in now.items() if was.get(i) != place}
            others = [
                name
                for name, value in after
                if name not in ("revision", "history", "options") and value != getattr(before, name)
            ]
            command = [*after.history.applied.items()][-1:]
            told.append((after.revision, command, moved, others, len(after.history.back)))
        return told

    def until(self, what, condition, patience_s=PATIENCE_S):
        deadline = time.monotonic() + patience_s
        while not condition():
            if time.monotonic() > deadline:
                raise AssertionError(
                    f"waited in vain: {what}; after {self.trail[-12:]}; pages {self.state()}"
                )
            self.page.wait_for_timeout(25)

    def state(self):
        """What each window is doing, and what its browser has complained of."""
        return [
            (page is self.page, page.evaluate(STATE), page.evaluate(LABELS), self.said.get(page))
            for page in self.pages
        ]

    def outbox(self, page=None):
        return (page or self.page).evaluate(OUTBOX)

    # --- doing

    def drag(self):
        """Take a piece up, carry it somewhere, let it go; no snapping, as Alt is held."""
        name = self.rng.choice(sorted(self.names))
        node = self.page.locator(f"g.piece[aria-label^='{name},']")
        box = node.bounding_box()
        if box is None:
            return
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        dx, dy = self.rng.randint(-40, 40) or 5, self.rng.randint(-25, 25)
        view = self.page.viewport_size
        if not (60 < x + dx < view["width"] - 60 and 60 < y + dy < view["height"] - 60):
            dx, dy = -dx, -dy
        before = self.outbox()["last"]
        mouse = self.page.mouse
        self.page.keyboard.down("Alt")
        mouse.move(x, y)
        under, on_wall = self.page.evaluate(UNDER, [x, y])
        if not on_wall:  # it hangs where another part of the page lies, whose fields are no pieces
            self.page.keyboard.up("Alt")
            self.missed(f"drag {name} {dx},{dy} on {under}")
            return
        mouse.down()
        for k in range(1, self.rng.randint(2, 5)):
            mouse.move(x + dx * k / 5, y + dy * k / 5)
        mouse.move(x + dx, y + dy)
        self.page.evaluate("() => new Promise(requestAnimationFrame)")
        carried = bool(self.page.evaluate(HELD))  # others may move meanwhile, by an undo's answer
        mouse.up()
        self.page.keyboard.up("Alt")
        if carried or self.outbox()["last"] > before:
            self.done(name, before, f"drag {name} {dx},{dy}")
        else:  # the page was laid out anew, and the hand took hold of nothing
            self.missed(f"drag {name} {dx},{dy} on {under}")

    def nudge(self):
        """Press an arrow on a piece: one step of the unit."""
        name = self.rng.choice(sorted(self.names))
        way, key = self.rng.choice(
            [((1, 0), "Right"), ((-1, 0), "Left"), ((0, 1), "Up"), ((0, -1), "Down")]
        )
        before = self.outbox()["last"]
        self.page.locator(f"g.piece[aria-label^='{name},']").focus()
        settled = self.outbox()["pending"] == 0
        seen = self.shown(self.page)[self.names[name]]
        # The bar learns of it before the pieces do: the screen may be an undo behind.
        settled &= bool(np.abs(seen - self.model.places[self.names[name]]).max() <= AGREE_MM)
        self.page.keyboard.press(f"Arrow{key}")
        if np.array_equal(self.shown(self.page)[self.names[name]], seen):
            # A page just loaded was drawn anew, and nothing was focused; or an undo's answer took
            # the piece one step back as the key took it one on. Such a nudge waits to be sent.
            self.page.evaluate("() => globalThis.visualiserOutbox.flush()")
            if self.outbox()["last"] == before:
                self.missed(f"nudge {name} {key}")
                return
        self.done(name, before, f"nudge {name} {key}")
        if not settled:
            return  # an answer may have come between the look and the key
        moved = self.model.places[self.names[name]] - seen
        off = np.abs(moved - np.array(way) * STEP_MM[self.model.unit]).max()
        assert off <= AGREE_MM, f"a nudge of one step went {moved} mm; {self.trail[-12:]}"

    def missed(self, what):
        self.counts["missed"] += 1
        self.trail.append(f"missed {what}")

    def done(self, name, before, what):
        """Take over what the hand did: once it has let go, the piece stays as it left it."""
        self.until(f"{what} is let go", lambda: self.outbox()["last"] > before)
        state = self.noted_once(what, before)
        self.model.move(state["piece"], state["to"])  # of two that overlap, the upper one is taken
        self.count(what)

    def noted_once(self, what, before):
        """Make sure that the page took one act of the hand for one command."""
        state = self.outbox()
        times = state["last"] - before
        assert times == 1, f"{what} was noted {times} times; {self.trail[-12:]}; {self.state()}"
        return state

    def undo(self):
        if self.model.back:
            self.press_or_click("Control+z", "Undo")
            self.model.undo()
            self.count("undo")

    def redo(self):
        if self.model.forth:
            self.press_or_click("Control+y", "Redo")
            self.model.redo()
            self.count("redo")

    def press_or_click(self, keys, name):
        before = self.outbox()["last"]
        if self.rng.random() < 0.6:
            self.page.keyboard.press(keys)
        else:
            self.page.get_by_role("button", name=name, exact=True).click()
        try:
            self.until(f"{name} is noted", lambda: self.outbox()["last"] > before)
        except AssertionError as error:
            focused = self.page.evaluate("document.activeElement?.outerHTML.slice(0, 200)")
            raise AssertionError(f"{error}; the focus is on {focused}") from error
        self.noted_once(name, before)

    def choose_unit(self):
        unit = self.rng.choice([u for u in UNITS if u != self.model.unit])
        before = self.outbox()["last"]
        self.page.get_by_role("radio", name=unit, exact=True).click()
        self.until("the unit is noted", lambda: self.outbox()["last"] > before)
        self.noted_once("the unit", before)
        self.model.set_unit(unit)
        self.count("unit")

    def unit(self):
        self.choose_unit()
        self.until("the unit is saved", lambda: self.saved()[0].units == self.model.unit)
        self.until("it is shown", lambda: self.labels_in(self.model.unit))

    def step(self):
        here = self.page.get_by_role("heading", level=2).first.inner_text()
        title = self.rng.choice([t for t in STEPS if t != here])
        heading = self.page.get_by_role("heading", name=title, exact=True, level=2)
        deadline = time.monotonic() + PATIENCE_S
        while not heading.count():  # a choice on a page just connected again may be drawn over
            assert time.monotonic() < deadline, f"{title} is not shown; {self.trail[-12:]}"
            self.page.get_by_role("radio", name=title).click()
            with contextlib.suppress(WaitedInVain):
                heading.wait_for(timeout=AGAIN_MS)
        self.pieces_shown()
        self.count("step")

    def reload(self):
        self.page.reload()
        self.pieces_shown()
        self.count("reload")

    def pieces_shown(self):
        self.page.wait_for_function(f"() => ({LABELS})().length === {len(self.names)}")
        self.page.wait_for_function("() => globalThis.visualiserOutbox?.sender")  # keys are heard

    def other_window(self):
        """Go on in the other of two windows, once both show the same."""
        if len(self.pages) == 1:
            self.pages.append(self.open("arrange"))
        self.settle()
        self.page = next(page for page in self.pages if page is not self.page)
        self.page.bring_to_front()
        self.count("window")

    def stall(self):
        self.server.stand_still(5.0, self.hand)
        self.count("stall")

    def crash(self):
        self.server.kill()
        for _ in range(3):
            self.hand()
        self.choose_unit()
        self.server.start()
        self.count("crash")

    def hand(self):
        """Do what needs no answer."""
        self.rng.choices((self.drag, self.nudge, self.undo, self.redo), (5, 4, 3, 1))[0]()

    def count(self, what):
        self.counts[what.split()[0]] += 1
        self.trail.append(what)

    def act(self):
        """Do something."""
        acts = [(self.hand, 60), (self.unit, 2), (self.step, 3), (self.reload, 2)]
        acts.append((self.other_window, 1))
        if self.faults:
            acts += [(self.stall, 0.5), (self.crash, 0.5)]
        self.rng.choices([a for a, _ in acts], [w for _, w in acts])[0]()

    # --- judging

    def settle(self):
        """Wait until all is answered, then compare screen, file and model."""
        for page in self.pages:
            self.until("all is answered", lambda p=page: self.outbox(p)["pending"] == 0)

        def agrees(places, to_mm=AGREE_MM):
            return all(
                i in places and np.abs(places[i] - place).max() <= to_mm  # a page put up anew fills
                for i, place in self.model.places.items()
            )

        document, places = self.saved()
        if not agrees(places, SAVED_MM):
            raise AssertionError(f"lost: {places} for {self.model.places}; {self.trail[-25:]}")
        assert document.units == self.model.unit, f"shown in {document.units}; {self.trail[-25:]}"
        saves = document.revision - self.start_revision
        assert saves == self.model.saves, (
            f"{saves} saves for {self.model.saves}; {self.trail[-25:]}; {self.last_saves()}"
        )
        for page in self.pages:
            self.until("the screen agrees", lambda p=page: agrees(self.shown(p)))
            chosen = page.get_by_role("radio", name=document.units, exact=True)
            self.until(
                "the unit is shown", lambda one=chosen: one.get_attribute("aria-checked") == "true"
            )
            text = page.inner_text("body")
            assert not [a for a in ACCUSATIONS if a in text], text
        self.counts["settled"] += 1


def play(hands, *, seconds=None, acts=None, settle_every=25):
    """Let hands do their work for a time, or for a number of acts; settle now and then."""
    end = time.monotonic() + (seconds or 1e9)
    done = 0
    try:
        while time.monotonic() < end and done < (acts or 1e9):
            hands.act()
            done += 1
            if done % settle_every == 0:
                hands.settle()
        hands.settle()
    except WaitedInVain as error:  # the browser's own: it knows nothing of what the page was doing
        error.add_note(f"after {hands.trail[-12:]}; pages {hands.state()}")
        raise
    return hands.counts


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--calm", action="store_true", help="no stalls and no crashes")
    asked = parser.parse_args()

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        os.environ[jobs.FOLDER_VARIABLE] = folder
        server = KillableServer(folder)
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        try:
            context = browser.new_context(viewport={"width": 1280, "height": 800})
            hands = Hands(context, server, asked.seed, faults=not asked.calm)
            begun = time.monotonic()
            try:
                play(hands, seconds=60 * asked.minutes)
            finally:
                commands = sum(hands.counts[k] for k in ("drag", "nudge", "undo", "redo"))
                told = {
                    **hands.counts,
                    "commands": commands,
                    "seconds": round(time.monotonic() - begun),
                    "load": os.getloadavg(),
                }
                sys.stdout.write(json.dumps(told) + "\n")
        finally:
            browser.close()
            server.kill()


if __name__ == "__main__":
    main()
