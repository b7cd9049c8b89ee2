// When the plot's server or the way to it is gone, the page says so itself, over whatever page it
// is, and keeps what is half typed: put back into the same fields when the server is there again.
(() => {
  if (window.musterplotLink) return;
  window.musterplotLink = true;
  const base = () => {
    const at = location.pathname;
    return at.slice(0, at.lastIndexOf("/") + 1);
  };
  const app = () => document.querySelector("[data-test-connection-state]");
  const connected = () => app()?.dataset.testConnectionState === "CONNECTED";
  const at_rest = () => app()?.dataset.testScriptState === "notRunning";
  const field = "input[type='text'], input:not([type]), textarea";
  const fields = () => {
    const seen = new Map();
    return [...document.querySelectorAll(`.stMain :is(${field})`)].map((it) => {
      const name = `${it.tagName} ${it.getAttribute("aria-label") || it.placeholder || ""}`;
      seen.set(name, (seen.get(name) || 0) + 1);
      return { it, name: `${name} ${seen.get(name)}` };
    });
  };
  let answeredAt = Date.now(), silent = 0, kept = null, plate = null, asking = false;
  const two = (n) => String(n).padStart(2, "0");
  const clock = (ms) => { const d = new Date(ms); return `${two(d.getUTCHours())}${two(d.getUTCMinutes())}:${two(d.getUTCSeconds())}Z`; };
  const age = (ms) => { const s = Math.round((Date.now() - ms) / 1000); return 120 > s ? `${s} s` : `${Math.floor(s / 60)} min`; };
  // what was typed in one incident is never put into another
  const incident = () => document.querySelector("[data-mp-incident]")?.dataset.mpIncident || "";
  const keep = () => {
    kept = { page: location.pathname, incident: incident(), typed: {}, old: new Set(), until: null };
    for (const one of fields()) {
      kept.old.add(one.it);
      if (one.it.value) kept.typed[one.name] = one.it.value;
    }
  };
  const put = (it, value) => {
    const proto = it.tagName === "TEXTAREA" ? HTMLTextAreaElement : HTMLInputElement;
    Object.getOwnPropertyDescriptor(proto.prototype, "value").set.call(it, value);
    it.dispatchEvent(new FocusEvent("focusin", { bubbles: true }));
    it.dispatchEvent(new Event("input", { bubbles: true }));
    it.dispatchEvent(new FocusEvent("focusout", { bubbles: true }));
  };
  const putBack = () => {
    if (!kept || kept.page !== location.pathname || kept.incident !== incident()) { kept = null; return; }
    if (kept.until === null) kept.until = Date.now() + 30000;
    for (const one of fields()) {
      const value = kept.typed[one.name];
      // an old field that still holds its text is drawn anew in a moment
      if (!value || one.it.disabled || document.activeElement === one.it) continue;
      if (!one.it.value) { put(one.it, value); delete kept.typed[one.name]; }
      else if (!kept.old.has(one.it)) delete kept.typed[one.name];
    }
    if (!Object.keys(kept.typed).length || Date.now() > kept.until) kept = null;
  };
  const say = (on) => {
    document.body.classList.toggle("mp-cut", on);
    if (!on) { plate?.remove(); plate = null; return; }
    if (!plate) {
      plate = document.createElement("div");
      plate.className = "mp-gone mp-server";
      plate.setAttribute("role", "alert");
      document.body.append(plate);
    }
    plate.textContent = `LINK LOST since ${clock(answeredAt)} by this computer's clock: the plot's server does not answer. What stands here is ${age(answeredAt)} old; what is typed stays, nothing can be recorded.`;
  };
  const ask = () => {
    if (asking) return;
    asking = true;
    const stop = new AbortController();
    setTimeout(() => stop.abort(), 2500);
    fetch(`${base()}_stcore/health`, { cache: "no-store", signal: stop.signal })
      .then((r) => { if (!r.ok) throw r.status; silent = 0; })
      .catch(() => { silent += 1; })
      .then(() => {
        asking = false;
        const well = silent === 0 && connected();
        if (well) {
          if (!plate) answeredAt = Date.now();
          if (at_rest()) { say(false); answeredAt = Date.now(); if (kept) putBack(); }
        } else if (silent >= 2 || (!connected() && app())) {
          if (!plate) keep();
          say(true);
        }
      });
  };
  setInterval(ask, 3000);
  setInterval(() => {
    if (plate) say(true);
    for (const it of document.querySelectorAll("[data-old-s]")) {
      if (it.from !== it.dataset.oldS) { it.from = it.dataset.oldS; it.began = Date.now(); }
      const words = age(it.began - 1000 * Number(it.from)), at = it.querySelector("b");
      if (at && at.textContent !== words) at.textContent = words;
    }
  }, 1000);
  // the socket's end is seen at once, before anything on the page is drawn anew
  new MutationObserver(() => { if (app() && !connected() && !plate) { document.body.classList.add("mp-cut"); keep(); ask(); } })
    .observe(document.body, { attributes: true, subtree: true, attributeFilter: ["data-test-connection-state"] });
})();
