// Starts, watches, stops and releases plans.
const post = (address, body) => fetch(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body ?? {}) });

const watch = document.getElementById("watch");
if (watch) {
  const stream = new EventSource(`/api/plans/${watch.dataset.plan}/progress`);
  stream.addEventListener("state", (event) => {
    const state = JSON.parse(event.data);
    if (["done", "failed", "cancelled"].includes(state.status)) {
      stream.close();
      location.reload();
      return;
    }
    watch.querySelector(".tape > i").style.width = `${Math.round(state.fraction * 100)}%`;
    watch.querySelector("[data-percent]").textContent = `${Math.round(state.fraction * 100)} %`;
    watch.querySelector("[data-doing]").textContent = state.doing;
    if (state.cancel_asked) document.querySelector("[data-stop]")?.setAttribute("disabled", "");
  });
}

document.addEventListener("click", async (click) => {
  const button = click.target.closest("[data-start],[data-stop],[data-release]");
  if (!button) return;
  button.disabled = true;
  const { start, stop, release, rack, orders: mine } = button.dataset;
  if (start !== undefined) {
    const orders = mine ? JSON.parse(mine) : [...document.querySelectorAll("input[name=order]:checked")].map((one) => one.value);
    const wanted = orders.length ? { orders } : start ? { orders: [start] } : {};
    if (rack !== undefined) wanted.rack_slots = Number(rack);
    const answer = await post("/api/plans", wanted);
    const told = await answer.json();
    if (answer.ok) location.assign(`/planner/plans/${told.id}`);
    else {
      const place = document.getElementById("why");
      place.textContent = told.faults.map((fault) => `${fault.path}: ${fault.problem}; ${fault.fix}`).join(" · ");
      place.hidden = false;
      button.disabled = false;
    }
  } else if (stop !== undefined) await post(`/api/plans/${stop}/cancel`);
  else if (release !== undefined) {
    await post(`/api/plans/${release}/release`);
    location.reload();
  }
});
