// Kept on the device: the program's own files, and nothing else. No page, no photograph, no figure.
"use strict";

const OWN = "photomeasure-own-files", FILES = ["look.css", "static/page.css", "static/start.js", "static/icon.svg"];
const ours = (address) => address.origin === location.origin && /\/(static\/[\w.-]+|look\.css)$/.test(address.pathname);

addEventListener("install", (event) => {
  const scope = registration.scope;
  event.waitUntil(caches.open(OWN).then((kept) => kept.addAll(FILES.map((file) => scope + file))).then(() => skipWaiting()));
});

addEventListener("activate", (event) => event.waitUntil(clients.claim()));

addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET") return;
  if (ours(new URL(request.url))) {
    event.respondWith(fetch(request).then((answer) => {
      if (answer.ok) { const copy = answer.clone(); caches.open(OWN).then((kept) => kept.put(request, copy)); }
      return answer;
    }).catch(() => caches.match(request).then((kept) => kept || Response.error())));
  } else if (request.mode === "navigate") {
    event.respondWith(fetch(request).catch(() => new Response(
      "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>No network</title>" +
      "<main><h1>No network here</h1><p>The page is not reached. Photographs can be taken now and measured when there is a network again.</p></main>",
      { status: 503, headers: { "content-type": "text/html; charset=utf-8" } })));
  }
});
