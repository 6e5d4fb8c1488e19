// Asks the program what has happened behind the page's back (see news.py). Nothing is drawn for that.

const FIRST_AGAIN_MS = 4000, LONGEST_AGAIN_MS = 64000, HANDS_REST_MS = 1500;

/**
 * What the program says of a job or of work under way; null where it does not answer.
 * @param {Record<string, string>} about
 * @returns {Promise<{ saved: number | null, ended: boolean, says?: string } | null>}
 */
export async function newsOf(about) {
  try {
    const answer = await fetch(`news?${new URLSearchParams(about)}`, { cache: "no-store" });
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

// When hands touched the page last.
function lastTouched() {
  const kept = globalThis.visualiserTouched ??= { at: -Infinity, heard: false };
  if (!kept.heard) {
    kept.heard = true;
    for (const name of ["pointerdown", "pointerup", "keydown", "input", "drop"]) {
      addEventListener(name, () => { kept.at = performance.now(); }, true);
    }
  }
  return kept.at;
}

// Whether the page is being drawn, or about to be by what hands do. To have it drawn anew then would give
// up that run, and with it a button that has been pressed and not been come to yet. What hands did before
// the page was drawn last has been come to: with the time of that drawing it is not waited for.
/** @param {number} drawnAt */
export function isBusy(drawnAt = -Infinity) {
  const state = document.querySelector('[data-testid="stApp"]')?.getAttribute("data-test-script-state");
  const touched = lastTouched();
  return state === "running" || (touched > drawnAt && performance.now() - touched < HANDS_REST_MS);
}

// Whether the job has been saved elsewhere, as in a second window. The page is told of each save once,
// and again, ever more rarely, as long as it shows an older one.
export class SavedElsewhere {
  constructor(ask = newsOf, busy = isBusy) {
    this.ask = ask;
    this.busy = busy;
    /** @type {number | null | undefined} */
    this.told = undefined;
    /** @type {number | null | undefined} */
    this.saved = undefined;
    this.job = "";
    /** @type {(saved: number | null) => void} */
    this.tell = () => {};
    this.againMs = this.againAt = 0;
  }

  // The page shows a job as of a save; with `tell` it can be told of a newer one.
  shows(job, saved, tell) {
    if (job !== this.job || saved !== this.saved) this.told = undefined;
    Object.assign(this, { job, saved, tell });
  }

  async look(now = performance.now()) {
    if (this.busy()) return;
    const { job, saved } = this;
    const news = await this.ask({ job });
    if (!news || this.busy() || news.saved === saved || job !== this.job || saved !== this.saved) return;
    const again = news.saved === this.told;
    if (again && now < this.againAt) return;
    this.againMs = again ? Math.min(2 * this.againMs, LONGEST_AGAIN_MS) : FIRST_AGAIN_MS;
    this.againAt = now + this.againMs;
    this.told = news.saved;
    this.tell(news.saved);
  }
}
