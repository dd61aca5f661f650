// Marking the coupling's centre in a photograph: pan, zoom, tap, drag with a loupe, nudge.
// Coordinates: u, v run over the photograph from its outer edges, 0..width and 0..height; a pixel's centre is u - 0.5,
// which is what the fields hold: (0, 0) is the centre of the top-left pixel. On the screen u is at left + u * scale.
"use strict";

// How far off a hand puts the mark on the screen, CSS pixels (standard uncertainty, judgement): a finger that taps, a finger
// that drags under the loupe, a mouse or pen. A careful pick at full size is half a pixel of the photograph.
const HAND = { tap: 4, drag: 1.5, mouse: 1 }, CAREFUL = 0.5;
const NEAR = 28, SLOP = 8, HOLD_MS = 350, LOUPE = 148, MOST_SCALE = 24;

function picker(section, live) {
  const stage = section.querySelector(".stage");
  if (!stage) return;
  const canvas = stage.querySelector("canvas"), loupe = stage.querySelector(".loupe");
  const [width, height, tile] = ["width", "height", "tile"].map((name) => Number(section.dataset[name]));
  const number = section.dataset.number, photo = section.dataset.photo || number;
  const sureness = section.querySelector("#u" + number);
  const fields = [section.querySelector("#x" + number), section.querySelector("#y" + number)];
  const candidates = [...section.querySelectorAll(".candidate")];
  const found = section.dataset.found ? section.dataset.found.split(" ").map(Number) : null;  // not a mark until it is moved
  const view = { left: 0, top: 0, scale: 1 };
  const pointers = new Map();
  const tiles = new Map();
  let mode = "", grip = [0, 0], down = [0, 0], before = null, timer = 0, finger = null, planned = false, touching = false, touched = false;

  const whole = load("preview-" + photo + ".jpg");

  function load(name) {
    const picture = new Image();
    picture.onload = plan;
    picture.src = section.dataset.pictures + name;
    return picture;
  }

  // -- the mark ----------------------------------------------------------------------------------------------------

  function mark() {
    const values = fields.map((field) => parseFloat(field.value.replace(",", ".")));
    return values.every(Number.isFinite) ? values : null;
  }

  function setMark(x, y) {
    const inside = (value, size) => Math.min(Math.max(value, -0.5), size - 0.5);
    fields[0].value = String(Math.round(inside(x, width) * 100) / 100);
    fields[1].value = String(Math.round(inside(y, height) * 100) / 100);
    live.moved();
    plan();
  }

  function marked(hand) {  // by how much the mark may be off, in pixels of the photograph: by zoom and pointer
    sureness.value = String(Math.round(100 * Math.hypot(CAREFUL, hand / view.scale)) / 100);
  }

  function nudge(right, lower) {
    const at = mark() || found;
    if (!at) return;
    setMark(at[0] + right, at[1] + lower);
    show(mark());
    marked(HAND.mouse * view.scale / loupeScale());  // step by step, watched in the loupe
    live.letGo();
  }

  const toPixel = ([x, y]) => [(x - view.left) / view.scale - 0.5, (y - view.top) / view.scale - 0.5];
  const toScreen = ([x, y]) => [view.left + (x + 0.5) * view.scale, view.top + (y + 0.5) * view.scale];

  // -- what is shown -----------------------------------------------------------------------------------------------

  const size = () => [canvas.clientWidth, canvas.clientHeight];
  const fit = () => Math.min(size()[0] / width, size()[1] / height);

  function keepInside() {  // the photograph never leaves the stage altogether
    const [wide, high] = size();
    view.scale = Math.min(Math.max(view.scale, fit()), MOST_SCALE);
    const held = (offset, room, extent) => extent <= room ? (room - extent) / 2 : Math.min(Math.max(offset, room - extent - room / 2), room / 2);
    view.left = held(view.left, wide, width * view.scale);
    view.top = held(view.top, high, height * view.scale);
  }

  function zoom(factor, [x, y]) {
    const scale = Math.min(Math.max(view.scale * factor, fit()), MOST_SCALE);
    view.left = x - (x - view.left) * scale / view.scale;
    view.top = y - (y - view.top) * scale / view.scale;
    view.scale = scale;
    keepInside();
    plan();
  }

  function frame(left, top, right, bottom) {  // a part of the photograph, as large as it fits
    const [wide, high] = size();
    view.scale = Math.min(wide / (right - left), high / (bottom - top), MOST_SCALE);
    view.left = wide / 2 - (left + right) / 2 * view.scale;
    view.top = high / 2 - (top + bottom) / 2 * view.scale;
    keepInside();
    plan();
  }

  function show(at) {  // bring a pixel into view where it is not
    const [wide, high] = size(), [x, y] = toScreen(at);
    if (x < 20 || y < 20 || x > wide - 20 || y > high - 20) {
      view.left += wide / 2 - x;
      view.top += high / 2 - y;
      keepInside();
    }
    plan();
  }

  function plan() {
    if (!planned) { planned = true; requestAnimationFrame(() => { planned = false; draw(); }); }
  }

  // the photograph onto a canvas of wide x high, u = 0 at `left`; sharp tiles where the preview is too coarse
  function paint(pen, wide, high, left, top, scale, dense) {
    pen.imageSmoothingEnabled = scale * dense < 4;
    pen.imageSmoothingQuality = "high";
    if (whole.complete && whole.naturalWidth) pen.drawImage(whole, left, top, width * scale, height * scale);
    if (!whole.naturalWidth || scale * dense <= whole.naturalWidth / width) return;
    const first = (offset) => Math.max(0, Math.floor(-offset / scale / tile));
    const last = (offset, room, extent) => Math.min(Math.ceil(extent / tile), Math.ceil((room - offset) / scale / tile));
    for (let row = first(top); row < last(top, high, height); row++) {
      for (let column = first(left); column < last(left, wide, width); column++) {
        const name = "tile-" + photo + "-" + row + "-" + column + ".jpg";
        if (!tiles.has(name)) tiles.set(name, load(name));
        const picture = tiles.get(name);
        if (picture.complete && picture.naturalWidth) {
          pen.drawImage(picture, left + column * tile * scale, top + row * tile * scale, picture.naturalWidth * scale, picture.naturalHeight * scale);
        }
      }
    }
  }

  function sized(surface, wide, high) {
    const dense = window.devicePixelRatio || 1;
    if (surface.width !== Math.round(wide * dense) || surface.height !== Math.round(high * dense)) {
      surface.width = Math.round(wide * dense);
      surface.height = Math.round(high * dense);
    }
    const pen = surface.getContext("2d");
    pen.setTransform(surface.width / wide, 0, 0, surface.height / high, 0, 0);
    pen.clearRect(0, 0, wide, high);
    return [pen, dense];
  }

  function stroke(pen, path) {  // light on dark, to be seen on anything
    for (const [line, colour] of [[4, "#000"], [2, "#ffd23f"]]) {
      pen.lineWidth = line;
      pen.strokeStyle = colour;
      pen.stroke(path);
    }
  }

  function cross([x, y], gap, arm) {
    const path = new Path2D();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      path.moveTo(x + dx * gap, y + dy * gap);
      path.lineTo(x + dx * arm, y + dy * arm);
    }
    return path;
  }

  function closed(points) {
    const path = new Path2D();
    points.forEach(([x, y], i) => (i ? path.lineTo(x, y) : path.moveTo(x, y)));
    path.closePath();
    return path;
  }

  function draw() {
    const [wide, high] = size(), at = mark() || found;
    const [pen, dense] = sized(canvas, wide, high);
    paint(pen, wide, high, view.left, view.top, view.scale, dense);
    pen.font = "700 17px sans-serif";
    candidates.forEach((button) => {
      const [x, y] = toScreen([Number(button.dataset.x), Number(button.dataset.y)]), ring = new Path2D();
      ring.arc(x, y, 16, 0, 7);
      stroke(pen, ring);
      pen.lineWidth = 4;
      pen.strokeStyle = "#000";
      pen.strokeText(button.textContent, x + 20, y - 12);
      pen.fillStyle = "#ffd23f";
      pen.fillText(button.textContent, x + 20, y - 12);
    });
    if (at) {
      const ring = live.outline(number, at);
      if (ring) stroke(pen, closed(ring.map(toScreen)));
      stroke(pen, ring ? cross(toScreen(at), 3, 8) : cross(toScreen(at), 5, 20));
    }
    drawLoupe(at, wide);
  }

  const loupeScale = () => Math.min(Math.max(2.5 * view.scale, 1.5), MOST_SCALE);

  function drawLoupe(at, wide) {
    loupe.style.display = at ? "block" : "none";
    if (!at) return;
    const [pen, dense] = sized(loupe, LOUPE, LOUPE), middle = LOUPE / 2;
    const scale = loupeScale();
    paint(pen, LOUPE, LOUPE, middle - (at[0] + 0.5) * scale, middle - (at[1] + 0.5) * scale, scale, dense);
    const ring = live.outline(number, at);
    if (ring) stroke(pen, closed(ring.map(([x, y]) => [middle + (x - at[0]) * scale, middle + (y - at[1]) * scale])));
    stroke(pen, ring ? cross([middle, middle], 3, 9) : cross([middle, middle], 6, middle));
    // beside the finger while it drags; else in the corner away from the mark
    const [x, y] = finger || [0, 0], spot = toScreen(at);
    const left = finger ? (x > wide / 2 ? x - LOUPE - 56 : x + 56) : (spot[0] > wide / 2 ? 8 : wide - LOUPE - 8);
    loupe.style.left = Math.min(Math.max(left, 4), wide - LOUPE - 4) + "px";
    loupe.style.top = (finger ? Math.max(y - LOUPE - 30, 4) : 8) + "px";
  }

  // -- fingers, mouse, keys ----------------------------------------------------------------------------------------

  function place(event) {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  function grab(at, offset) {
    mode = "drag";
    grip = offset;
    finger = at;
    follow(at);
  }

  function follow(at) {
    setMark(...toPixel([at[0] + grip[0], at[1] + grip[1]]));
    marked(touching ? HAND.drag : HAND.mouse);
  }

  canvas.addEventListener("pointerdown", (event) => {
    const at = place(event);
    touching = event.pointerType === "touch";
    touched = true;
    canvas.setPointerCapture(event.pointerId);
    pointers.set(event.pointerId, at);
    clearTimeout(timer);
    if (pointers.size > 1) { mode = "pinch"; finger = null; before = null; return; }
    down = at;
    const now = mark() || found, spot = now && toScreen(now);
    const offset = spot ? [spot[0] - at[0], spot[1] - at[1]] : null;
    const ring = now && live.outline(number, now);
    const reach = ring ? Math.max(NEAR, 12 + Math.abs(ring[0][0] - now[0]) * view.scale) : NEAR;
    mode = offset && Math.hypot(...offset) < reach ? "near" : "tap";
    grip = offset || [0, 0];
    timer = setTimeout(() => { if (mode === "tap") grab(at, [0, 0]); else if (mode === "near") grab(at, grip); }, HOLD_MS);
  });

  canvas.addEventListener("pointermove", (event) => {
    if (!pointers.has(event.pointerId)) return;
    const at = place(event), last = pointers.get(event.pointerId);
    pointers.set(event.pointerId, at);
    if (mode === "pinch") { pinch(); return; }
    const moved = Math.hypot(at[0] - down[0], at[1] - down[1]) > SLOP;
    if (moved && mode === "near") grab(at, grip);
    if (moved && mode === "tap") mode = "pan";
    if (mode === "drag") { finger = at; follow(at); }
    if (mode === "pan") {
      view.left += at[0] - last[0];
      view.top += at[1] - last[1];
      keepInside();
      plan();
    }
  });

  function pinch() {
    const [a, b] = [...pointers.values()];
    if (!b) return;
    const now = { middle: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], apart: Math.hypot(a[0] - b[0], a[1] - b[1]) };
    if (before && before.apart > 0) {
      view.left += now.middle[0] - before.middle[0];
      view.top += now.middle[1] - before.middle[1];
      zoom(now.apart / before.apart, now.middle);
    }
    before = now;
  }

  function end(event) {
    clearTimeout(timer);
    if (!pointers.delete(event.pointerId)) return;
    if ((mode === "tap" || mode === "near") && event.type === "pointerup") {
      setMark(...toPixel(place(event)));
      marked(touching ? HAND.tap : HAND.mouse);
      live.letGo();
    }
    if (mode === "drag") live.letGo();
    if (pointers.size === 0 || mode !== "pinch") mode = "";
    finger = null;
    plan();
  }
  canvas.addEventListener("pointerup", end);
  canvas.addEventListener("pointercancel", end);

  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.002)), place(event));
  }, { passive: false });

  const middle = () => size().map((side) => side / 2);
  const around = () => { const at = mark(); return at ? toScreen(at) : middle(); };
  const everything = () => frame(0, 0, width, height);

  canvas.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? 10 : 1;
    const keys = {
      ArrowLeft: () => nudge(-step, 0), ArrowRight: () => nudge(step, 0), ArrowUp: () => nudge(0, -step), ArrowDown: () => nudge(0, step),
      Enter: () => { setMark(...toPixel(middle())); marked(HAND.mouse); live.letGo(); }, "+": () => zoom(1.5, around()), "=": () => zoom(1.5, around()), "-": () => zoom(1 / 1.5, around()), 0: everything,
    };
    if (keys[event.key] && !event.ctrlKey && !event.metaKey) { event.preventDefault(); keys[event.key](); }
  });

  section.querySelectorAll("[data-nudge]").forEach((button) => {
    const [right, lower] = button.dataset.nudge.split(" ").map(Number);
    button.addEventListener("click", () => nudge(right, lower));
  });
  section.querySelectorAll("[data-zoom]").forEach((button) => {
    const ways = { in: () => zoom(1.6, around()), out: () => zoom(1 / 1.6, around()), all: everything };
    button.addEventListener("click", ways[button.dataset.zoom]);
  });
  candidates.forEach((button) => button.addEventListener("click", () => {
    const at = [Number(button.dataset.x), Number(button.dataset.y)], reach = Math.max(width, height) / 24;
    setMark(...at);
    sureness.value = "";
    frame(at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach);
    live.letGo();
  }));
  section.querySelector("[data-clear]").addEventListener("click", () => { [...fields, sureness].forEach((field) => { field.value = ""; }); live.moved(); live.letGo(); plan(); });
  fields.forEach((field) => field.addEventListener("input", () => { sureness.value = ""; const at = mark(); live.moved(); live.letGo(); if (at) show(at); else plan(); }));

  live.join(number, { mark, sureness: () => Number(sureness.value) || 0, redraw: plan, begin });

  function begin(box) {  // what the sheet tells of where to look, where nothing was known before
    if (!box || !canvas.clientWidth || section.dataset.interest || mark() || found || touched) return;
    const [left, top] = [Math.max(box[0], 0), Math.max(box[1], 0)], [right, bottom] = [Math.min(box[2], width), Math.min(box[3], height)];
    if (right - left > 50 && bottom - top > 50) frame(left, top, right, bottom);
  }

  let shown = false;
  new ResizeObserver(() => {
    if (!canvas.clientWidth) return;
    if (shown) { keepInside(); plan(); return; }
    shown = true;
    const at = mark() || found, reach = Math.max(width, height) / 16;  // around what is known, close enough to see its edge
    if (at) { frame(at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach); return; }
    const interest = section.dataset.interest ? section.dataset.interest.split(" ").map(Number) : [0, 0, width, height];
    frame(...interest);
  }).observe(canvas);
}

function tabs(form) {  // one photograph at a time where they do not fit side by side
  const buttons = [...form.querySelectorAll("[data-show]")], sections = [...form.querySelectorAll(".picker")];
  const choose = (number) => {
    sections.forEach((section) => section.classList.toggle("aside", section.dataset.number !== number));
    buttons.forEach((button) => button.setAttribute("aria-pressed", String(button.dataset.show === number)));
  };
  buttons.forEach((button) => button.addEventListener("click", () => choose(button.dataset.show)));
  if (buttons.length) choose(buttons[0].dataset.show);
}

document.querySelectorAll("form.marking").forEach((form) => {
  const live = follower(form);
  form.querySelectorAll(".numbers").forEach((numbers) => { numbers.open = Boolean(numbers.querySelector("[aria-invalid]")); });
  form.querySelectorAll(".picker").forEach((section) => picker(section, live));
  tabs(form);
  live.begin();
});
