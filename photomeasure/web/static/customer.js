// A photograph goes in pieces: what broke off goes on where it was, as soon as there is a network again.
"use strict";

(() => {
  const form = document.querySelector("#photograph");
  if (!form) return;
  const box = form.querySelector("#sending"), said = form.querySelector("#sending-said"), bar = form.querySelector("#progress");
  const mostBytes = Number(form.dataset.mostBytes);
  const take = form.querySelector(".take"), choose = form.querySelector(".choose");
  let busy = false;

  const pause = (ms) => new Promise((done) => {
    const wake = () => { clearTimeout(timer); removeEventListener("online", wake); done(); };
    const timer = setTimeout(wake, ms);
    addEventListener("online", wake);
  });

  class Stop extends Error {}

  async function ask(address, options) {  // again and again until there is an answer that can be used
    for (let tries = 0; ; tries++) {
      let answer = null;
      try {
        answer = await fetch(address, options);
      } catch (error) { /* no network */ }
      if (answer && (answer.ok || answer.status === 409)) {
        if (answer.headers.get("content-type")?.startsWith("application/json")) return answer.json();
      }
      if (answer && ![408, 409, 429, 500, 502, 503, 504].includes(answer.status)) throw new Stop(await sentence(answer));
      if (answer && answer.status === 409) throw new Stop(await sentence(answer));
      said.textContent = answer ? say("It does not go on at the moment. It is tried again by itself.")
        : say("No network. It goes on by itself as soon as there is one; what has arrived is kept.");
      await pause(Math.min(1000 * 2 ** tries, 15000));
    }
  }

  async function sentence(answer) {  // what the page that came instead says
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.querySelector("dd:last-of-type");
    return [page.querySelector("h1")?.textContent || say("It could not be sent."), next ? next.textContent + "." : ""].join(" ");
  }

  async function send(file) {
    const mark = [file.name, file.size, file.lastModified].join("/");
    const body = new URLSearchParams({mark, name: file.name, bytes: file.size});
    let now = await ask(form.dataset.arriving, {method: "POST", body});
    const key = now.key;
    while (now.photograph === undefined) {
      bar.value = 100 * now.offset / file.size;
      said.textContent = say("Sending: {share} %", { share: Math.round(bar.value) });
      // read before it is sent: a file that is not there any more is no missing network, after which it would go on for ever
      const next = await file.slice(now.offset, now.offset + Number(form.dataset.piece)).arrayBuffer();
      now = await ask(form.dataset.arriving + "/" + key + "?offset=" + now.offset,
        {method: "POST", body: next, headers: {"content-type": "application/octet-stream"}});
    }
    return now.photograph;
  }

  async function chosen(event) {
    const file = event.target.files[0];
    if (!file || busy) return;
    if (file.size > mostBytes) { show(say("It is larger than {megabytes} MB: take it in the phone's ordinary mode.", { megabytes: mostBytes / 1e6 })); return; }
    busy = true;
    show(say("Sending: {share} %", { share: 0 }));
    take.hidden = choose.hidden = true;
    try {
      const number = await send(file);
      bar.value = 100;
      said.textContent = say("It has arrived. Looking at it …");
      location.href = form.dataset.next + number;
    } catch (error) {
      said.textContent = error instanceof Stop ? error.message : say("It could not be sent. Choose it again.");
      take.hidden = choose.hidden = false;
    }
    event.target.value = "";
    busy = false;
  }

  function show(words) {
    box.hidden = false;
    said.textContent = words;
  }

  form.querySelectorAll("input[type=file]").forEach((input) => input.addEventListener("change", chosen));
  addEventListener("beforeunload", (event) => { if (busy && bar.value < 100) event.preventDefault(); });
  addEventListener("pageshow", () => { box.hidden = true; take.hidden = choose.hidden = false; });
})();
