// Starts, watches, stops and releases plans; asks for dates.
const post = (address, body) => fetch(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body ?? {}) });

// Asks for something that takes a while and goes where it is watched, or says on the spot why not.
async function go(button, address, wanted, page) {
  const answer = await post(address, wanted);
  const told = await answer.json();
  if (answer.ok) {
    location.assign(page(told.id));
    return;
  }
  const place = document.getElementById("why");
  place.textContent = told.faults.map((fault) => `${fault.path}: ${fault.problem}; ${fault.fix}`).join(" · ");
  place.hidden = false;
  button.disabled = false;
}

const watch = document.getElementById("watch");
if (watch) {
  const words = JSON.parse(watch.dataset.words || "{}");
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
    watch.querySelector("[data-doing]").textContent = words[state.doing] ?? state.doing;
    if (state.cancel_asked) document.querySelector("[data-stop]")?.setAttribute("disabled", "");
  });
}

document.addEventListener("click", async (click) => {
  const button = click.target.closest("[data-start],[data-stop],[data-release],[data-ask]");
  if (!button) return;
  button.disabled = true;
  const { start, stop, release, ask, rack, orders: mine } = button.dataset;
  if (start !== undefined) {
    const orders = mine ? JSON.parse(mine) : [...document.querySelectorAll("input[name=order]:checked")].map((one) => one.value);
    const wanted = orders.length ? { orders } : start ? { orders: [start] } : {};
    if (rack !== undefined) wanted.rack_slots = Number(rack);
    await go(button, "/api/plans", wanted, (id) => `/planner/plans/${id}`);
  } else if (ask !== undefined) {
    const wanted = { order: document.getElementById("order").value };
    const by = document.getElementById("by").value;
    if (by) wanted.by = by;
    await go(button, `/api/plans/${ask}/promises`, wanted, (id) => `/planner/plans/${ask}/promises/${id}`);
  } else if (stop !== undefined) await post(`${stop}/cancel`);
  else if (release !== undefined) {
    await post(`/api/plans/${release}/release`);
    location.reload();
  }
});
