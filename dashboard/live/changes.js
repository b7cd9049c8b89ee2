// What changed is swapped into the open page: asked for over one socket, one question at a time.
// Nothing older takes the place of anything newer; a page that is told nothing says how old it is.
const RETRY_MS = [300, 2000], POLL_MS = 3000, AGAIN_MS = 15000, SILENT_MS = 15000, LOOK_MS = 500;
const lives = new WeakMap();

export default function ({ data, parentElement, setTriggerValue }) {
  let life = lives.get(parentElement);
  if (!life) lives.set(parentElement, (life = begin()));
  life.told(data, () => setTriggerValue("stale", Date.now()));
  return () => { life.end(); lives.delete(parentElement); };
}

const older = (a, b) => a[0] < b[0] || (a[0] === b[0] && a[1] < b[1]);
const some = ([least, most]) => least + Math.random() * (most - least);

// ---- the page: its parts, and the chart in its frame

function chart() {
  for (const frame of document.querySelectorAll('iframe[title="streamlit_folium.st_folium"]')) {
    try { if (frame.contentWindow.musterplot?.told?.view) return frame.contentWindow.musterplot; } catch { /* being loaded */ }
  }
  return null;
}
// a drawing's nodes are the page's own: the newer one is laid in its stead
function stead(place) {
  const next = place.nextElementSibling;
  return next && next.dataset.stead === place.dataset.part + " " + place.dataset.made ? next : null;
}
function have(view) {
  for (const left of document.querySelectorAll("[data-stead]")) {
    const place = left.previousElementSibling;
    if (!place || !place.dataset.part || stead(place) !== left) { if (place?.dataset.part) place.style.display = ""; left.remove(); }
  }
  const found = {};
  for (const place of document.querySelectorAll("[data-part]")) found[place.dataset.part] = (stead(place) || place).dataset.now || place.dataset.made;
  const mp = chart();
  if (mp && mp.told.view === view) {
    found.chart = mp.told.made;
    for (const [name, made] of mp.told.layers) if (made !== "own") found["chart/" + name] = made;
  }
  return found;
}
// the same node stays wherever it can: what is focused, opened or scrolled stays so
function alike(a, b) { return a.nodeType === b.nodeType && a.nodeName === b.nodeName; }
function take(to, from) {
  if (to.nodeType === Node.TEXT_NODE) { if (to.data !== from.data) to.data = from.data; return; }
  if (to.nodeType !== Node.ELEMENT_NODE) return;
  for (const { name } of [...to.attributes]) if (!from.hasAttribute(name)) to.removeAttribute(name);
  for (const { name, value } of from.attributes) if (to.getAttribute(name) !== value) to.setAttribute(name, value);
  within(to, from);
}
function within(to, from) {
  const old = [...to.childNodes], now = [...from.childNodes];
  now.forEach((node, i) => {
    if (old[i] && alike(old[i], node)) take(old[i], node);
    else if (old[i]) old[i].replaceWith(node);
    else to.append(node);
  });
  for (const node of old.slice(now.length)) node.remove();
}
function put(name, html, made, query) {
  for (const place of document.querySelectorAll(`[data-part="${CSS.escape(name)}"]`)) {
    const held = document.createElement("template");
    held.innerHTML = html;
    if (query) for (const a of held.content.querySelectorAll('a[href^="./"]')) a.setAttribute("href", a.getAttribute("href") + "?" + query);
    let into = place;
    if (place.dataset.drawn) {
      into = stead(place);
      if (!into) {
        into = document.createElement("div");
        into.className = place.className;
        into.dataset.stead = name + " " + place.dataset.made;
        place.style.display = "none";
        place.after(into);
      }
    }
    within(into, held.content);
    into.dataset.now = made;
  }
}

// ---- the talk with the server

function begin() {
  let data = null, run = () => {}, v = [0, 0], token = "", socket = null, asked = "", askedAt = 0;
  let failed = 0, polling = 0, over = false, confirmed = Date.now(), tookNothing = 0, ranAt = 0, refusals = 0, plate = null, retry = 0;

  const question = (found) => JSON.stringify({ token, since: v, have: found });
  const stale = (range, apart) => { // asks for a run of the page; not all pages at once, nor again and again
    if (over || Date.now() - ranAt < apart) return;
    ranAt = Date.now();
    setTimeout(() => { if (!over) run(); }, some(range));
  };
  const seen = (ageS) => { confirmed = Math.max(confirmed, Date.now() - ageS * 1000); };
  const apply = (news) => {
    if (older(news.v, v)) { // a clock was set back, or another server lags: a run puts it right
      refusals += 1;
      if (refusals > 3) stale([400, 4000], 5000);
      return;
    }
    refusals = 0;
    const before = JSON.stringify(have(data.view)), texts = {};
    for (const name in news.parts) {
      if (name.startsWith("chart/")) texts[name.slice(6)] = news.parts[name];
      else if (name !== "chart") put(name, news.parts[name], news.made[name], data.query);
    }
    if (news.parts.chart) chart()?.swap(news.parts.chart, news.made.chart, news.v, texts);
    v = news.v;
    seen(0);
    tookNothing = JSON.stringify(have(data.view)) === before ? tookNothing + 1 : 0;
    if (news.shape !== data.shape) stale([200, 3000], 5000);
  };
  const answer = async (said) => {
    failed = 0;
    if (typeof said === "string") {
      const told = JSON.parse(said);
      if (told.token) token = told.token;
      else if (told.same !== null) seen(told.same);
    } else {
      apply(await new Response(new Blob([said]).stream().pipeThrough(new DecompressionStream("gzip"))).json());
    }
    asked = "";
    if (tookNothing < 2) ask();
  };
  const ask = () => {
    if (over || !socket || socket.readyState !== WebSocket.OPEN) return;
    const words = question(have(data.view));
    if (words === asked) return; // it waits for its answer already
    asked = words;
    askedAt = Date.now();
    socket.send(words);
  };
  const refused = () => { asked = ""; stale([400, 4000], 5000); };
  const open = () => {
    clearTimeout(retry);
    if (over || socket) return;
    const at = new URL(data.socket, location.href);
    at.protocol = at.protocol.replace("http", "ws");
    const mine = (socket = new WebSocket(at));
    mine.binaryType = "arraybuffer";
    mine.onopen = () => { asked = ""; ask(); };
    mine.onmessage = (event) => answer(event.data);
    mine.onclose = (event) => {
      if (socket === mine) socket = null;
      if (over) return;
      failed += 1;
      if (event.code === 4401 || event.code === 4403) refused();
      retry = setTimeout(open, failed > 1 ? AGAIN_MS + some(RETRY_MS) : some(RETRY_MS));
    };
  };
  const poll = async () => { // the socket does not come through: a short question now and then
    const stop = new AbortController(), timer = setTimeout(() => stop.abort(), 8000);
    try {
      const got = await fetch(data.poll, { headers: { "x-plot-question": question(have(data.view)) }, cache: "no-store", signal: stop.signal });
      if (got.status === 401 || got.status === 403) refused();
      if (!got.ok) return;
      const told = await got.json();
      if (told.token) token = told.token;
      else if (told.parts) apply(told);
      else if (told.same !== null) seen(told.same);
    } catch { /* nothing came: its age is said */ } finally { clearTimeout(timer); }
  };
  const two = (n) => String(n).padStart(2, "0");
  const say = () => {
    const ms = Date.now() - confirmed, s = Math.round(ms / 1000), d = new Date(confirmed);
    const since = `${two(d.getUTCHours())}${two(d.getUTCMinutes())}:${two(d.getUTCSeconds())}Z`;
    const old = ms > SILENT_MS;
    const words = old ? `NO UPDATE since ${since} by this computer's clock: what stands here is ${s < 120 ? s + " s" : Math.floor(s / 60) + " min"} old.`
      : failed > 1 ? `Slow link: asked every ${POLL_MS / 1000} s.` : "";
    if (!words || document.body.classList.contains("mp-cut")) { plate?.remove(); plate = null; return; }
    if (!plate) { plate = document.createElement("div"); document.body.append(plate); }
    plate.className = old ? "mp-gone mp-server" : "mp-gone mp-server mp-slow";
    plate.setAttribute("role", old ? "alert" : "status");
    if (plate.textContent !== words) plate.textContent = words;
  };
  const look = setInterval(() => {
    say();
    const now = Date.now();
    if (socket && asked && now - askedAt > 2 * SILENT_MS) socket.close(); // it hears nothing any more
    if (now - confirmed > SILENT_MS) { tookNothing = 0; stale([10000, 40000], 90000); } // a busy server is not asked for more
    if (failed > 1 && now - polling > POLL_MS) { polling = now; poll(); }
    if (tookNothing < 2 || now - askedAt > 5000) ask(); // a part or a chart may have come since
  }, LOOK_MS);

  return {
    told(next, again) {
      const first = !data;
      run = again;
      data = next;
      token = next.token;
      // what the page was run for stands on it now, be it older by a clock that was set back
      if (first || !older(next.v, v) || Date.now() - ranAt < 60000) v = next.v;
      tookNothing = 0;
      confirmed = Date.now();
      if (!socket) { if (first) open(); } else ask();
    },
    end() { over = true; clearInterval(look); clearTimeout(retry); plate?.remove(); socket?.close(); },
  };
}
