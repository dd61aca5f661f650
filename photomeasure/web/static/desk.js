// The list stays as new as the store while it is looked at.
"use strict";

(() => {
  const EVERY_MS = 30000;
  const part = () => document.querySelector("#listed");
  async function again() {
    if (document.hidden || !part() || part().contains(document.activeElement)) return;
    let answer;
    try { answer = await fetch(location.href, {headers: {accept: "text/html"}}); } catch (error) { return; }
    if (!answer.ok || answer.redirected) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html"), fresh = page.querySelector("#listed");
    if (!fresh || fresh.innerHTML === part().innerHTML) return;
    part().replaceWith(document.importNode(fresh, true));
    document.title = page.title;
  }
  setInterval(again, EVERY_MS);
  document.addEventListener("visibilitychange", again);
})();
