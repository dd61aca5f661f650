// Forms: photographs as thumbnails, a button that shows that it works, and no second press.
"use strict";

function busyButtons(form) {
  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) { event.preventDefault(); return; }
    sent = true;
    const pressed = event.submitter || form.querySelector("button[type=submit]");
    // after the form's data has been taken, or the pressed button's own name would be left out
    setTimeout(() => {
      form.querySelectorAll("button[type=submit]").forEach((button) => button.setAttribute("aria-disabled", "true"));
      pressed.setAttribute("aria-busy", "true");
      pressed.dataset.idle = pressed.textContent;
      pressed.textContent = pressed.dataset.busy || pressed.textContent;
      const said = form.querySelector(".actions .said");
      if (said) said.textContent = say("Working; this takes a few seconds a photograph, and longer to send over a slow network.");
    });
  });
  addEventListener("pageshow", () => {  // come back to with the browser's button
    sent = false;
    form.querySelectorAll("button[type=submit]").forEach((button) => {
      button.removeAttribute("aria-disabled");
      button.removeAttribute("aria-busy");
      if (button.dataset.idle) button.textContent = button.dataset.idle;
    });
    const said = form.querySelector(".actions .said");
    if (said) said.textContent = "";
  });
}

function photographs(form) {
  const input = form.querySelector("#photos"), list = form.querySelector("#thumbs");
  const said = form.querySelector("#photos-said"), take = form.querySelector("#take");
  const most = Number(form.dataset.most), mostBytes = Number(form.dataset.mostBytes);
  let files = [];

  function put() {
    const carried = new DataTransfer();
    files.forEach((file) => carried.items.add(file));
    input.files = carried.files;
    take.textContent = files.length === 0 ? say("Take or choose photographs") : say("Add a photograph");
    take.hidden = files.length >= most;
    list.replaceChildren(...files.map(thumb));
  }

  function thumb(file) {
    const item = document.createElement("li"), picture = document.createElement("img");
    picture.alt = file.name;
    picture.src = URL.createObjectURL(file);
    picture.onload = () => URL.revokeObjectURL(picture.src);
    picture.onerror = () => {  // HEIC, in most browsers
      const name = document.createElement("div");
      name.className = "no-picture";
      name.textContent = say("no preview here");
      picture.replaceWith(name);
    };
    const name = document.createElement("span"), remove = document.createElement("button");
    name.className = "file-name";
    name.textContent = name.title = file.name;
    remove.type = "button";
    remove.className = "button";
    remove.textContent = say("Remove");
    remove.setAttribute("aria-label", say("Remove {name}", { name: file.name }));
    remove.onclick = () => { files = files.filter((other) => other !== file); said.textContent = ""; put(); };
    item.append(picture, name, remove);
    return item;
  }

  input.addEventListener("change", () => {
    const same = (a, b) => a.name === b.name && a.size === b.size && a.lastModified === b.lastModified;
    const fresh = [...input.files].filter((file) => !files.some((other) => same(file, other)));
    const small = fresh.filter((file) => file.size <= mostBytes);
    const kept = small.slice(0, most - files.length);
    said.textContent = small.length < fresh.length ? say("Larger than {megabytes} MB and left out: take it in the phone's ordinary mode.", { megabytes: mostBytes / 1e6 })
      : kept.length < small.length ? say("At most {most} photographs: the others were left out.", { most }) : "";
    files = [...files, ...kept];
    put();
  });
  if (input.files.length) { files = [...input.files].slice(0, most); put(); }
}

function chosenRule(form) {  // the band that the choice means, and what it rests on, below it
  const said = form.querySelector("#rule-said"), rules = [...form.querySelectorAll(".rule")];
  const show = () => {
    const name = form.elements.rule.value, pin = form.elements.coupling.value === "pin";
    const rule = rules.find((one) => name ? one.dataset.rule === name : one.dataset.defaultFor === (pin ? "pin" : "ball-50"));
    const asked = form.querySelector("#level-control");  // only some rules have a band for each
    asked.hidden = !(rule && "asksLevelControl" in rule.dataset) && !form.elements.level_control.value;
    said.replaceChildren(...(rule ? [...rule.children].slice(0, 4).map((part) => part.cloneNode(true)) : []));
  };
  form.addEventListener("change", show);
  show();
}

document.documentElement.classList.add("js");
document.querySelectorAll("form[method=post]").forEach(busyButtons);
const start = document.querySelector("#start");
if (start && start.querySelector("#rule-said")) chosenRule(start);
if (start && start.querySelector("#photos")) photographs(start);
