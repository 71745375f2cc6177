// Starts, watches and stops jobs; gives plans to the floor and takes them back.
const post = (address, body) => fetch(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body ?? {}) });

// Asks for something that takes a while and goes where it is watched, or says on the spot why not.
async function go(button, address, wanted) {
  const answer = await post(address, wanted);
  const told = await answer.json();
  if (answer.ok) {
    location.assign(`/planner/jobs/${told.job}`);
    return;
  }
  const place = document.getElementById("why");
  place.textContent = told.faults.map((fault) => `${fault.path}: ${fault.problem}; ${fault.fix}`).join(" · ");
  place.hidden = false;
  button.disabled = false;
}

// Asks a plan's search to end with what it has, or says on the spot why it does not.
async function keepIt(address) {
  const answer = await post(`${address}/keep`);
  if (answer.ok) return;
  const place = document.getElementById("why");
  place.textContent = (await answer.json()).faults.map((fault) => `${fault.problem}; ${fault.fix}`).join(" · ");
  place.hidden = false;
}

// Takes a plan back from the floor, or says on the spot what was done by it.
async function takeItBack(button, plan) {
  const answer = await fetch(`/api/plans/${plan}/release`, { method: "DELETE" });
  if (answer.ok) {
    location.assign(`/planner/plans/${plan}`);
    return;
  }
  const place = document.getElementById("why");
  place.textContent = (await answer.json()).faults.map((fault) => `${fault.problem}; ${fault.fix}`).join(" · ");
  place.hidden = false;
  button.disabled = false;
}

// Says what happened on the floor since a plan was made, and offers to plan again.
function movedOn(button, told) {
  const place = document.getElementById("why");
  place.replaceChildren(place.dataset.movedOn ?? "", document.createElement("br"), told.faults.slice(0, 5).map((fault) => fault.problem).join(" · "));
  if (told.faults.length > 5) place.append(` … +${told.faults.length - 5}`);
  place.hidden = false;
  const again = document.getElementById("again");
  if (told.status === "moved_on" && again) {
    again.hidden = false;
    button.hidden = true;
  } else button.disabled = false;
}

// Tells what was decided of an order and shows its page anew, or says on the spot what stands against it.
async function decide(button, address, method) {
  const answer = await fetch(`/api/orders/${address}`, { method });
  if (answer.ok) {
    location.reload();
    return;
  }
  const place = document.getElementById("why");
  place.textContent = (await answer.json()).faults.map((fault) => `${fault.problem}; ${fault.fix}`).join(" · ");
  place.hidden = false;
  button.disabled = false;
}

// The words of a text, its {names} filled in.
const fill = (text, values) => text.replace(/{(\w+)}/g, (_, name) => values[name]);

// A share as a percentage that is never less; one decimal below ten.
function percent(share) {
  const tenths = Math.ceil(share * 1000 - 1e-9);
  return tenths < 100 ? (tenths / 10).toFixed(1) : String(Math.ceil(share * 100 - 1e-9));
}

// What is proved of a stage so far, as the server says it elsewhere.
function said(stage) {
  const n = stage.proved ?? 0;
  const m = stage.parts ?? 0;
  const gap = stage.gap ?? null;
  if (m === 0) return "";
  if (stage.stage === "takeoff") return "orders: {n}";
  if (stage.stage === "sheets") return "drawn: {n}";
  if (stage.stage === "check") return "{n} of {m} hold";
  if (m === 1) {
    if (gap === null) return "";
    return n ? "proved best" : "at most {gap} % from the best";
  }
  if (n === m) return "all {n} proved best";
  return gap === null ? "{n} of {m} proved best" : "{n} of {m} proved best, the rest at most {gap} % from it";
}

const MINUTES_FROM_S = 90;
function left(seconds, words) {
  if (seconds < 1) return words["nearly done"];
  if (seconds < MINUTES_FROM_S) return fill(words["about {n} s left"], { n: Math.ceil(seconds) });
  return fill(words["about {n} min left"], { n: Math.ceil(seconds / 60) });
}

// Puts a plan's state into the page: nothing moves, bars grow and words change in their places.
function show(page, state, words) {
  for (const stage of state.making?.stages ?? []) {
    const row = page.querySelector(`[data-stage=${stage.stage}]`);
    const whole = Math.round((stage.done ?? 0) * 100);
    row.querySelector(".tape > i").style.width = `${whole}%`;
    row.querySelector(".tape > i").hidden = whole === 0;
    row.querySelector(".tape").setAttribute("aria-valuenow", whole);
    const text = said(stage);
    row.querySelector("[data-said]").textContent = text && fill(words[text], { n: stage.proved ?? 0, m: stage.parts, gap: percent(stage.gap ?? 0) });
  }
  page.querySelector("[data-left]").textContent = state.making ? left(state.making.left_s, words) : words.waiting;
  const keep = document.querySelector("[data-keep]");
  keep.disabled = !state.making?.searching || state.keep_asked || state.cancel_asked;
  if (state.cancel_asked) document.querySelector("[data-stop]").disabled = true;
  const doing = words[state.doing] ?? state.doing;
  if (state.cancel_asked) page.querySelector("[data-doing]").textContent = words["stopping: nothing is kept"];
  else page.querySelector("[data-doing]").textContent = state.keep_asked ? `${doing} · ${words["stopping: what was found is checked and kept"]}` : doing;
}

const watch = document.getElementById("watch");
if (watch) {
  const words = JSON.parse(watch.dataset.words || "{}");
  if (watch.dataset.state) show(watch, JSON.parse(watch.dataset.state), words);
  const stream = new EventSource(`${watch.dataset.job}/progress`);
  stream.addEventListener("state", (event) => {
    const state = JSON.parse(event.data);
    if (["done", "failed", "cancelled"].includes(state.status)) {
      stream.close();
      location.reload();
      return;
    }
    watch.querySelector(".tape > i").style.width = `${Math.round(state.fraction * 100)}%`;
    watch.querySelector("[data-percent]").textContent = `${Math.round(state.fraction * 100)} %`;
    if (watch.dataset.state) {
      show(watch, state, words);
      return;
    }
    watch.querySelector("[data-doing]").textContent = words[state.doing] ?? state.doing;
    if (state.cancel_asked) document.querySelector("[data-stop]")?.setAttribute("disabled", "");
  });
}

document.addEventListener("click", async (click) => {
  const button = click.target.closest("[data-start],[data-stop],[data-keep],[data-release],[data-take-back],[data-ask],[data-withdraw],[data-hold]");
  if (!button) return;
  button.disabled = true;
  const { start, stop, keep, release, takeBack, drop, ask, rack, orders: mine, withdraw, hold, held } = button.dataset;
  if (start !== undefined) {
    const orders = mine ? JSON.parse(mine) : [...document.querySelectorAll("input[name=order]:checked")].map((one) => one.value);
    const wanted = orders.length ? { orders } : start ? { orders: [start] } : {};
    if (rack !== undefined) wanted.rack_slots = Number(rack);
    await go(button, "/api/plans", wanted);
  } else if (ask !== undefined) {
    const wanted = { order: document.getElementById("order").value };
    const by = document.getElementById("by").value;
    if (by) wanted.by = by;
    await go(button, `/api/plans/${ask}/promises`, wanted);
  } else if (keep !== undefined) await keepIt(keep);
  else if (withdraw !== undefined) await decide(button, `${withdraw}/withdraw`, "POST");
  else if (hold !== undefined) await decide(button, `${hold}/hold`, held ? "DELETE" : "POST");
  else if (takeBack !== undefined) await takeItBack(button, takeBack);
  else if (stop !== undefined) await post(`${stop}/cancel`);
  else if (release !== undefined) {
    const answer = await post(`/api/plans/${release}/release${drop ? "?drop=true" : ""}`);
    const told = await answer.json();
    const lost = !answer.ok && told.faults.some((fault) => fault.path === "drop");
    if (!answer.ok && !lost) movedOn(button, told);
    else if (lost || drop || location.pathname.endsWith("/release")) location.assign(`/planner/plans/${release}${lost ? "/release" : ""}`);
    else location.reload();
  }
});
