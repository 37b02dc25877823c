// Improves pages that already work without it: a form is sent once per tap, a form
// without a signal stays as it is with a word about it, and hiding cost is remembered.
"use strict";

document.addEventListener("submit", function (event) {
  const form = event.target;
  if (form.method !== "post") return;
  if (!navigator.onLine) {
    event.preventDefault();
    say(form, "No signal. What you typed stays here; send it again when there is one.");
    return;
  }
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  setTimeout(function () { delete form.dataset.sent; }, 5000);
});

window.addEventListener("pageshow", function () {
  for (const form of document.forms) delete form.dataset.sent;
});

document.addEventListener("toggle", function (event) {
  const cost = event.target;
  if (!cost.matches || !cost.matches("details.cost")) return;
  document.cookie = cost.open
    ? "kerfbook_cost=; path=/; max-age=0; samesite=lax"
    : "kerfbook_cost=hidden; path=/; max-age=34560000; samesite=lax";
}, true);

function say(form, text) {
  let p = form.querySelector(".no-signal");
  if (!p) {
    p = document.createElement("p");
    p.className = "no-signal wrong";
    p.setAttribute("role", "alert");
    form.append(p);
  }
  p.textContent = text;
}

// A phone number that is known offers the people who use it, without a second step.
document.addEventListener("change", async function (event) {
  const field = event.target;
  const who = document.querySelector("[data-who]");
  if (field.name !== "number" || !who || field.form !== who.closest("form")) return;
  try {
    const answer = await fetch(who.dataset.who + "?number=" + encodeURIComponent(field.value));
    if (answer.ok) who.innerHTML = await answer.text();
  } catch {
    // without a signal the form asks in a second step
  }
});
