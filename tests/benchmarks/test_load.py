"""Ten people at once on one small server: nothing fails, and memory stays bounded.

Run with ``pytest -m benchmark -s tests/benchmarks/test_load.py``; it takes five minutes, or
``VISUALISER_LOAD_S`` seconds.
"""

import asyncio
import itertools
import os
import time

import numpy as np
import psutil
import pytest

CHROMIUM = "/usr/bin/chromium"
PEOPLE, STEPS = 10, ("arrange", "mockup", "colours", "approve", "hang")
LASTS_S = float(os.environ.get("VISUALISER_LOAD_S", "300"))
MOST_MB = 2500

pytestmark = [pytest.mark.benchmark, pytest.mark.browser, pytest.mark.timeout(1200)]


async def person(browser, url, job_id, until, waits, troubles):
    """Go from step to step, and nudge a piece wherever pieces are arranged."""
    context = await browser.new_context(viewport={"width": 1024, "height": 768})
    page = await context.new_page()
    page.on("pageerror", lambda error: troubles.append(str(error)))
    for step in itertools.cycle(STEPS):
        if time.monotonic() > until:
            break
        started = time.perf_counter()
        await page.goto(f"{url}/?job={job_id}&step={step}", timeout=120_000)
        await page.wait_for_selector(".stage[data-showing=finished]", timeout=120_000)
        waits["page"].append(time.perf_counter() - started)
        if step == "arrange":
            await page.locator("g.piece").first.focus()
            for _ in range(3):
                await page.keyboard.press("ArrowUp")
                await asyncio.sleep(0.3)
        if await page.locator("[data-testid=stException]").count():
            troubles.append(f"an exception on the page of {step}")
        await asyncio.sleep(2)
    await context.close()


async def crowd(url, job_ids, process):
    from playwright.async_api import async_playwright

    waits, troubles, held = {"page": []}, [], []
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--headless", "--disable-gpu"]
        )
        until = time.monotonic() + LASTS_S
        people = [
            asyncio.create_task(person(browser, url, job_id, until, waits, troubles))
            for job_id in job_ids
        ]
        while not all(task.done() for task in people):
            held.append(process.memory_info().rss / 2**20)
            await asyncio.sleep(1)
        for task in people:
            task.result()
        await browser.close()
    return waits, troubles, held


def test_ten_people_at_once(server, room, capsys):
    job_ids = [room.job(f"Wall {number}")[0] for number in range(PEOPLE)]
    port = int(server.url.rsplit(":", 1)[1])
    (process,) = {
        psutil.Process(c.pid)
        for c in psutil.net_connections("tcp")
        if c.status == psutil.CONN_LISTEN and c.laddr.port == port and c.pid
    }
    before = process.memory_info().rss / 2**20
    waits, troubles, held = asyncio.run(crowd(server.url, job_ids, process))
    seen = np.array(waits["page"])
    middle = np.median(held[len(held) // 2 : 3 * len(held) // 4])
    with capsys.disabled():
        print(
            f"\n{PEOPLE} people for {LASTS_S:.0f} s: {len(seen)} pages, finished after "
            f"{np.median(seen):.1f} s (median; 95 of 100 within {np.percentile(seen, 95):.1f} s); "
            f"server {before:.0f} MB before, {middle:.0f} MB, {held[-1]:.0f} MB at the end, "
            f"{max(held):.0f} MB at most; {len(troubles)} errors"
        )
    assert not troubles
    assert "Traceback" not in (server.folder / "server.log").read_text()
    assert max(held) < MOST_MB
    assert held[-1] < 1.25 * middle
