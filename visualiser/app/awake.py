"""The screen kept awake, where the browser allows it: for a phone that is read on a ladder."""

from __future__ import annotations

import streamlit as st

_SCRIPT = """
let lock = null;
async function hold() {
  if (lock || document.visibilityState !== "visible") return;
  try {
    lock = await navigator.wakeLock?.request("screen") ?? null;
    lock?.addEventListener("release", () => { lock = null; });
  } catch { lock = null; } // low battery, or not allowed: the screen dims as ever
}
export default function () {
  document.addEventListener("visibilitychange", hold);
  hold();
  return () => {
    document.removeEventListener("visibilitychange", hold);
    lock?.release();
    lock = null;
  };
}
"""
"""Screen Wake Lock API (W3C): the lock is lost whenever the page is hidden, and asked for anew."""


def keep_awake() -> None:
    """Keep the screen from dimming as long as this part of the page is shown."""
    awake = st.components.v2.component("visualiser.awake", html="<span hidden></span>", js=_SCRIPT)
    awake(key="keep-awake")
