"use strict";
const byId = (id) => document.getElementById(id);
const body = document.body;

for (const slider of document.querySelectorAll(".slider input")) {
  const picture = slider.closest("section").querySelector(".picture");
  slider.addEventListener("input", () => {
    const shown = Number(slider.value);
    picture.querySelector(".after").style.clipPath = `inset(0 ${100 - shown}% 0 0)`;
    picture.querySelector(".edge").style.left = `${shown}%`;
    const said = shown > 99 ? "with the pictures" : shown < 1 ? "bare wall" : `${shown} % after`;
    slider.setAttribute("aria-valuetext", said);
  });
}

const chosen = () => document.querySelector("input[name=choice]:checked");
const heading = () =>
  body.dataset.job + (body.dataset.revision ? `, revision ${body.dataset.revision}` : "");

function answerText() {
  const pick = chosen();
  if (!pick) return "";
  const lines = [heading(), `I choose option ${pick.value}: ${pick.dataset.name}`];
  const remark = byId("remark").value.trim().replace(/\s+/g, " ");
  const by = byId("by").value.trim();
  if (remark) lines.push(`Remark: ${remark}`);
  if (by) lines.push(`From: ${by}`);
  lines.push(`Key: ${pick.dataset.key}`);
  return lines.join("\n");
}

function show() {
  const pick = chosen();
  byId("chosen").textContent = pick
    ? `Option ${pick.value} is chosen.`
    : "Nothing is chosen yet.";
  byId("text").value = answerText();
  for (const id of ["copy", "save", "share"]) byId(id).disabled = !pick;
}

document.addEventListener("input", show);

byId("copy").addEventListener("click", async () => {
  const text = byId("text");
  text.focus();
  text.select();
  try {
    await navigator.clipboard.writeText(text.value);
  } catch {
    document.execCommand("copy");
  }
  byId("done").textContent = "Copied: paste it into a message.";
});

byId("save").addEventListener("click", () => {
  const pick = chosen();
  const answer = {
    format: "wall-visualiser answer",
    version: 1,
    job: body.dataset.job,
    revision: body.dataset.revision,
    option: pick.value,
    key: pick.dataset.key,
    remark: byId("remark").value.trim(),
    from: byId("by").value.trim(),
  };
  const link = document.createElement("a");
  link.href = `data:application/json;charset=utf-8,${encodeURIComponent(JSON.stringify(answer))}`;
  link.download = "reply.json";
  link.click();
  byId("done").textContent = "Saved as reply.json: send that file.";
});

if (navigator.share) {
  byId("share").hidden = false;
  byId("share").addEventListener("click", () => {
    navigator.share({ title: heading(), text: byId("text").value }).catch(() => {});
  });
}
show();
