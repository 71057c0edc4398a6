/* What a page can do beyond plain forms: keep what was typed, and say when it was not saved.
   Every page works without this file. */
"use strict";

(() => {
  const DRAFTS = "wareboard-draft:";
  const SECRET = new Set(["csrfmiddlewaretoken", "form_key"]);
  const UNKEPT = new Set(["password", "file"]);

  /* A draft belongs to a form's address on its page; the form's key is kept with it, so a form
     that was sent and not answered is sent again under the same key and cannot act twice. */
  const nameOf = (form) => {
    const action = form.getAttribute("action") || "";
    const alike = [...document.forms].filter((other) => (other.getAttribute("action") || "") === action);
    return `${DRAFTS}${location.pathname}>${action}>${alike.indexOf(form)}`;
  };
  const kept = (form) =>
    form.method === "post" && form.elements.form_key && !form.querySelector("[type=password]");
  const fieldsOf = (form) =>
    [...form.elements].filter(
      (field) =>
        field.name && !SECRET.has(field.name) && !UNKEPT.has(field.type) && field.tagName !== "BUTTON",
    );

  const storage = (act) => {
    try {
      return act(window.sessionStorage);
    } catch {
      return null; // private windows may forbid it: then nothing is kept, and nothing breaks
    }
  };

  const keep = (form, sent) => {
    const values = {};
    for (const field of fieldsOf(form)) {
      const listed = (values[field.name] ||= []);
      if (field.type === "checkbox" || field.type === "radio") {
        if (field.checked) listed.push(field.value);
      } else if (field.tagName === "SELECT" && field.multiple) {
        listed.push(...[...field.selectedOptions].map((option) => option.value));
      } else listed.push(field.value);
    }
    const draft = { key: form.elements.form_key.value, sent, at: Date.now(), values };
    storage((store) => store.setItem(nameOf(form), JSON.stringify(draft)));
  };

  const restore = (form) => {
    const text = storage((store) => store.getItem(nameOf(form)));
    if (!text) return;
    const draft = JSON.parse(text);
    /* The same key came back from the server: this page is the answer, and its values count. */
    if (form.elements.form_key.value === draft.key) return keep(form, false);
    const seen = {};
    for (const field of fieldsOf(form)) {
      const values = draft.values[field.name];
      /* Hidden fields say what the person saw. A form that was never sent gets the fresh ones. */
      const ticked = field.type === "checkbox" || field.type === "radio";
      /* A tick chooses what is sold or packed now; one from an abandoned visit must not come back. */
      if (!values || ((field.type === "hidden" || ticked) && !draft.sent)) continue;
      if (ticked) field.checked = values.includes(field.value);
      else if (field.tagName === "SELECT" && field.multiple)
        for (const option of field.options) option.selected = values.includes(option.value);
      else {
        const at = (seen[field.name] = (seen[field.name] ?? -1) + 1);
        if (at < values.length) field.value = values[at];
      }
    }
    form.elements.form_key.value = draft.key;
    return sayRestored(form, draft.sent);
  };

  const sayRestored = (form, sent) => {
    const box = document.createElement("div");
    box.className = "caution";
    box.setAttribute("role", "status");
    const text = document.createElement("p");
    text.textContent = sent
      ? "This form was sent and no answer came. Send it again as it is: it will not be done twice."
      : "What you typed here before is back. It is not saved yet.";
    const button = document.createElement("button");
    button.type = "button";
    button.className = "btn btn-quiet";
    button.textContent = "Start afresh";
    button.addEventListener("click", () => {
      storage((store) => store.removeItem(nameOf(form)));
      location.assign(location.href);
    });
    box.append(text, button);
    form.prepend(box);
  };

  /* The server names the forms that acted in a cookie (studio/web/idempotency.py): their drafts are
     done with. A draft whose answer never arrived stays, with its key. */
  const sweep = () => {
    const cookie = document.cookie.split("; ").find((part) => part.startsWith("wareboard_answered="));
    const answered = new Set((cookie || "").split("=").pop().split("."));
    storage((store) => {
      for (const name of Object.keys(store)) {
        if (!name.startsWith(DRAFTS)) continue;
        const draft = JSON.parse(store.getItem(name));
        const old = !draft.sent && Date.now() - draft.at > 30 * 60 * 1000;
        if (old || answered.has(draft.key)) store.removeItem(name);
      }
    });
  };

  const notSaved = (again) => {
    document.getElementById("not-saved")?.remove();
    const box = document.createElement("div");
    box.id = "not-saved";
    box.className = "refusal";
    box.setAttribute("role", "alert");
    const text = document.createElement("p");
    text.textContent = "Not saved: the studio's computer did not answer. What you typed is still here.";
    const button = document.createElement("button");
    button.type = "button";
    button.className = "btn";
    button.textContent = "Try again";
    button.addEventListener("click", () => {
      box.remove();
      again();
    });
    box.append(text, button);
    document.body.append(box);
  };

  const failed = (event) => {
    if (event.detail.requestConfig.verb === "get") return;
    const asked = event.detail.elt;
    notSaved(() => {
      const form = asked.closest("form");
      if (form) form.requestSubmit();
      else asked.click();
    });
  };

  document.addEventListener("htmx:sendError", failed);
  document.addEventListener("htmx:timeout", failed);
  document.addEventListener("htmx:responseError", failed);
  document.addEventListener("htmx:beforeRequest", () => document.getElementById("not-saved")?.remove());

  document.addEventListener("input", (event) => {
    const form = event.target.form;
    if (form && kept(form)) keep(form, false);
  });

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-step]");
    const input = button?.closest(".stepper")?.querySelector("input");
    if (!input) return;
    const low = input.min === "" ? -Infinity : Number(input.min);
    const high = input.max === "" ? Infinity : Number(input.max);
    const next = (Number(input.value) || 0) + Number(button.dataset.step);
    input.value = Math.min(high, Math.max(low, next));
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });

  /* The phone may have walked out of the Wi-Fi since the page came, and the browser's own error page
     would take the form's place. So a page that has stood for a while asks first whether the studio's
     computer still answers, and keeps the form on the screen when it does not. */
  const FRESH_MS = 20_000;
  const PATIENCE_MS = 5_000;
  const cameAt = Date.now();
  const sure = new WeakSet();
  const asking = new WeakSet();
  const isFresh = () => navigator.onLine && Date.now() - cameAt < FRESH_MS;
  const answers = async () => {
    if (!navigator.onLine) return false;
    const small = document.querySelector("link[rel=stylesheet]").href;
    const signal = AbortSignal.timeout(PATIENCE_MS);
    return fetch(small, { method: "HEAD", cache: "no-store", signal }).then(() => true, () => false);
  };
  const askFirst = (form, submitter) => {
    if (asking.has(form)) return;
    asking.add(form);
    answers().then((yes) => {
      asking.delete(form);
      if (yes) sure.add(form);
      else if (kept(form)) keep(form, false);
      const again = () => form.requestSubmit(submitter);
      if (yes) again();
      else notSaved(again);
    });
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const plain = form.method === "post" && !event.defaultPrevented;
    if (plain && !sure.delete(form) && !isFresh()) {
      event.preventDefault();
      document.getElementById("not-saved")?.remove();
      return askFirst(form, event.submitter);
    }
    if (kept(form)) keep(form, true);
  });
  document.addEventListener("htmx:afterRequest", sweep);

  /* The places that More holds go out of the way again: by Escape, and by a press beside them. */
  const more = document.querySelector(".more details");
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !more?.open) return;
    more.open = false;
    more.querySelector("summary").focus();
  });
  document.addEventListener("click", (event) => {
    if (more?.open && !more.contains(event.target)) more.open = false;
  });

  sweep();
  for (const form of document.forms) if (kept(form)) restore(form);
})();
