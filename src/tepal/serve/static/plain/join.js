// The code stands behind the # of the address: it is sent in the body alone, and taken out of the address at once.
"use strict";
// Where each begins: the field, the desk, letters, samples.
const FIRST = { scout: "/phone/", coordinator: "/", grower: "/letters", laboratory: "/samples" };
const said = document.getElementById("said");
const form = document.getElementById("join");
const code = location.hash.slice(1);
history.replaceState(null, "", location.pathname);

if (!code) {
  said.textContent = said.dataset.missing;
  form.hidden = true;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const answer = await fetch("/join", {
      method: "POST",
      headers: { "Content-Type": "application/json", "Tepal-Request": "1" },
      body: JSON.stringify({ code, device: document.getElementById("device").value, hold: "cookie" }),
    });
    const told = await answer.json();
    if (answer.ok) {
      location.replace(FIRST[told.person.role] ?? "/");
      return;
    }
    said.textContent = [told.title, told.step].filter(Boolean).join(" ");
  } catch {
    said.textContent = said.dataset.away;
  }
  said.focus();
  button.disabled = false;
});
