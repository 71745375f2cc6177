// Tells the service what happened to a plan, and shows every fault it was refused for.
const post = (address, body) => fetch(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body ?? {}) });

// The instant at which the plant's clocks show a local time such as 2031-05-05T06:00.
function instant(local, zone) {
  const wanted = Date.parse(`${local}Z`);
  const clock = new Intl.DateTimeFormat("en-CA", { timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit" });
  const shown = (time) => {
    const part = Object.fromEntries(clock.formatToParts(time).map((one) => [one.type, one.value]));
    return Date.parse(`${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}Z`);
  };
  const first = wanted - (shown(wanted) - wanted);
  return new Date(first - (shown(first) - wanted)).toISOString();
}

const form = document.getElementById("happened");
if (form) {
  const list = document.getElementById("faults");
  const at = (text) => (text ? instant(text, form.dataset.zone) : "");
  const rows = (kind, name, read) => [...form.querySelectorAll(`[data-kind=${kind}]`)].filter((row) => row.querySelector(`[name=${name}]`).value).map((row) => read((field) => row.querySelector(`[name=${field}]`).value));

  const told = () => ({
    down: rows("down", "machine", (of) => ({ machine: of("machine"), start: at(of("start")), end: at(of("end")) })),
    late: rows("late", "material", (of) => ({ material: of("material"), at: at(of("at")) })),
    rush: rows("rush", "order", (of) => ({ order: of("order"), ...(of("due") ? { due: at(of("due")) } : {}), ...(of("weight") ? { weight: Number(of("weight")) } : {}) })),
    remake: [...form.querySelectorAll("[name=remake]:checked")].map((one) => one.value),
    untold: form.querySelector("[name=untold]:checked").value,
  });

  const refuse = (faults) => {
    list.replaceChildren(...faults.map((fault) => {
      const item = document.createElement("li");
      const where = document.createElement("code");
      where.textContent = fault.path;
      const what = document.createElement("div");
      what.textContent = fault.problem;
      const fix = document.createElement("div");
      fix.className = "soft";
      fix.textContent = fault.fix ? `${form.dataset.fix} ${fault.fix}` : "";
      item.append(where, what, fix);
      return item;
    }));
    document.getElementById("refused").hidden = false;
    document.getElementById("refused").scrollIntoView({ block: "nearest" });
  };

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = document.querySelector("button[form=happened]");
    button.disabled = true;
    try {
      const answer = await post(`/api/plans/${form.dataset.plan}/replans`, told());
      const said = await answer.json();
      if (answer.ok) location.assign(`/planner/jobs/${said.job}`);
      else refuse(said.faults);
    } catch {
      refuse([{ path: "", problem: form.dataset.away, fix: "" }]);
    } finally {
      button.disabled = false;
    }
  });
}
