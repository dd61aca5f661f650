// A page that waits for something comes again once it is there: not before, so that nobody is interrupted.
"use strict";

(() => {
  const EVERY_MS = 3000;
  async function again() {
    let there = false;
    try {
      const answer = await fetch(location.href, {headers: {accept: "text/html"}});
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      there = answer.ok && !page.querySelector("[data-waits]");
    } catch (error) { /* no network: asked again */ }
    if (there) location.reload(); else setTimeout(again, EVERY_MS);
  }
  if (document.querySelector("[data-waits]")) setTimeout(again, EVERY_MS);
})();
