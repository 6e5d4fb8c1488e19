// The page replaces its fields by others of the same name when the job changes underneath them, and
// takes buttons away that have done their work. A keyboard would then stand at the page's beginning:
// the focus is handed on to the successor, or to what stands where the lost one stood.

const HANDED_ON_MS = 3000;

class FocusKeeper {
  constructor() {
    this.last = null;
    this.byKeys = false;
    addEventListener("keydown", () => { this.byKeys = true; }, true);
    addEventListener("pointerdown", () => { this.byKeys = false; }, true);
    addEventListener("focusin", (event) => this.remember(event.target), true);
    const changes = new MutationObserver(() => this.handOn());
    changes.observe(document.body, { childList: true, subtree: true });
  }

  remember(node) {
    if (!node.matches?.("input, textarea, button, canvas, [role=combobox], [tabindex='0']")) return;
    if (node.closest("#portal")) return; // a table's field for one cell: the table itself is kept
    this.last = { node, kin: this.kinOf(node), name: this.nameOf(node) };
    this.lostAt = null;
  }

  // What another must be to be taken for the same: its kind, and its name.
  kinOf(node) {
    const kind = node.dataset?.testid ? `[data-testid="${CSS.escape(node.dataset.testid)}"]` : "";
    return node.tagName.toLowerCase() + kind;
  }

  nameOf(node) {
    if (node.tagName === "CANVAS") return "";
    return node.getAttribute("aria-label") || node.labels?.[0]?.textContent || node.textContent;
  }

  handOn() {
    if (!this.byKeys || !this.last || this.last.node.isConnected) return;
    if (document.activeElement && document.activeElement !== document.body) return;
    this.lostAt ??= performance.now();
    if (performance.now() - this.lostAt > HANDED_ON_MS) {
      this.last = null;
      return;
    }
    const { kin, name } = this.last;
    const heirs = /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll(kin));
    const heir = [...heirs].find(
      (node) => !node.disabled && this.nameOf(node) === name
    );
    heir?.focus();
  }
}

export function keepFocus() {
  globalThis.visualiserFocusKeeper ??= new FocusKeeper();
}
