// Tells the service what happened. Every event is kept here first and sent until it is answered, so a lost network loses
// no tap; its id is chosen here, so sending twice keeps it once. Works over plain HTTP: no crypto.randomUUID needed.
const KEY = "sawbill.outbox";
const UNDO_MS = 10000;

const words = () => document.body.dataset;
const read = () => JSON.parse(localStorage.getItem(KEY) || "[]");
const write = (events) => localStorage.setItem(KEY, JSON.stringify(events));

// Events that another had told already: what was to be said of them is not, for it would be wrong.
const doubtful = new Set();

function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function now() {
  const here = new Date();
  const minutes = -here.getTimezoneOffset();
  const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const local = new Date(here.getTime() + minutes * 60000).toISOString().slice(0, 19);
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

export async function flush() {
  for (const event of read()) {
    let answer;
    try {
      answer = await fetch("/api/events", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(event) });
    } catch {
      break;
    }
    if (answer.status >= 500) break;
    if (answer.ok) {
      const { before } = await answer.json();
      if (before) {
        doubtful.add(event.id);
        setTimeout(() => sayBefore(event.subject, before));
      }
    }
    if (answer.status === 409 && event.kind === "undone") setTimeout(() => say(words().refused, null));
    write(read().filter((other) => other.id !== event.id));
  }
  const left = read().length;
  const place = document.getElementById("unsent");
  if (place) {
    place.hidden = left === 0;
    place.textContent = place.dataset.text.replace("{n}", left);
  }
  return left === 0;
}

export async function tell(kind, subject, more = {}) {
  const event = { id: newId(), kind, at: now(), station: words().station || "station", subject, ...more };
  write([...read(), event]);
  await flush();
  return event;
}

// Scrolls a drawing that is wider than the screen to its chalk line: where to cut is what the page is asked for.
function toTheCut() {
  for (const view of document.querySelectorAll(".bar")) {
    const line = view.querySelector(".d-cut");
    if (!line || view.scrollWidth <= view.clientWidth) continue;
    const [at, seen] = [line.getBoundingClientRect(), view.getBoundingClientRect()];
    view.scrollLeft += at.left + at.width / 2 - (seen.left + seen.width / 2);
  }
}

// Puts the page's new contents in the place of the old without a jump.
export async function show(address, { push = true } = {}) {
  let text;
  try {
    const answer = await fetch(address, { headers: { accept: "text/html" } });
    text = await answer.text();
  } catch {
    return; // no network: the page stays, what was tapped is kept and sent later
  }
  const fresh = new DOMParser().parseFromString(text, "text/html");
  for (const name of ["#live", "header.strip", "#acts"]) {
    const old = document.querySelector(name);
    const next = fresh.querySelector(name);
    if (old && next) old.replaceWith(next);
    else if (old && !next) old.remove();
    else if (next) document.getElementById("live").after(next);
  }
  document.body.dataset.station = fresh.body.dataset.station;
  document.title = fresh.title;
  toTheCut();
  if (push) history.replaceState(null, "", address);
}

let timer;
function say(text, undo, stays = false) {
  const box = document.getElementById("said");
  const button = box.querySelector("button");
  clearTimeout(timer);
  box.querySelector("span").textContent = text;
  button.hidden = !undo && !stays;
  button.textContent = stays ? words().seen : words().undoWord;
  button.onclick = stays ? () => { box.hidden = true; } : undo || null;
  box.hidden = false;
  if (!stays) timer = setTimeout(() => { box.hidden = true; }, UNDO_MS);
}

// Says who told it before, until somebody has seen it.
function sayBefore(subject, before) {
  const text = before.kind === "scrapped" ? words().wasScrapped : words().wasCut;
  const how = { timeZone: words().zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit" };
  const when = new Date(before.at).toLocaleString("sv-SE", how);
  say(text.replace("{subject}", subject).replace("{station}", before.station).replace("{when}", when), null, true);
}

document.addEventListener("click", async (click) => {
  const button = click.target.closest("[data-tell]");
  if (!button) return;
  click.preventDefault();
  if (button.disabled) return;
  button.disabled = true;
  const { tell: kind, subject, about, reason, said, undo, then, back: home } = button.dataset;
  const more = {};
  if (about) more.about = about;
  if (reason) more.reason = reason;
  const event = await tell(kind, subject, more);
  const back = then || location.pathname;
  await show(back);
  if (said && !doubtful.has(event.id)) {
    say(said, undo === "no" ? null : async () => {
      document.getElementById("said").hidden = true;
      await tell("undone", subject, { about: event.id });
      await show(home || back);
    });
  }
  button.disabled = false;
});

// Links within a station change the page in place, so that what was just said stays, and can be taken back.
const station = () => location.pathname.split("/").slice(0, 3).join("/");
document.addEventListener("click", (click) => {
  const link = click.target.closest("a[href]");
  if (!link || click.defaultPrevented || click.ctrlKey || click.metaKey || click.shiftKey || click.button !== 0) return;
  const there = new URL(link.href, location.href);
  if (there.origin !== location.origin || !`${there.pathname}/`.startsWith(`${station()}/`)) return;
  click.preventDefault();
  show(there.pathname + there.search);
});
document.addEventListener("submit", (sent) => {
  const form = sent.target.closest("form.scan");
  if (!form) return;
  sent.preventDefault();
  show(`${new URL(form.action).pathname}?${new URLSearchParams(new FormData(form))}`);
});

window.addEventListener("online", flush);
window.addEventListener("resize", toTheCut);
toTheCut();
setInterval(flush, 5000);
flush();
