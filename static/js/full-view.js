/* The full view of a photo: fitted to the window, enlarged by buttons, keys, wheel, two taps or two fingers. */

const MOST = 12;
const STEP = 1.5;
const TAPPED = 2.5;
const SWIPE = 60;

/* `dialog` may be null; the answer then is, too. `toNewer` and `toOlder` are asked for at the fitted size. */
export function fullView(dialog, { toNewer, toOlder }) {
  if (!dialog) return null;
  const stage = dialog.querySelector("[data-stage]");
  const plate = dialog.querySelector("[data-plate]");
  const image = plate.querySelector("img");
  const status = dialog.querySelector("[data-full-status]");
  const fingers = new Map();
  let scale = 1;
  let x = 0;
  let y = 0;
  let start = null;
  let tapped = 0;

  function lay(words) {
    const room = stage.getBoundingClientRect();
    const most = { x: (room.width * (scale - 1)) / 2, y: (room.height * (scale - 1)) / 2 };
    x = Math.min(most.x, Math.max(-most.x, x));
    y = Math.min(most.y, Math.max(-most.y, y));
    plate.style.transform = `translate(${x}px, ${y}px) scale(${scale})`;
    dialog.classList.toggle("enlarged", scale > 1);
    if (words) status.textContent = words;
  }

  /* Enlarge about a point of the window, by default the middle of the stage. */
  function zoom(to, at) {
    const room = stage.getBoundingClientRect();
    const middle = { x: room.left + room.width / 2, y: room.top + room.height / 2 };
    const point = { x: (at?.x ?? middle.x) - middle.x, y: (at?.y ?? middle.y) - middle.y };
    const next = Math.min(MOST, Math.max(1, to));
    x = point.x - ((point.x - x) * next) / scale;
    y = point.y - ((point.y - y) * next) / scale;
    scale = next;
    lay(`${Math.round(scale * 100)} % of the fitted size`);
  }

  function show() {
    if (dialog.open) return;
    if (!image.src) image.src = image.dataset.src;
    dialog.showModal();
    zoom(1);
  }

  /* The file as it came, one point of the picture to one of the screen. */
  function original(button) {
    image.src = button.dataset.original;
    const room = stage.getBoundingClientRect();
    const fitted = Math.min(room.width / image.width, room.height / image.height, 1) * image.width;
    const shown = Math.min(fitted, (room.height / image.height) * image.width);
    zoom(Number(button.dataset.width) / window.devicePixelRatio / shown);
    status.textContent = "The original is loaded at its own size";
  }

  const pan = (right, down) => {
    x += right;
    y += down;
    lay();
  };
  const KEYS = {
    "+": () => zoom(scale * STEP),
    "=": () => zoom(scale * STEP),
    "-": () => zoom(scale / STEP),
    "−": () => zoom(scale / STEP),
    0: () => zoom(1),
    ArrowLeft: () => (scale > 1 ? pan(80, 0) : toNewer()),
    ArrowRight: () => (scale > 1 ? pan(-80, 0) : toOlder()),
    ArrowUp: () => pan(0, 80),
    ArrowDown: () => pan(0, -80),
  };

  dialog.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  });
  dialog.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button?.dataset.zoom) zoom({ in: scale * STEP, out: scale / STEP, fit: 1 }[button.dataset.zoom]);
    if (button?.dataset.original) original(button);
    if (button && "close" in button.dataset) dialog.close();
  });
  stage.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(scale * Math.exp(-event.deltaY / 400), { x: event.clientX, y: event.clientY });
  });

  /* Two fingers: how far apart, and their middle. */
  function spread() {
    const [a, b] = [...fingers.values()];
    return { apart: Math.hypot(a.x - b.x, a.y - b.y) || 1, x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  }

  stage.addEventListener("pointerdown", (event) => {
    stage.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    start = { x: event.clientX, y: event.clientY, many: fingers.size > 1 || Boolean(start?.many && fingers.size > 1) };
    if (fingers.size === 2) start = { ...start, many: true, two: spread(), scale };
  });
  stage.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    fingers.set(event.pointerId, now);
    if (fingers.size === 2 && start?.two) {
      const two = spread();
      zoom((start.scale * two.apart) / start.two.apart, two);
    } else if (scale > 1) {
      pan(now.x - before.x, now.y - before.y);
    }
  });
  function lift(event) {
    if (!fingers.delete(event.pointerId) || fingers.size) return;
    const across = event.clientX - (start?.x ?? event.clientX);
    const down = event.clientY - (start?.y ?? event.clientY);
    const many = start?.many;
    start = null;
    if (event.type === "pointercancel" || many) return;
    if (scale === 1 && Math.abs(across) >= SWIPE && Math.abs(across) > 1.8 * Math.abs(down)) {
      if (across > 0) toNewer();
      else toOlder();
    } else if (Math.hypot(across, down) < 12) {
      if (event.timeStamp - tapped < 350) {
        zoom(scale > 1 ? 1 : TAPPED, { x: event.clientX, y: event.clientY });
        tapped = 0;
      } else tapped = event.timeStamp;
    }
  }
  stage.addEventListener("pointerup", lift);
  stage.addEventListener("pointercancel", lift);
  window.addEventListener("resize", () => dialog.open && lay());

  return {
    show,
    get open() {
      return dialog.open;
    },
  };
}
