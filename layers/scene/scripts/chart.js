// The chart in the browser: land, graticule, scale, north, cursor, symbols, labels, rubber band.
// Everything that comes from a record is set as text, never as markup.
(function () {
  "use strict";
  const mp = (window.musterplot = window.musterplot || {});
  const NMI = 1852;

  // degrees and minutes to so many decimals of a minute
  mp.dm = function (deg, width, letters, decimals) {
    const unit = 10 ** (decimals === undefined ? 1 : decimals), parts = Math.round(Math.abs(deg) * 60 * unit);
    const d = Math.floor(parts / (60 * unit)), m = ((parts % (60 * unit)) / unit).toFixed(Math.log10(unit)).padStart(unit > 1 ? 3 + Math.log10(unit) : 2, "0");
    return String(d).padStart(width, "0") + "°" + m + "′" + letters[deg < 0 ? 1 : 0];
  };
  mp.place = (lat, lon, decimals) => mp.dm(lat, 2, "NS", decimals) + " " + mp.dm(lon, 3, "EW", decimals);
  // no finer than a pixel: 0.1′ is 185 m, 0.001′ is 2 m
  mp.decimals = (metres) => (metres > 60 ? 1 : metres > 6 ? 2 : 3);
  mp.bearing = (deg) => String((Math.round(deg * 10) / 10) % 360 === 0 ? "0.0" : (Math.round(deg * 10) / 10).toFixed(1)).padStart(5, "0") + "°T";
  mp.range = (m) => (m < 1852 ? Math.round(m) + " m" : (m / NMI).toFixed(m < 18520 ? 2 : 1) + " nmi");

  function element(tag, cls, text) {
    const e = document.createElement(tag);
    if (cls) e.className = cls;
    if (text !== undefined) e.textContent = text;
    return e;
  }
  function svg(tag, attributes) {
    const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const key in attributes) e.setAttribute(key, attributes[key]);
    return e;
  }

  // ---- start: called once by the base, which never changes while the frame stays the same
  mp.start = function (map, spec) {
    mp.map = map;
    mp.spec = spec;
    mp.projection = mp.frame(spec.frame);
    mp.anchor = null;
    mp.big = spec.wall ? mp.wallScale() : 1;
    // Leaflet rounds every vertex to a whole pixel, which makes a dense straight line wavy
    map.latLngToLayerPoint = function (latlng) { return this.project(L.latLng(latlng))._subtract(this.getPixelOrigin()); };
    const style = element("style");
    const face = (url, range) => (url ? `@font-face { font-family: "Source Sans"; font-weight: 200 900; src: url("${url}") format("woff2");${range ? ` unicode-range: ${range};` : ""} }` : "");
    style.textContent = face(spec.font_url) + face(...spec.whole_font) + mp.css(spec.ink) + (spec.wall ? mp.wallCss : "");
    document.head.appendChild(style);
    const panes = { tints: 120, land: 150, graticule: 180, grid: 220, areas: 350 };
    for (const name in panes) {
      map.createPane(name).style.zIndex = panes[name];
      map.getPane(name).style.pointerEvents = "none";
    }
    map.getPane("areas").style.pointerEvents = "auto";
    map.invalidateSize({ animate: false }); // the style sheet has just given it its height
    const half = spec.half_width_m;
    mp.settled = mp.asLinked() || mp.restore();
    for (const act of ["pointerdown", "wheel", "keydown"]) map.getContainer().addEventListener(act, () => { mp.settled = true; }, { once: true, passive: true });
    if (!mp.settled) map.fitBounds([[-half, -half], [half, half]], { animate: false });
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
    mp.levels = mp.landFrom = null;
    mp.land(spec.land_url);
    mp.furniture();
    map.on("zoomend moveend", mp.redraw);
    map.on("mousemove", mp.cursor);
    map.on("mouseout", () => { mp.readout.textContent = ""; if (mp.band) mp.band.remove(); });
    // the component fires a click of its own for a mark: give the mark's place, not the finger's
    map.getContainer().addEventListener("keydown", mp.keys);
    mp.redraw();
    if (spec.health) mp.listen();
    if (window.frameElement) window.frameElement.dataset.stands = "1"; // the page no longer says that it comes
    window.dispatchEvent(new Event("musterplot-ready"));
  };

  // A change of frame or colours builds the chart anew: what was looked at is kept by its place on
  // the earth and the metres across, in this tab only, as long as centre and reach were not changed.
  mp.remember = function () {
    if (!mp.spec.view_key) return;
    const c = mp.map.getCenter(), [lat, lon] = mp.projection.inverse(c.lng, c.lat);
    if (!isFinite(lat)) return;
    try { sessionStorage.setItem("musterplot-view", JSON.stringify({ key: mp.spec.view_key, lat, lon, zoom: mp.map.getZoom() })); } catch (e) { /* storage off: the view is not kept */ }
  };
  mp.restore = function () {
    if (!mp.spec.view_key) return false;
    let held = null;
    try { held = JSON.parse(sessionStorage.getItem("musterplot-view")); } catch (e) { return false; }
    if (!held || held.key !== mp.spec.view_key) return false;
    const [x, y] = mp.projection.forward(held.lat, held.lon);
    if (!isFinite(x) || !isFinite(y)) return false;
    mp.map.setView([y, x], held.zoom, { animate: false });
    return true;
  };

  // The page's link holds what is looked at too, in metres from the frame's centre and the metres
  // to its side: by itself it gives away no place. It counts when the page is opened.
  const LOOK = /[?&]look=(-?\d{1,8}),(-?\d{1,8}),(\d{1,8})(?=&|$)/;
  mp.hasLink = () => mp.spec.health && mp.spec.view_key && !mp.spec.wall;
  mp.asLinked = function () {
    if (!mp.hasLink()) return false;
    let found = null;
    try {
      if (window.parent.musterplotOpened) return false;
      window.parent.musterplotOpened = true;
      found = LOOK.exec(window.parent.location.search);
    } catch (e) { return false; /* another site's frame: its link is not ours */ }
    if (!found || !(+found[3] > 0)) return false;
    mp.map.setView([+found[2], +found[1]], Math.log2(mp.map.getSize().x / (2 * +found[3])), { animate: false });
    return true;
  };
  mp.link = function () {
    if (!mp.hasLink()) return;
    clearTimeout(mp.linking);
    mp.linking = setTimeout(() => {
      const c = mp.map.getCenter(), b = mp.map.getBounds(), half = mp.spec.half_width_m, zoom = mp.map.getZoom();
      const home = [[[-half, -half], [half, half]], mp.homeBounds()].some((b) => zoom === mp.map.getBoundsZoom(b)) && Math.hypot(c.lat, c.lng) * 2 ** zoom < 2;
      const look = home ? [] : ["look=" + [c.lng, c.lat, (b.getEast() - b.getWest()) / 2].map(Math.round).join(",")];
      try {
        const at = window.parent.location, others = at.search.slice(1).split("&").filter((part) => part && !part.startsWith("look="));
        const query = [...others, ...look].join("&"), asked = at.pathname + (query ? "?" + query : "") + at.hash;
        if (asked !== at.pathname + at.search + at.hash) window.parent.history.replaceState(window.parent.history.state, "", asked);
      } catch (e) { /* another site's frame: its link is not ours */ }
    }, 300);
  };

  mp.css = (ink) => `
    html, body, #root, #parent, .float-child:first-child, #map_div { height: 100vh !important; width: 100% !important; margin: 0; overflow: hidden; }
    .float-child:nth-child(2), body > span { display: none; }
    .leaflet-container { background: ${ink.sea}; font: 14px "Source Sans", system-ui, sans-serif; font-variant-numeric: tabular-nums; color: ${ink.ink}; }
    .leaflet-container:focus-visible, .leaflet-container *:focus-visible { outline: 3px solid ${ink.ink}; outline-offset: -3px; }
    .mp-zoom { display: flex; gap: 4px; align-items: center; color: ${ink.quiet}; }
    .mp-zoom button { background: none; border: 0; color: ${ink.ink}; font: inherit; font-size: 20px; line-height: 1; width: 28px; height: 28px; cursor: pointer; }
    .leaflet-tooltip { background: ${ink.panel}; color: ${ink.ink}; border: 1px solid ${ink.quiet}; white-space: pre-line; font-size: 14px; max-width: 420px; width: max-content; box-shadow: none; }
    .leaflet-tooltip::before { display: none; }
    .leaflet-container .leaflet-control-attribution { background: ${ink.panel}; color: ${ink.quiet}; font-size: 13px; }
    .mp-box { background: ${ink.sea}d9; color: ${ink.ink}; border: 0; padding: 2px 8px; font-size: 14px; line-height: 1.35; pointer-events: none; }
    .mp-box.live { pointer-events: auto; }
    .mp-cursor { font-size: 16px; white-space: pre; }
    .mp-cursor:empty, .mp-left-out:empty { visibility: hidden; }
    .mp-left-out { color: ${ink.quiet}; font-size: 13px; min-height: 1.2em; }
    .mp-scale { border: 2px solid ${ink.ink}; border-top: 0; height: 7px; margin: 2px 0 1px; }
    .mp-mark { position: relative; }
    .mp-inset { position: absolute; right: 10px; bottom: 58px; width: 40%; max-width: 420px; height: 264px; max-height: 52%; z-index: 850; display: flex; flex-direction: column; background: ${ink.sea}; border: 1px solid ${ink.quiet}; cursor: pointer; }
    .mp-inset-head { display: flex; justify-content: space-between; gap: 12px; padding: 2px 8px; background: ${ink.panel}; color: ${ink.quiet}; font-size: 13px; white-space: nowrap; overflow: hidden; }
    .mp-inset-head b { color: ${ink.ink}; font-size: 15px; font-weight: 650; }
    .mp-inset-map { flex: 1; background: ${ink.sea}; }
    .mp-inset > .mp-box { position: absolute; left: 4px; bottom: 2px; z-index: 900; font-size: 13px; }
    .mp-inset > button { position: absolute; inset: 0; background: none; border: 0; cursor: pointer; z-index: 950; }
    .mp-edge { position: absolute; z-index: 640; width: 0; height: 0; pointer-events: none; }
    .mp-edge svg { position: absolute; overflow: visible; left: 0; top: 0; }
    .mp-mark svg { position: absolute; overflow: visible; left: 0; top: 0; pointer-events: auto; cursor: pointer; }
    .mp-label { position: absolute; left: 0; top: 0; width: max-content; white-space: nowrap; font-size: 14px; line-height: 1.15; pointer-events: none; text-shadow: 0 0 3px ${ink.sea}, 0 0 3px ${ink.sea}, 0 0 2px ${ink.sea}; }
    .mp-label.r0 { font-size: 19px; font-weight: 650; }
    .mp-label.r1 { font-size: 16px; font-weight: 650; }
    .mp-label.r2 { font-size: 15px; font-weight: 650; }
    .mp-label.hidden { display: none; }
      .mp-grat { width: max-content; color: ${ink.quiet}; font-size: 13px; white-space: nowrap; text-shadow: 0 0 3px ${ink.sea}, 0 0 3px ${ink.sea}; pointer-events: none; }
    .mp-band { color: ${ink.ink}; font-size: 16px; font-weight: 600; white-space: nowrap; text-shadow: 0 0 3px ${ink.sea}, 0 0 3px ${ink.sea}; pointer-events: none; padding-left: 14px; }
    .mp-legend { position: absolute; left: 0; right: 0; bottom: 0; z-index: 900; height: 26px; display: flex; gap: 18px; align-items: center; padding: 0 10px; overflow: hidden; white-space: nowrap; background: ${ink.panel}; border-top: 1px solid ${ink.line}; color: ${ink.quiet}; font-size: 13px; }
    .mp-legend b { color: ${ink.ink}; font-weight: 650; }
    .mp-legend span:not([hidden]) { display: inline-flex; align-items: center; gap: 6px; flex: none; }
    .mp-legend button { background: none; border: 0; padding: 0 4px; color: ${ink.ink}; font: inherit; text-decoration: underline; cursor: pointer; flex: none; }
    .mp-legend.open { height: auto; flex-wrap: wrap; padding: 4px 10px; row-gap: 4px; }
    .leaflet-bottom { bottom: 26px; }
    .mp-label small { display: block; font-size: 13px; font-weight: 400; color: ${ink.quiet}; }
    .mp-label.r8 { font-size: 13px; color: ${ink.quiet}; }
    .mp-lost { display: none; position: absolute; z-index: 1100; left: 50%; top: 12px; transform: translateX(-50%); background: ${ink.ink}; color: ${ink.sea}; font-size: 24px; font-weight: 700; padding: 6px 16px; }
    .mp-north svg { vertical-align: middle; margin-right: 6px; }
  `;

  // The wall: the chart is 55 % of the screen's height, so 5.5 % of the chart is 3 % of the screen.
  // Names of first rank only; nothing to press; the credit of the coast is not read across a room.
  mp.wallCss = `
    .mp-zoom, .mp-legend, .mp-cursor, .mp-left-out, .mp-label:not(.r0):not(.r1):not(.r2) { display: none !important; }
    .leaflet-bottom { bottom: 0; }
    .mp-label small { font-size: max(4.95vh, 2.7vmin); }
    .mp-label.r0, .mp-label.r1, .mp-label.r2, .mp-grat, .mp-box { font-size: max(5.5vh, 3vmin); line-height: 1.1; }
    .mp-label.r0 { font-weight: 800; }
    .leaflet-container .leaflet-control-attribution { font-size: max(13px, 2.4vh); }
    .mp-lost { font-size: 13vh; width: 92vw; text-align: center; }
  `;

  // Marks are seen from four metres too: they grow with the screen's height as the letters do.
  mp.wallScale = function () {
    let height = 0;
    try { height = window.parent.innerHeight; } catch (e) { /* another site's frame: as drawn */ }
    return Math.max(1, height / 900);
  };
  mp.dashes = (text) => (text ? text.split(" ").map((d) => d * mp.big).join(" ") : null);

  // ---- land: fetched from an address with its content's hash, each level when it is first looked at
  // and drawn once on a canvas; the finest level that covers the view is shown
  mp.land = function (url) {
    if (!url || url === mp.landFrom) return;
    mp.landFrom = url;
    const told = (from) => fetch(from).then((r) => (r.ok ? r.json() : Promise.reject(r.status)));
    const failed = (why) => { if (mp.landFrom === url) mp.landFrom = null; mp.map.getContainer().dataset.land = "failed " + why; };
    told(url).then((levels) => {
      if (mp.landFrom !== url) return;
      const canvas = L.canvas({ pane: "land", padding: 0.3 });
      const places = (run, unit) => { const out = []; let x = 0, y = 0; for (let i = 0; i < run.length; i += 2) { x += run[i]; y += run[i + 1]; out.push([y * unit, x * unit]); } return out; };
      const drawn = (level) => L.layerGroup([
        L.polygon(level.fill.map((r) => [places(r, level.unit_m)]), { pane: "land", renderer: canvas, interactive: false, smoothFactor: 0.5, fillColor: mp.spec.ink.land, fillOpacity: 1, stroke: !level.coast.length, color: mp.spec.ink.shore, weight: mp.big }),
        L.polyline(level.coast.map((r) => places(r, level.unit_m)), { pane: "land", renderer: canvas, interactive: false, smoothFactor: 0.5, color: mp.spec.ink.shore, weight: 1.3 * mp.big }),
      ]);
      for (const level of mp.levels || []) level.layer?.remove();
      mp.levels = levels.map((level) => {
        const held = { half: level.half_m, widest: level.widest_m === null ? Infinity : level.widest_m, layer: null, coming: false };
        const put = (whole) => { held.layer = drawn(whole); held.pieces = whole.fill.length; if (mp.landFrom === url) mp.pickLand(); };
        held.need = () => {
          if (held.layer || held.coming) return;
          held.coming = true;
          (level.file ? told(new URL(level.file, new URL(url, location.href))) : Promise.resolve(level)).then(put).catch(failed).then(() => { held.coming = false; });
        };
        return held;
      });
      mp.pickLand();
    }).catch(failed);
  };
  mp.pickLand = function () {
    if (!mp.levels) return;
    const b = mp.map.getBounds(), width = b.getEast() - b.getWest();
    const reach = Math.max(Math.abs(b.getEast()), Math.abs(b.getWest()), Math.abs(b.getNorth()), Math.abs(b.getSouth()));
    const best = mp.levels.find((l) => width <= l.widest && reach <= l.half) || mp.levels[mp.levels.length - 1];
    best.need();
    if (!best.layer) return; // what stands stays until it is there
    for (const level of mp.levels) {
      if (level === best) level.layer.addTo(mp.map); else level.layer?.remove();
    }
    mp.map.getContainer().dataset.land = String(best.pieces);
  };

  // ---- the link: when the server does not answer, marks do not come, or nothing new has come for
  // long, the chart says so
  mp.listen = function () {
    mp.alert = element("div", "mp-lost");
    mp.alert.setAttribute("role", "alert");
    mp.map.getContainer().append(mp.alert);
    let lost = 0;
    const age = () => { const s = Math.round((Date.now() - mp.drawnAt) / 1000); return s < 120 ? s + " s" : Math.floor(s / 60) + " min"; };
    const shown = () => (mp.drawnAt ? "what is shown is " + age() + " old" : "the chart is empty");
    const say = (words) => { mp.alert.textContent = words; mp.alert.style.display = words ? "block" : "none"; };
    setInterval(() => {
      const stop = new AbortController();
      setTimeout(() => stop.abort(), 2500);
      fetch("../../_stcore/health", { cache: "no-store", signal: stop.signal })
        .then((r) => { if (!r.ok) throw r.status; lost = 0; })
        .catch(() => { lost += 1; })
        .then(() => {
          const another = mp.drawnAt && !(mp.follows && mp.asked);
          if (lost >= 2) say("LINK LOST: " + shown());
          else if (mp.awaited && Date.now() - mp.awaited > 6000) say("MARKS MISSING: " + (another ? "what is shown is of another time" : shown()));
          else if (mp.follows && Date.now() - mp.drawnAt > 150000) say("NO UPDATE: " + shown());
          else say("");
        });
    }, mp.spec.wall ? 3000 : 5000);
  };

  // ---- furniture: cursor, scale in nautical miles, north with convergence, legend, caution
  mp.furniture = function () {
    const box = (position, cls) => {
      const control = L.control({ position: position });
      const e = element("div", "mp-box " + cls);
      control.onAdd = () => e;
      control.addTo(mp.map);
      return e;
    };
    if (mp.map.zoomControl) mp.map.zoomControl.remove();
    const zoom = box("topright", "live mp-zoom");
    L.DomEvent.disableClickPropagation(zoom);
    const press = (word, name, by) => { const b = element("button", "", word); b.type = "button"; b.title = name; b.setAttribute("aria-label", name); b.onclick = () => mp.map.zoomIn(by); return b; };
    mp.across = element("span", "");
    zoom.append(press("−", "Zoom out", -0.5), mp.across, press("+", "Zoom in", 0.5));
    mp.legend = element("div", "mp-legend");
    mp.map.getContainer().append(mp.legend);
    L.DomEvent.disableClickPropagation(mp.legend);
    mp.map.on("resize", () => { mp.fitLegend(); mp.inset(true); mp.declutter(); });
    mp.north = box("topleft", "mp-north");
    mp.scaleBox = box("bottomleft", "");
    mp.readout = box("bottomleft", "mp-cursor");
    mp.readout.setAttribute("role", "status");
    mp.readout.textContent = "";
    mp.leftOut = box("bottomleft", "mp-left-out");
    mp.map.attributionControl.setPrefix(false);
    mp.map.attributionControl.getContainer().textContent = mp.spec.attribution;
    mp.map.attributionControl._update = function () { this._container.textContent = mp.spec.attribution; };
  };

  mp.cursor = function (event) {
    const [lat, lon] = mp.projection.inverse(event.latlng.lng, event.latlng.lat);
    if (!isFinite(lat) || Math.abs(lat) > 90) { mp.readout.textContent = "outside this frame"; return; }
    let text = mp.place(lat, lon, mp.decimals(mp.metresAPixel || 100));
    const ref = mp.reference;
    if (ref) {
      const r = mp.inverse(ref.lat, ref.lon, lat, lon);
      text += "   " + mp.bearing(r.deg) + "  " + mp.range(r.m) + " from " + ref.name;
    }
    mp.readout.textContent = text;
    mp.rubber(event.latlng, lat, lon);
  };

  // ---- rubber band from the last measured point to the cursor, read at the line itself
  mp.rubber = function (latlng, lat, lon) {
    if (mp.band) mp.band.remove();
    if (!mp.anchor) return;
    const [y, x, alat, alon] = mp.anchor;
    const r = mp.inverse(alat, alon, lat, lon);
    const line = L.polyline([[y, x], latlng], { color: mp.spec.ink.measure, weight: 2, dashArray: "12 4 2 4", interactive: false });
    const text = element("div", "mp-band", mp.bearing(r.deg) + "  " + mp.range(r.m));
    const label = L.marker(latlng, { icon: L.divIcon({ className: "", html: text, iconSize: [0, 0] }), interactive: false, keyboard: false });
    mp.band = L.layerGroup([line, label]).addTo(mp.map);
  };

  mp.keys = function (event) { // Enter measures at the middle of the chart, so no mouse is needed
    if (event.key === "Enter" && event.target === mp.map.getContainer()) {
      mp.map.fire("click", { latlng: mp.map.getCenter() });
    }
  };

  // ---- redraw on every change of view: graticule, scale, north, labels
  const STEPS = [20, 10, 5, 2, 1, 30 / 60, 20 / 60, 10 / 60, 5 / 60, 2 / 60, 1 / 60, 0.5 / 60, 0.2 / 60, 0.1 / 60, 0.05 / 60, 0.02 / 60, 0.01 / 60];
  function span(values) { return [Math.min(...values), Math.max(...values)]; }
  function step(range) { return STEPS.find((s) => range / s >= 3) || STEPS[STEPS.length - 1]; }
  function graticuleText(deg, width, letters) {
    const minutes = Math.abs(deg) * 60, whole = Math.floor(minutes / 60 + 1e-9), rest = minutes - whole * 60;
    const d = String(whole).padStart(width, "0") + "°";
    const m = rest < 1e-6 ? "" : rest.toFixed(Math.abs(rest - Math.round(rest)) < 1e-6 ? 0 : 2).padStart(2, "0") + "′";
    return d + m + (Math.abs(deg) < 1e-9 || Math.abs(deg) === 180 ? "" : letters[deg < 0 ? 1 : 0]);
  }
  mp.redraw = function () {
    const map = mp.map, bounds = map.getBounds(), P = mp.projection;
    const w = bounds.getWest(), e = bounds.getEast(), s = bounds.getSouth(), n = bounds.getNorth();
    if (mp.graticule) mp.graticule.remove();
    const lats = [], lons = [], centre = map.getCenter();
    const [clat, clon] = P.inverse(centre.lng, centre.lat);
    for (let i = 0; i <= 12; i++) for (let j = 0; j <= 12; j++) {
      const [lat, lon] = P.inverse(w + ((e - w) * i) / 12, s + ((n - s) * j) / 12);
      if (isFinite(lat) && Math.abs(lat) <= 90) { lats.push(lat); lons.push(((((lon - clon + 180) % 360) + 360) % 360) - 180); }
    }
    if (!lats.length) return;
    let [south, north] = span(lats), [west, east] = span(lons);
    const pole = [[90, 0], [-90, 0]].some(([a, o]) => { const q = P.forward(a, o); return q[0] > w && q[0] < e && q[1] > s && q[1] < n; });
    if (pole) { west = -180; east = 180; if (clat > 0) north = 90; else south = -90; }
    const aspect = Math.max(Math.cos((clat * Math.PI) / 180), 0.05), dlat = step(north - south);
    const dlon = pole ? 30 : step((east - west) * Math.min(1, aspect * 1.6));
    const lines = [], labels = [];
    const curve = (place, from, to, text) => {
      let part = [], labelled = false;
      for (let i = 0; i <= 48; i++) {
        const [lat, lon] = place(from + ((to - from) * i) / 48), q = P.forward(lat, lon);
        const ok = isFinite(q[0]) && q[0] > w - (e - w) && q[0] < e + (e - w) && q[1] > s - (n - s) && q[1] < n + (n - s);
        if (!ok) { if (part.length > 1) lines.push(part); part = []; continue; }
        part.push([q[1], q[0]]);
      }
      if (part.length > 1) lines.push(part);
    };
    const edge = (text, horizontal, at) => labels.push({ text, horizontal, at });
    for (let k = Math.ceil(south / dlat - 1e-9); k * dlat <= north + 1e-9; k++) {
      const lat = k * dlat;
      if (Math.abs(lat) > 89.999) continue;
      curve((lon) => [lat, lon + clon], west, east);
      // label where it meets the right edge of the chart
      let low = s, high = n;
      for (let i = 0; i < 40; i++) { const mid = (low + high) / 2; const g = P.inverse(e, mid)[0]; if ((g < lat) === (P.inverse(e, s)[0] < P.inverse(e, n)[0])) low = mid; else high = mid; }
      if (Math.abs(P.inverse(e, low)[0] - lat) < dlat / 50) edge(graticuleText(lat, 2, "NS"), false, low);
    }
    const wrap = (d) => ((((d + 180) % 360) + 360) % 360) - 180;
    for (let k = Math.ceil((west + clon) / dlon - 1e-9); k * dlon <= east + clon + 1e-9; k++) {
      const lon = k * dlon;
      curve((lat) => [lat, lon], Math.max(south, -89.9), Math.min(north, pole ? 89.0 : 89.9));
      let low = w, high = e;
      const side = (x) => wrap(P.inverse(x, n)[1] - lon);
      if (side(w) < 0 && side(e) > 0) {
        for (let i = 0; i < 40; i++) { const mid = (low + high) / 2; if (side(mid) < 0) low = mid; else high = mid; }
        edge(graticuleText(wrap(lon), 3, "EW"), true, low);
      }
    }
    const renderer = (mp.gratRenderer = mp.gratRenderer || L.svg({ pane: "graticule" }));
    const group = [L.polyline(lines, { pane: "graticule", renderer, color: mp.spec.ink.line, weight: mp.big, smoothFactor: 0, interactive: false })];
    for (const l of labels) {
      const at = l.horizontal ? [n, l.at] : [l.at, e];
      const html = element("div", "mp-grat", l.text);
      html.style.transform = l.horizontal ? "translate(4px, 2px)" : "translate(calc(-100% - 6px), -100%)";
      group.push(L.marker(at, { pane: "graticule", interactive: false, keyboard: false, icon: L.divIcon({ className: "", html, iconSize: [0, 0] }) }));
    }
    mp.graticule = L.layerGroup(group).addTo(map);
    mp.scale(clat, clon, centre);
    mp.toScale(mp.map, mp.marks || []);
    mp.edges();
    mp.inset();
    mp.declutter();
    mp.pickLand();
    mp.remember();
    mp.link();
    const q = map.getContainer().dataset;
    q.west = w; q.east = e; q.south = s; q.north = n;
  };

  mp.scale = function (clat, clon, centre) {
    const map = mp.map, P = mp.projection, per = map.containerPointToLatLng([100, 0]).lng - map.containerPointToLatLng([0, 0]).lng;
    const a = P.inverse(centre.lng - per, centre.lat), b = P.inverse(centre.lng + per, centre.lat);
    const metres = (mp.metresAPixel = mp.inverse(a[0], a[1], b[0], b[1]).m / 200); // true metres a pixel at the middle
    const choices = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];
    const nmi = choices.filter((c) => (c * NMI) / metres <= 220 * mp.big).pop() || 0.005;
    mp.scaleBox.replaceChildren();
    const bar = element("div", "mp-scale");
    bar.style.width = (nmi * NMI) / metres + "px";
    const metric = nmi < 0.5 ? Math.round(nmi * NMI) + " m" : nmi + " nmi";
    // where the scale changes over the sheet it is true in the middle only, and says so
    const at = isFinite(clat) && mp.spec.half_width_m > 150 * NMI ? "  at " + Math.round(Math.abs(clat)) + "°" + (clat < 0 ? "S" : "N") : "";
    mp.scaleBox.append(bar, element("div", "", metric + at));
    const across = (metres * map.getSize().x) / NMI;
    mp.across.textContent = across < 0.5 ? Math.round(across * NMI) + " m across" : Number(across.toPrecision(across < 10 ? 2 : 3)) + " nmi across";
    // grid convergence: where grid north points, seen from true north
    const up = P.forward(Math.min(clat + 0.01, 89.9999), clon), c0 = P.forward(clat, clon);
    let gamma = (Math.atan2(up[0] - c0[0], up[1] - c0[1]) * 180) / Math.PI; // true north on the sheet
    const arrow = svg("svg", { width: 22 * mp.big, height: 30 * mp.big, viewBox: "-11 -15 22 30" });
    const g = svg("g", { transform: "rotate(" + gamma.toFixed(2) + ")" });
    g.append(svg("path", { d: "M0 -13 L6 10 L0 5 L-6 10 Z", fill: mp.spec.ink.ink }));
    arrow.append(g);
    const off = -gamma; // convergence: grid north east of true north is positive
    const words = mp.spec.wall || Math.abs(off) < 0.05 ? "N" : "N  grid north " + Math.abs(off).toFixed(1) + "° " + (off > 0 ? "east" : "west") + " of true";
    mp.north.replaceChildren(arrow, document.createTextNode(words));
  };

  // ---- all marks of the served chart: each layer's from the address that holds just them, fetched
  // once and kept while it stays the same. What is drawn stays until all of the new is there.
  const PARTS_KEPT = 40;
  mp.parts = new Map();
  mp.part = function (address) {
    if (mp.texts.has(address)) return Promise.resolve(mp.texts.get(address));
    if (!mp.parts.has(address)) {
      const got = fetch(address)
        .then((r) => (r.ok ? new Response(r.body.pipeThrough(new DecompressionStream("gzip"))).json() : Promise.reject(r.status)));
      got.catch(() => mp.parts.delete(address));
      mp.parts.set(address, got);
      if (mp.parts.size > PARTS_KEPT) mp.parts.delete(mp.parts.keys().next().value);
    }
    return mp.parts.get(address);
  };
  // Newer marks that came with the page's own news: each layer's text that changed, no address.
  // The page's view and this must be the same, and nothing older takes the place of what is newer.
  mp.texts = new Map();
  mp.older = (a, b) => a[0] < b[0] || (a[0] === b[0] && a[1] < b[1]);
  // a layer's new marks, and by a number those that stand as they stood
  mp.step = function (name, step, address) {
    const made = mp.part(address || "").then((old) => ({ ...step, features: step.features.map((one) => (typeof one === "number" ? old.features[one] : one)) }));
    made.catch(() => { for (const layer of mp.told.layers) if (layer[0] === name) layer[1] = ""; }); // all of it is asked for
    return made;
  };
  mp.swap = function (news, made, v, texts) {
    const held = mp.told;
    if (!held || held.view !== news.view || mp.older(v, held.v)) return false;
    const at = new Map(held.layers.map(([name, known], i) => [name + " " + known, held.parts[i]])), kept = new Map();
    const own = held.layers.filter(([, known]) => known === "own"), parts = [];
    for (const [name, known] of [...news.layers, ...own]) {
      const key = name + " " + known;
      if (texts[name] && known !== "own") kept.set("live:" + key, texts[name].from ? mp.step(name, texts[name], at.get(name + " " + texts[name].from)) : texts[name]);
      else if (mp.texts.has(at.get(key))) kept.set(at.get(key), mp.texts.get(at.get(key)));
      const address = kept.has("live:" + key) ? "live:" + key : at.get(key);
      if (!address) return false; // a layer's text is missing: it is asked for again
      parts.push(address);
    }
    mp.texts = kept;
    mp.show({ ...held, lat: undefined, lon: undefined, name: undefined, ...news, layers: [...news.layers, ...own], parts, made, v });
    return true;
  };
  mp.turn = mp.awaited = 0; // awaited: since when, until the marks last told of are drawn
  mp.show = function (told) {
    // a page that ran meanwhile for the same view may bring what is older: of it the viewer's own
    // marks are taken, and the layers stay
    if (told.v && mp.told && mp.told.view === told.view && mp.older(told.v, mp.told.v)) {
      const of = (from, own) => from.layers.map((layer, i) => [layer, from.parts[i]]).filter(([[, known]]) => (known === "own") === own);
      const both = [...of(mp.told, false), ...of(told, true)];
      told = { ...mp.told, layers: both.map(([layer]) => layer), parts: both.map(([, part]) => part) };
    }
    mp.told = told;
    const turn = (mp.turn += 1);
    mp.awaited = mp.awaited || Date.now();
    mp.asked = !!told.follows; // whether now is asked for; mp.follows: whether it is drawn
    mp.land(told.land);
    const draw = (parts) => {
      if (turn !== mp.turn) return; // something newer has come meanwhile
      mp.begin(told);
      const group = L.layerGroup();
      mp.features = parts.flatMap((part) => part.features || []);
      for (const part of parts) L.geoJson(part, { onEachFeature: mp.each, pointToLayer: mp.point, style: mp.style, bubblingMouseEvents: true }).addTo(group);
      if (mp.live) mp.live.remove();
      mp.live = group.addTo(mp.map);
      mp.end();
    };
    const symbols = () => (mp.spec.glyphs_url ? mp.part(mp.spec.glyphs_url).then((table) => { mp.spec.glyphs = table; }) : null);
    const fetched = (again) => Promise.all([symbols(), ...told.parts.map(mp.part)]).then(([, ...parts]) => draw(parts)).catch((why) => {
      if (turn !== mp.turn) return;
      mp.map.getContainer().dataset.missing = String(why);
      setTimeout(() => fetched(again - 1), again > 0 ? 1000 : 5000);
    });
    fetched(120); // a page run anew at this moment holds its marks again when it has run
  };

  // ---- what must not be missed: people adrift, the DISSUB and the support ship are within the
  // first view, as far as that stays of use, and beyond the edge an arrowhead says where they are
  const WIDEST = 3; // times the reach asked for
  mp.named = function () {
    return mp.marks.filter((m) => m.p.e && m.layer.getLatLng).map(({ p, layer }) => ({ p, at: layer.getLatLng() }));
  };
  mp.homeBounds = function () {
    const half = mp.spec.half_width_m, most = mp.spec.widens ? WIDEST * half : half;
    let reach = half;
    for (const { p, at } of mp.marks ? mp.named() : []) {
      const off = Math.max(Math.abs(at.lat), Math.abs(at.lng)) * 1.15;
      if (p.r <= 2 && off <= most) reach = Math.max(reach, off);
    }
    return [[-reach, -reach], [reach, reach]];
  };
  mp.home = function () { // once, with the first marks, unless a view was chosen
    if (mp.settled || !mp.spec.widens) return;
    mp.settled = true;
    mp.map.fitBounds(mp.homeBounds(), { animate: false });
  };
  mp.stamped = () => { const head = document.getElementById("head"); return head ? head.offsetHeight : 0; }; // a map that goes out has words on its top
  mp.edges = function () {
    const box = mp.map.getContainer(), size = mp.map.getSize(), inset = 16 * mp.big;
    box.querySelectorAll(".mp-edge").forEach((e) => e.remove());
    const bottom = size.y - (mp.legend && !mp.spec.wall ? LEGEND : 0), top = mp.stamped(), cx = size.x / 2, cy = (top + bottom) / 2;
    const centre = mp.map.getCenter(), [lat, lon] = mp.projection.inverse(centre.lng, centre.lat);
    for (const { p, at } of mp.marks ? mp.named() : []) {
      const q = mp.map.latLngToContainerPoint(at);
      if (q.x >= 0 && q.x <= size.x && q.y >= top && q.y <= bottom) continue;
      const dx = q.x - cx, dy = q.y - cy;
      const share = Math.min((cx - inset) / Math.abs(dx), (cy - top - inset) / Math.abs(dy));
      const there = mp.projection.inverse(at.lng, at.lat), r = mp.inverse(lat, lon, there[0], there[1]);
      const edge = element("div", "mp-edge");
      edge.style.left = cx + dx * share + "px";
      edge.style.top = cy + dy * share + "px";
      const picture = svg("svg", { width: 1, height: 1 });
      picture.append(svg("path", { d: "M0 -12L8 8L0 3L-8 8Z", fill: p.lc || p.c, transform: `rotate(${((Math.atan2(dx, -dy) * 180) / Math.PI).toFixed(1)}) scale(${mp.big})` }));
      const name = element("div", "mp-label r" + Math.min(p.r, 1), p.i ? p.i + " adrift" : p.l || p.n);
      name.style.color = p.lc || p.c;
      name.dataset.size = String(10 * mp.big);
      name.append(element("small", "", mp.bearing(r.deg).replace(/\.\d/, "") + " " + mp.range(r.m)));
      edge.append(picture, name);
      box.append(edge);
    }
  };

  // what is drawn to scale stands where it is large enough to be seen, and a symbol gives way to it
  mp.toScale = function (map, marks) {
    const b = map.getBounds(), across = b.getEast() - b.getWest();
    for (const { p, layer } of marks) {
      if (p.k === undefined && p.j === undefined) continue;
      const e = layer.getElement && layer.getElement();
      if (!e) continue;
      if (p.k !== undefined) e.style.display = across <= p.k ? "" : "none";
      if (p.j !== undefined) e.querySelector("svg").style.visibility = across > p.j ? "" : "hidden";
    }
  };

  // ---- the inset: the same marks about her at the scale of the seabed, while the chart is too wide
  // to show them. A press opens it large.
  const INSET_FROM_M = 5 * NMI, INSET_M = 420; // chart across, half the inset's width
  mp.inset = function (changed) {
    const her = (mp.marks || []).find(({ p }) => p.y === "her"), size = mp.map.getSize();
    const b = mp.map.getBounds(), near = (mp.marks || []).some(({ p }) => p.k !== undefined || p.n === "transponder");
    const wanted = her && near && b.getEast() - b.getWest() > INSET_FROM_M && !mp.spec.wall && size.x > 700;
    if (mp.insetBox) mp.insetBox.style.display = wanted ? "" : "none";
    mp.insetDrawn = wanted && mp.insetDrawn && !changed; // one that was away may have another size
    if (!wanted || mp.insetDrawn) return;
    if (!mp.insetBox) mp.makeInset();
    const map = mp.insetMap, at = her.layer.getLatLng();
    const hull = mp.marks.find(({ p }) => p.k !== undefined && p.f); // how she lies, as it is told
    mp.insetHead.replaceChildren(element("b", "", "Seabed"), element("span", "", hull ? hull.p.t.split(/[;\n]/)[0].replace(/^[^,]*, /, "") : "")); // its height is the map's too
    map.invalidateSize({ animate: false });
    map.fitBounds([[at.lat - INSET_M * 0.7, at.lng - INSET_M], [at.lat + INSET_M * 0.7, at.lng + INSET_M]], { animate: false });
    if (mp.insetGroup) mp.insetGroup.remove();
    const marks = [], held = mp.marks;
    mp.insetGroup = L.layerGroup();
    for (const feature of mp.features || []) {
      const p = feature.properties;
      if (!(p.r <= 2 || p.k !== undefined || p.n === "transponder") || p.grid || p.under || !mp.touches(feature, map.getBounds())) continue;
      const made = L.geoJson(feature, { pointToLayer: mp.point, style: mp.style, interactive: false, onEachFeature: (f, layer) => marks.push({ p: f.properties, layer }) });
      mp.insetGroup.addLayer(made);
    }
    mp.marks = held;
    mp.insetGroup.addTo(map);
    mp.toScale(map, marks);
    mp.insetDrawn = true;
    const scale = mp.insetScale, metres = (map.getBounds().getEast() - map.getBounds().getWest()) / map.getSize().x;
    scale.firstChild.style.width = 100 / metres + "px";
    mp.declutter(map.getContainer());
  };
  mp.touches = function (feature, bounds) {
    const points = feature.geometry.coordinates.flat(Infinity), width = bounds.getEast() - bounds.getWest();
    let west = Infinity, east = -Infinity, south = Infinity, north = -Infinity;
    for (let i = 0; i + 1 < points.length; i += 2) {
      west = Math.min(west, points[i]); east = Math.max(east, points[i]);
      south = Math.min(south, points[i + 1]); north = Math.max(north, points[i + 1]);
    }
    if (east - west > 4 * width) return false; // a route or track crosses; it is read on the chart
    return west < bounds.getEast() && east > bounds.getWest() && south < bounds.getNorth() && north > bounds.getSouth();
  };
  mp.makeInset = function () {
    const box = (mp.insetBox = element("div", "mp-inset"));
    mp.insetHead = element("div", "mp-inset-head");
    const ground = element("div", "mp-inset-map");
    mp.insetScale = element("div", "mp-box");
    mp.insetScale.append(element("div", "mp-scale"), element("div", "", "100 m"));
    const open = element("button", "", "");
    open.type = "button";
    open.setAttribute("aria-label", "Open the seabed about her large");
    open.onclick = () => {
      mp.settled = true;
      const b = mp.insetMap.getBounds();
      mp.map.fitBounds([[b.getSouth(), b.getWest()], [b.getNorth(), b.getEast()]], { animate: false });
    };
    box.append(mp.insetHead, ground, mp.insetScale, open);
    mp.map.getContainer().append(box);
    L.DomEvent.disableClickPropagation(box);
    L.DomEvent.disableScrollPropagation(box);
    mp.insetMap = L.map(ground, { crs: L.CRS.Simple, zoomControl: false, attributionControl: false, dragging: false, keyboard: false, scrollWheelZoom: false, doubleClickZoom: false, boxZoom: false, touchZoom: false, zoomSnap: 0, minZoom: -30, maxZoom: 10, zoomAnimation: false, fadeAnimation: false });
    mp.insetMap.createPane("areas");
    mp.insetMap.createPane("grid");
    mp.insetMap.setView([0, 0], 0);
  };

  // ---- features of the live group: style, symbol, tooltip, label
  mp.begin = function (told) { mp.reference = told && told.name ? told : null; mp.follows = !!(told && told.follows); mp.unseen = (told && told.unseen) || ""; mp.marks = []; mp.anchor = null; mp.seen = new Map(); if (mp.band) mp.band.remove(); };
  mp.style = function (feature) {
    const p = feature.properties;
    return { color: p.c, stroke: p.w !== 0, weight: (p.w || 2) * mp.big, opacity: p.o === undefined ? 1 : p.o, dashArray: mp.dashes(p.d), smoothFactor: 0.2, fill: !!p.f, fillColor: p.f || p.c, fillOpacity: p.fo || 0, pane: feature.geometry.type.endsWith("Polygon") ? (p.under ? "tints" : p.grid ? "grid" : "areas") : "overlayPane", interactive: !p.under };
  };
  mp.glyph = function (p, size) { // the symbol as it is drawn, on the chart and in the legend
    const glyph = mp.spec.glyphs[p.y] || { s: [], f: [] };
    const g = svg("g", { transform: "rotate(" + (p.h || 0) + ")", fill: "none", stroke: p.c, "stroke-width": (p.w || 2) * mp.big, "stroke-linejoin": "round", "stroke-linecap": "round" });
    if (p.d) g.setAttribute("stroke-dasharray", mp.dashes(p.d));
    const path = (points) => "M" + points.map(([x, y]) => (x * size).toFixed(1) + " " + (-y * size).toFixed(1)).join("L");
    for (const s of glyph.p || []) g.append(svg("path", { d: path(s), fill: p.q ? "none" : p.pl || p.c, "stroke-width": mp.big }));
    for (const s of glyph.s) g.append(svg("path", { d: path(s) }));
    for (const f of glyph.f) g.append(svg("path", { d: path(f), fill: p.q ? "none" : p.c, "stroke-width": (p.q ? 1 : 0.5) * mp.big }));
    return g;
  };
  mp.label = function (p) {
    const label = element("div", "mp-label r" + p.r, p.l);
    label.style.color = p.lc || p.c;
    if (p.l2) label.append(element("small", "", p.l2));
    return label;
  };
  mp.point = function (feature, latlng) {
    const p = feature.properties, size = (p.z || 8) * mp.big, holder = element("div", "mp-mark");
    const picture = svg("svg", { width: 1, height: 1 });
    picture.append(svg("circle", { r: Math.max(size, 11), fill: "transparent", stroke: "none" }), mp.glyph(p, size));
    if (p.i) {
      const number = svg("text", { "text-anchor": "middle", y: size * 0.42, fill: p.c, "font-size": size * 1.15, "font-weight": 700 });
      number.textContent = p.i;
      picture.append(number);
    }
    holder.append(picture);
    if (p.l) {
      const label = mp.label(p);
      label.dataset.size = size;
      if (p.n) label.dataset.thing = p.n;
      holder.append(label);
    }
    return L.marker(latlng, { icon: L.divIcon({ className: "", html: holder, iconSize: [0, 0] }), keyboard: false, zIndexOffset: (9 - p.r) * 100 });
  };
  mp.each = function (feature, layer) {
    const p = feature.properties;
    if (p.t) layer.bindTooltip(() => element("div", "", p.t), { sticky: feature.geometry.type !== "Point", direction: "auto", opacity: 0.97 });
    if (p.m) mp.anchor = [feature.geometry.coordinates[1], feature.geometry.coordinates[0], p.m[0], p.m[1]];
    if (feature.geometry.type === "Point") {
      layer.on("click", (e) => { L.DomEvent.stopPropagation(e); mp.map.fire("click", { latlng: layer.getLatLng() }); });
    } else if (p.l) {
      layer.on("add", () => mp.lineLabel(layer, p));
      layer.on("remove", () => { if (layer.mpLabel) layer.mpLabel.remove(); });
    }
    mp.marks.push({ p, layer });
    if (p.n && !mp.seen.has(p.n + (p.y || ""))) mp.seen.set(p.n + (p.y || ""), { p, kind: feature.geometry.type });
  };
  mp.lineLabel = function (layer, p) { // beside the middle of the line or the top of the area
    let at = layer.getLatLngs();
    while (Array.isArray(at[0])) at = at[0];
    if (!at.length) return;
    const top = layer instanceof L.Polygon ? at.reduce((a, b) => (b.lat > a.lat ? b : a)) : at[Math.floor((at.length - 1) / 2)];
    const label = mp.label(p);
    layer.mpLabel = L.marker(top, { icon: L.divIcon({ className: "", html: label, iconSize: [0, 0] }), interactive: false, keyboard: false }).addTo(mp.map);
  };
  mp.end = function () {
    mp.drawnAt = Date.now();
    mp.awaited = 0;
    mp.drawLegend();
    setTimeout(() => { mp.home(); mp.toScale(mp.map, mp.marks); mp.edges(); mp.inset(true); mp.declutter(); }, 0); // the group is put on the map after this
    setTimeout(mp.declutter, 400); // and once more when letters and furniture have their sizes
    mp.map.getContainer().dataset.marks = String(mp.marks.length);
  };
  mp.drawLegend = function () { // one line under the chart: only what is on it, drawn by the same functions
    mp.legend.replaceChildren(element("b", "", "Legend"));
    const named = new Set(), rows = new Map();
    const sort = (p) => p.n + String(p.y || "").replace(/\d+$/, "");
    for (const { p, kind } of [...mp.seen.values()].sort((a, b) => a.p.r - b.p.r)) {
      if (named.has(sort(p))) continue;
      named.add(sort(p));
      const picture = svg("svg", { width: 24, height: 18, viewBox: "-12 -9 24 18" });
      if (kind === "Point") picture.append(mp.glyph({ ...p, h: 0, w: 1.5 }, 6 / mp.big));
      else if (kind.endsWith("Polygon") && p.fo) picture.append(svg("rect", { x: -10, y: -6, width: 20, height: 12, fill: p.f, "fill-opacity": p.fo, stroke: p.c }));
      else picture.append(svg("path", { d: "M-11 0H11", stroke: p.c, "stroke-width": p.w || 2, ...(p.d ? { "stroke-dasharray": p.d } : {}) }));
      if (!rows.has(p.n)) rows.set(p.n, element("span", "", p.n)); // one name a thing, all its symbols before it
      rows.get(p.n).insertBefore(picture, rows.get(p.n).lastChild);
    }
    mp.legend.append(...rows.values());
    for (const words of ["hollow: stale", "broken: reckoned or expected", mp.unseen].filter(Boolean)) mp.legend.append(element("span", "", words));
    mp.legend.title = [...mp.legend.children].slice(1).map((e) => e.textContent).join("; ");
    mp.fitLegend();
  };
  mp.fitLegend = function () { // what does not fit in the line is counted, never cut; a press opens it
    const spans = [...mp.legend.querySelectorAll("span")];
    let more = mp.legend.querySelector("button");
    if (!more) {
      more = element("button", "", "");
      more.type = "button";
      more.onclick = () => { more.setAttribute("aria-expanded", String(mp.legend.classList.toggle("open"))); mp.fitLegend(); };
      mp.legend.append(more);
    }
    const open = mp.legend.classList.contains("open");
    for (const span of spans) span.hidden = false;
    more.hidden = !open;
    more.textContent = "less";
    let left = 0;
    while (!open && mp.legend.scrollWidth > mp.legend.clientWidth && left < spans.length) {
      left += 1;
      spans[spans.length - left].hidden = true;
      more.hidden = false;
      more.textContent = left + " more";
    }
  };
  // Labels do not lie on each other: the lower rank number comes first and keeps its place, the
  // next tries the sides and corners of its mark, and gives way when all are taken. So does the
  // lettering of the graticule.
  const PLACES = [
    (s) => "translate(" + (s + 6) + "px, -50%)", (s) => "translate(calc(-100% - " + (s + 6) + "px), -50%)",
    (s) => "translate(-50%, calc(-100% - " + (s + 3) + "px))", (s) => "translate(-50%, " + (s + 3) + "px)",
    (s) => "translate(" + s + "px, calc(-100% - " + s / 2 + "px))", (s) => "translate(calc(-100% - " + s + "px), calc(-100% - " + s / 2 + "px))",
    (s) => "translate(" + s + "px, " + s / 2 + "px)", (s) => "translate(calc(-100% - " + s + "px), " + s / 2 + "px)",
    // over and under what stands at its side
    ...[-100, 0].flatMap((x) => [(s) => "translate(" + x + "%, calc(-100% - " + (s + 3) + "px))", (s) => "translate(" + x + "%, " + (s + 3) + "px)"]),
  ];
  const APART = 3, ONE_PLACE = 12, LEGEND = 26; // pixels
  const EVIDENCE = 4, DEPTHS = 8; // ranks: what is no ship and nobody; figures that are no names
  const rank = (e) => Number((e.className.match(/r(\d)/) || [0, 9])[1]);
  // What lies on the seabed under her mark is named in the inset, and needs no name here.
  mp.inInset = function () {
    const her = mp.insetBox && !mp.insetBox.style.display && (mp.marks || []).find(({ p }) => p.y === "her");
    const at = her && her.layer.getElement() && her.layer.getElement().getBoundingClientRect();
    return at && ((label, seen) => rank(label) >= EVIDENCE && Math.hypot(seen.left - at.left, seen.top - at.top) < ONE_PLACE);
  };
  // Marks of first rank that stand for one thing on one place say it once, together.
  mp.together = function (labels) {
    const heads = [];
    for (const label of labels) {
      if (label.dataset.own) label.textContent = label.dataset.own;
      if (!label.dataset.thing || !label.classList.contains("r0")) continue;
      const at = label.parentNode.getBoundingClientRect();
      const head = heads.find((h) => h.thing === label.dataset.thing && Math.hypot(h.x - at.left, h.y - at.top) < ONE_PLACE);
      if (!head) { heads.push({ thing: label.dataset.thing, x: at.left, y: at.top, label }); continue; }
      head.label.dataset.own = head.label.dataset.own || head.label.textContent;
      label.dataset.own = label.dataset.own || label.textContent;
      const said = [head.label.textContent, label.dataset.own].sort((a, b) => (b === head.thing) - (a === head.thing));
      head.label.textContent = said[0] === said[1] ? said[0] : said.join(" ");
      label.classList.add("hidden");
    }
    return labels.filter((label) => !label.classList.contains("hidden"));
  };
  mp.declutter = function (where) {
    const own = (e) => where || !e.closest(".mp-inset"); // the inset's labels are its own
    const box = where || mp.map.getContainer(), held = [...box.querySelectorAll(".mp-label")].filter(own);
    for (const label of held) label.classList.remove("hidden"); // what was left out has no place until it is shown
    const all = held.filter((e) => e.offsetParent);
    const frame = box.getBoundingClientRect();
    // first the furniture, which no label may lie under
    const taken = [...box.querySelectorAll(".mp-box, .mp-legend, .mp-inset, .leaflet-control-attribution")].filter((e) => own(e) || e.classList.contains("mp-inset"))
      .map((e) => ({ b: e.getBoundingClientRect(), shut: e === mp.legend ? LEGEND : Infinity }))
      .filter(({ b }) => b.width) // an opened legend moves no label
      .map(({ b, shut }) => ({ left: b.left, right: b.right, bottom: b.bottom, top: Math.max(b.top, b.bottom - shut) }));
    if (!where && mp.stamped()) taken.push({ left: frame.left, right: frame.right, top: frame.top, bottom: frame.top + mp.stamped() });
    const free = (b) => !taken.some((t) => b.left < t.right + APART && b.right > t.left - APART && b.top < t.bottom && b.bottom > t.top);
    const inside = (b) => b.left >= frame.left && b.right <= frame.right && b.top >= frame.top && b.bottom <= frame.bottom;
    const about = !where && mp.inInset();
    let left = 0;
    for (const label of mp.together(all).sort((a, b) => rank(a) - rank(b))) {
      const seen = label.parentNode.getBoundingClientRect();
      if (seen.right < frame.left - 200 || seen.left > frame.right || seen.bottom < frame.top || seen.top > frame.bottom) {
        label.classList.add("hidden"); // its mark is out of the chart: left where it stood it is cut at the edge
        continue;
      }
      if (about && about(label, seen)) { label.classList.add("hidden"); continue; }
      const size = Number(label.dataset.size || 4);
      const put = (place) => { label.style.transform = place(size); return label.getBoundingClientRect(); };
      // whole inside the chart; what is looked for first may rather be cut than be missing
      const place = PLACES.find((p) => { const b = put(p); return free(b) && inside(b); })
        || (rank(label) === 0 ? PLACES.find((p) => free(put(p))) : null);
      if (place) { taken.push(put(place)); continue; }
      label.classList.add("hidden");
      if (rank(label) < DEPTHS && seen.left > frame.left && seen.left < frame.right && seen.top > frame.top && seen.top < frame.bottom) left += 1;
    }
    if (!where) mp.leftOut.textContent = left ? left + (left === 1 ? " name left out" : " names left out") : "";
    for (const text of box.querySelectorAll(".mp-grat")) {
      const at = text.getBoundingClientRect(), room = free(at) && inside(at);
      text.style.visibility = room ? "" : "hidden";
      if (room) taken.push(at); // in a corner a parallel's words would lie on a meridian's
    }
  };
})();
