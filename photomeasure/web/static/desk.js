// The list stays as new as the store while it is open, also behind another window: then its title and its sign tell what is new.
"use strict";

(() => {
  const EVERY_MS = 10000;  // an answer that nothing has changed costs next to nothing
  const part = () => document.querySelector("#listed");
  const icon = document.querySelector("link[rel=icon]");
  let tag = part()?.dataset.tag;

  function sign(listed) {
    icon.href = listed.dataset.icon + (Number(listed.dataset.new) ? "icon-new.svg" : "icon.svg");
  }

  async function again() {
    if (!part()) return;
    let answer;
    try { answer = await fetch(location.href, {headers: {accept: "text/html", "if-none-match": tag}}); } catch (error) { return; }
    if (!answer.ok || answer.redirected) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html"), fresh = page.querySelector("#listed");
    if (!fresh) return;
    document.title = page.title;
    sign(fresh);
    if (part().contains(document.activeElement)) return;  // nobody is interrupted: it is asked for again
    tag = fresh.dataset.tag;
    part().replaceWith(document.importNode(fresh, true));
  }
  if (part()) sign(part());
  setInterval(again, EVERY_MS);
  document.addEventListener("visibilitychange", again);
})();
