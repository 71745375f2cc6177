// Brings an order's text from a file or the clipboard to the service, and shows every fault it was refused for.
const form = document.getElementById("order");
const text = document.getElementById("text");
const file = document.getElementById("file");
const list = document.getElementById("faults");
const head = document.getElementById("verdict");
const LIMIT = Number(form.dataset.limit);

file.addEventListener("change", async () => {
  if (file.files[0]) text.value = await file.files[0].slice(0, LIMIT + 1).text();
});

function refuse(faults) {
  head.textContent = (faults.length === 1 ? form.dataset.one : form.dataset.many).replace("{n}", faults.length);
  list.replaceChildren(...faults.map((fault) => {
    const item = document.createElement("li");
    const where = document.createElement("code");
    where.textContent = fault.path;
    const what = document.createElement("div");
    what.textContent = fault.problem;
    const fix = document.createElement("div");
    fix.className = "soft";
    fix.textContent = `${form.dataset.fix} ${fault.fix}`;
    item.append(where, what, fix);
    return item;
  }));
  document.getElementById("refused").hidden = false;
  document.getElementById("refused").scrollIntoView({ block: "nearest" });
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = event.submitter ?? document.querySelector("button[form=order]");
  button.disabled = true;
  try {
    const answer = await fetch("/api/orders", { method: "POST", headers: { "content-type": "application/json" }, body: text.value });
    const told = await answer.json();
    if (answer.ok) location.assign(`/planner/orders/${encodeURIComponent(told.id)}`);
    else refuse(told.faults);
  } catch {
    refuse([{ path: form.dataset.service, problem: form.dataset.away, fix: form.dataset.again }]);
  } finally {
    button.disabled = false;
  }
});
