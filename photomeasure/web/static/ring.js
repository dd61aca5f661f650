// A ring of the ball's size, and the height that follows it while it is dragged.
//
// The program sends a small table: each photograph's camera (lens: fx, fy, cx, cy, k1, k2, p1, p2, k3; turn: rotation, move:
// translation, camera from world), the upright plane in which the centre was solved, and how the height goes with each mark.
// With one mark the ray through it meets that plane, which is the program's own solution; with several their slopes are taken.
// When the mark is let go, the program itself is asked: the figure that stays is always its own.
"use strict";

const geometry = {
  distorted([fx, fy, cx, cy, k1, k2, p1, p2, k3], x, y) {  // undistorted (x, y) to pixels
    const r2 = x * x + y * y, radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3));
    return [
      fx * (x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)) + cx,
      fy * (y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y) + cy,
    ];
  },

  undistorted(lens, [u, v]) {  // by steps of the plain pinhole: each leaves a few per cent of the distortion
    const [fx, fy, cx, cy] = lens;
    let x = (u - cx) / fx, y = (v - cy) / fy;
    for (let step = 0; step < 30; step++) {
      const [at, down] = geometry.distorted(lens, x, y);
      x += (u - at) / fx;
      y += (v - down) / fy;
      if (Math.abs(u - at) + Math.abs(v - down) < 1e-7) break;
    }
    return [x, y];
  },

  lensAt({ turn, move }) {  // where the lens is in the world
    return [0, 1, 2].map((axis) => -(turn[axis] * move[0] + turn[3 + axis] * move[1] + turn[6 + axis] * move[2]));
  },

  meets(camera, plane, pixel) {  // the point of the plane (depth `plane`, upright) that a pixel shows: world, millimetres
    const [x, y] = geometry.undistorted(camera.lens, pixel), { turn } = camera;
    const at = geometry.lensAt(camera);
    const ray = [0, 1, 2].map((axis) => turn[axis] * x + turn[3 + axis] * y + turn[6 + axis]);
    const far = (plane - at[1]) / ray[1];
    return at.map((start, axis) => start + far * ray[axis]);
  },

  seen({ lens, turn, move }, world) {  // a point of the world in pixels
    const [x, y, z] = [0, 1, 2].map((row) => turn[3 * row] * world[0] + turn[3 * row + 1] * world[1] + turn[3 * row + 2] * world[2] + move[row]);
    return z > 0 ? geometry.distorted(lens, x / z, y / z) : null;
  },

  // where a coupling can be: a hand's breadth from the ground to a metre above it, two feet to each side of the sheet
  interest(camera, plane) {
    const corners = [[-600, 100], [600, 100], [-600, 1000], [600, 1000]].map(([x, z]) => geometry.seen(camera, [x, plane, z]));
    if (corners.some((one) => one === null)) return null;
    const [xs, ys] = [0, 1].map((axis) => corners.map((one) => one[axis]));
    return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  },

  outline(camera, plane, diameter, pixel, count = 64) {  // of a ball whose middle a pixel shows: the exact cone, in pixels
    const world = geometry.meets(camera, plane, pixel), { lens, turn, move } = camera;
    const c = [0, 1, 2].map((row) => turn[3 * row] * world[0] + turn[3 * row + 1] * world[1] + turn[3 * row + 2] * world[2] + move[row]);
    const far = Math.hypot(...c), axis = c.map((part) => part / far);
    const sine = diameter / 2 / far;
    if (!(c[2] > 0) || !(sine < 1)) return null;
    const cosine = Math.sqrt(1 - sine * sine), flat = Math.hypot(axis[0], axis[2]);
    const right = [axis[2] / flat, 0, -axis[0] / flat];
    const down = [axis[1] * right[2], axis[2] * right[0] - axis[0] * right[2], -axis[1] * right[0]];
    return Array.from({ length: count }, (_, i) => {
      const a = Math.cos(2 * Math.PI * i / count) * sine, b = Math.sin(2 * Math.PI * i / count) * sine;
      const [x, y, z] = [0, 1, 2].map((part) => cosine * axis[part] + a * right[part] + b * down[part]);
      return geometry.distorted(lens, x / z, y / z);
    });
  },
};

function follower(form) {
  const shown = form.querySelector(".live"), said = form.querySelector(".live-said");
  const pickers = [];  // of each photograph: mark() and its uncertainty, in order
  const word = form.querySelector("[name=csrf]");
  let table = null, last = null, asking = false, askAgain = false, timer = 0;

  const marksNow = () => pickers.map((one) => one ? one.mark() : null);

  async function ask() {
    if (!form.dataset.live) return;  // marks that no figure follows
    if (asking) { askAgain = true; return; }
    asking = true;
    const marks = marksNow();
    try {
      const sent = marks.map((mark, i) => mark && [...mark, pickers[i].sureness()]);
      const headers = { "content-type": "application/json", ...(word ? { "x-csrf": word.value } : {}) };
      const answer = await fetch(form.dataset.live, { method: "POST", headers, body: JSON.stringify(sent) });
      if (!answer.ok) throw new Error(String(answer.status));
      const told = await answer.json();
      if (told.table) {
        if (!table) pickers.forEach((one, i) => one && one.begin(geometry.interest(told.table.cameras[i], told.table.plane)));
        table = told.table;
      }
      last = told.height_mm === undefined ? null : { ...told, marks };
      if (JSON.stringify(marksNow()) === JSON.stringify(marks)) settle(told);
      pickers.forEach((one) => one && one.redraw());
    } catch (error) {
      show("", "", "", say("No figure just now: the page does not answer. It is measured when you press the button."));
    }
    asking = false;
    if (askAgain) { askAgain = false; ask(); }
  }

  function settle(told) {  // the program's own figure
    if (told.refused) show("", "", "", told.refused);
    else if (told.height_mm === undefined) show("", "", "", "");
    else show(told.title, told.look, told.height + " " + told.spread, "", told.sure);
    said.textContent = told.refused || told.height_mm === undefined ? "" : told.height + " " + told.spread + ". " + told.title;
    shown.classList.remove("going");
  }

  function show(title, look, figure, why, sure = true) {
    const [badge, height, reason] = ["title", "figure", "why"].map((part) => shown.querySelector(".live-" + part));
    badge.textContent = title;
    badge.className = "live-title mini" + (look ? " verdict-" + look : "") + (sure ? "" : " unsure");
    badge.hidden = !title;
    form.classList.toggle("told", Boolean(figure || why));  // from then on there is no need to be told how
    height.textContent = figure;
    reason.textContent = why;
  }

  function going(height, look) {  // a figure of the browser's own, on the way
    shown.classList.add("going");
    const places = table.decimals, titles = last ? last.titles : {};
    const figure = (last && last.inches ? (height / 25.4).toFixed(places + 1) + " in" : height.toFixed(places) + " mm");
    const told = figures(figure);
    show(look && titles[look] || "", look || "", last ? told + " " + last.spread : say("about {height}", { height: told }), "", !last || last.sure);
    shown.dataset.figures = String(Number(shown.dataset.figures || 0) + 1);
    shown.dataset.millimetres = height.toFixed(4);
  }

  function moved() {  // a mark is being dragged
    if (!table) return;
    const marks = marksNow(), marked = marks.flatMap((mark, i) => mark ? [i] : []);
    if (marked.length === 0) { show("", "", "", ""); return; }
    const i = marked[0], alone = marked.length === 1, before = last && last.marks;
    const heightAt = (mark) => geometry.meets(table.cameras[i], table.plane, mark)[2];
    let height = null;
    if (alone && (!before || (before[i] && before.filter(Boolean).length === 1))) {
      height = before ? last.height_mm + heightAt(marks[i]) - heightAt(before[i]) : heightAt(marks[i]);
    } else if (before && marked.every((k) => before[k] && table.slopes[k]) && before.filter(Boolean).length === marked.length) {
      height = marked.reduce((sum, k) => sum + table.slopes[k][0] * (marks[k][0] - before[k][0]) + table.slopes[k][1] * (marks[k][1] - before[k][1]), last.height_mm);
    }
    if (height === null || !Number.isFinite(height)) { shown.classList.add("going"); return; }
    const reached = table.verdicts.filter(([from]) => from <= height).pop();
    going(height, last && reached ? reached[1] : "");
  }

  return {
    join(number, picker) { pickers[number - 1] = picker; },
    begin() { for (let i = 0; i < Number(form.dataset.count); i++) pickers[i] = pickers[i] || null; ask(); },
    moved,
    letGo() { clearTimeout(timer); timer = setTimeout(ask, 40); },
    outline(number, mark) {
      if (!table || !table.ball || !mark) return null;
      return geometry.outline(table.cameras[number - 1], table.plane, table.ball, mark);
    },
  };
}
