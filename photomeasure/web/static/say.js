// What scripts say, in the page's language: the page brings its sentences along, each by its English text.
"use strict";

const { say, figures } = (() => {
  const page = document.querySelector("#words"), { decimal = ".", sentences = {} } = page ? JSON.parse(page.textContent) : {};
  const figures = (text) => text.replace(/(\d)\.(?=\d)/g, (_, digit) => digit + decimal);
  const filled = (value) => typeof value === "number" ? figures(String(value)) : String(value);
  const say = (template, values = {}) => (sentences[template] || template).replace(/\{(\w+)\}/g, (_, name) => filled(values[name]));
  return { say, figures };
})();
