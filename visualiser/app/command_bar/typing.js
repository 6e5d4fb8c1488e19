// A name counts as typed, also where the person has not left its field: a photo dropped on the page
// would otherwise begin a job without it. Only names: a length half typed is none.

const NAMES = 'input[aria-label="Name of the job"]';
const REST_MS = 600;

class TypedNames {
  constructor() {
    this.field = null;
    addEventListener("input", (event) => this.typed(event.target), true);
    for (const name of ["change", "drop", "pointerdown"]) {
      addEventListener(name, (event) => { if (event.target !== this.field) this.hand(); }, true);
    }
  }

  typed(field) {
    if (!field.matches?.(NAMES)) return;
    this.field = field;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.hand(), REST_MS);
  }

  // The page takes a field's text over when it loses the focus; it is told so and keeps it.
  hand() {
    clearTimeout(this.timer);
    this.field?.dispatchEvent(new FocusEvent("focusout", { bubbles: true }));
    this.field = null;
  }
}

export function watchNames() {
  globalThis.visualiserTypedNames ??= new TypedNames();
}
