/* The ply schedule: rows move, are copied and taken out at once, by their buttons, by the keyboard and by dragging. Without
   this file the same buttons ask the server. */

const form = document.querySelector("[data-plies]");
const list = form.querySelector("[data-ply-rows]");
const status = form.querySelector("[data-plies-status]");
const KEYS = { ArrowUp: "up", ArrowDown: "down", KeyC: "copy", Delete: "delete" };

let dragged = null;

function rows() {
  return [...list.querySelectorAll("[data-ply-row]")];
}

/* Every number and name that tells a row's place. */
function number() {
  const all = rows();
  all.forEach((row, at) => {
    const n = at + 1;
    row.setAttribute("aria-label", `Layer ${n} of ${all.length}`);
    row.querySelector("[data-n]").textContent = n;
    row.querySelector("[data-of]").textContent = all.length;
    row.querySelector("[name=position]").value = n;
    for (const button of row.querySelectorAll("[data-act]")) {
      button.value = `${button.dataset.act}:${n}`;
      const heard = button.querySelector(".only-heard");
      heard.textContent = heard.textContent.replace(/\d+/, n);
    }
    row.querySelector("[data-act=up]").disabled = at === 0;
    row.querySelector("[data-act=down]").disabled = at === all.length - 1;
    const handle = row.querySelector(".ply-head h2");
    handle.draggable = true;
  });
}

function fresh(row, isEmpty) {
  const made = row.cloneNode(true);
  made.querySelector("[name=id]").value = "";
  const from = row.querySelectorAll("select");
  made.querySelectorAll("select").forEach((select, at) => (select.value = isEmpty ? select.options[0].value : from[at].value));
  for (const error of made.querySelectorAll(".error")) error.remove();
  if (isEmpty) for (const input of made.querySelectorAll("input:not([type=hidden])")) input.value = "";
  return made;
}

/* One act on one row; the focus stays on it. Says what became of it. */
function act(verb, row) {
  const at = rows().indexOf(row);
  const before = document.activeElement?.name === "act" ? document.activeElement.dataset.act : document.activeElement?.name;
  let target = row;
  if (verb === "up" && row.previousElementSibling) row.previousElementSibling.before(row);
  else if (verb === "down" && row.nextElementSibling) row.nextElementSibling.after(row);
  else if (verb === "copy") row.after((target = fresh(row, false)));
  else if (verb === "delete") target = takeOut(row);
  else return;
  number();
  const now = rows().indexOf(target) + 1;
  const words = { up: `Layer ${at + 1} is now ${now}`, down: `Layer ${at + 1} is now ${now}`, copy: `Layer ${at + 1} copied to ${now}`, delete: `Layer ${at + 1} taken out` };
  status.textContent = `${words[verb]} of ${rows().length}`;
  focus(target, before);
}

function takeOut(row) {
  const next = row.nextElementSibling ?? row.previousElementSibling;
  if (!next) {
    const empty = fresh(row, true);
    row.replaceWith(empty);
    return empty;
  }
  row.remove();
  return next;
}

function focus(row, name) {
  const wanted = name && (row.querySelector(`[data-act="${name}"]:not(:disabled)`) ?? row.querySelector(`[name="${name}"]`));
  (wanted ?? row.querySelector("[name=cloth]")).focus();
}

function add() {
  const made = fresh(rows().at(-1), true);
  list.append(made);
  number();
  status.textContent = `Layer ${rows().length} added`;
  made.querySelector("[name=cloth]").focus();
}

form.addEventListener("click", (event) => {
  const button = event.target.closest("[data-act]");
  if (!button) return;
  event.preventDefault();
  if (button.dataset.act === "add") add();
  else act(button.dataset.act, button.closest("[data-ply-row]"));
});
list.addEventListener("keydown", (event) => {
  const verb = event.altKey && !event.ctrlKey && !event.metaKey && (KEYS[event.key] ?? KEYS[event.code]);
  if (!verb) return;
  event.preventDefault();
  act(verb, event.target.closest("[data-ply-row]"));
});
list.addEventListener("dragstart", (event) => {
  dragged = event.target.closest("[data-ply-row]");
  dragged.dataset.dragged = "";
  event.dataTransfer.effectAllowed = "move";
});
list.addEventListener("dragover", (event) => {
  const over = event.target.closest("[data-ply-row]");
  if (!dragged || !over || over === dragged) return;
  event.preventDefault();
  const isBelow = event.clientY > over.getBoundingClientRect().top + over.offsetHeight / 2;
  if (isBelow) over.after(dragged);
  else over.before(dragged);
});
list.addEventListener("drop", (event) => dragged && event.preventDefault());
list.addEventListener("dragend", () => {
  if (!dragged) return;
  delete dragged.dataset.dragged;
  dragged = null;
  number();
  status.textContent = "Moved";
});

list.dataset.live = "";
form.querySelector("[data-keys]").hidden = false;
number();
