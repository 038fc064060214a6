// Small helps for pages that work without them: a page that shows an older reading takes the new one when it is there,
// and a text can be copied with one press.
"use strict";

const EVERY_MS = 1500;
const LONGEST_MS = 20000;

const main = document.querySelector("main[data-watch]");
if (main) watch(main, EVERY_MS);

function watch(main, wait) {
  setTimeout(async () => {
    let state;
    try {
      const answer = await fetch(main.dataset.watch, { headers: { Accept: "application/json" } });
      if (!answer.ok) return;
      state = await answer.json();
    } catch {
      return watch(main, Math.min(2 * wait, LONGEST_MS));
    }
    const age = main.querySelector("[data-age]");
    if (age && state.said) age.textContent = state.said;
    if (state.made !== main.dataset.made && (await renew(main))) main.dataset.made = state.made;
    // A long list is not put anew every second for as long as all of it takes.
    if (state.busy || state.made !== main.dataset.made) watch(main, Math.min(1.3 * wait, LONGEST_MS));
  }, wait);
}

// The new page takes the old one's place; not under the hands of somebody who is writing or has opened something.
async function renew(main) {
  if (main.contains(document.activeElement) && document.activeElement !== main) return false;
  const answer = await fetch(location.href);
  if (!answer.ok) return false;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.querySelector("main");
  if (!fresh) return false;
  const open = [...main.querySelectorAll("details[open] > summary")].map((one) => one.textContent);
  main.replaceChildren(...fresh.childNodes);
  for (const one of main.querySelectorAll("details > summary")) {
    if (open.includes(one.textContent)) one.parentElement.open = true;
  }
  return true;
}

// On paper nothing can be opened: what is folded is printed open.
let folded = [];
addEventListener("beforeprint", () => {
  folded = [...document.querySelectorAll("details:not([open])")];
  for (const one of folded) one.open = true;
});
addEventListener("afterprint", () => {
  for (const one of folded) one.open = false;
});

for (const button of document.querySelectorAll("button[data-copy]")) {
  const field = document.getElementById(button.dataset.copy);
  if (!field || !navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(field.value);
    button.textContent = `${button.textContent} ✓`;
    button.disabled = true;
  });
}
