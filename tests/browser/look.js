(() => {
// What can be measured of how a page looks; each returns what is wrong in words.
const seen = () => { const out = [], walk = document.createTreeWalker(document.body, 4);
  for (let n = walk.nextNode(); n; n = walk.nextNode()) {
    const e = n.parentElement, said = n.textContent.trim();
    if (!said || !e || !e.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true })) continue;
    if (e.closest("script, style, title, .mp-skip, [data-testid=stSkipLink], [data-testid=stSliderThumbValue], option")) continue;
    const range = document.createRange(); range.selectNodeContents(n);
    const b = range.getBoundingClientRect();
    if (b.width > 1 && b.height > 1) out.push([e, said.slice(0, 60), b]); }
  return out; };
return {
"cut": () => { 
  const wide = document.documentElement.clientWidth;
  return seen().filter(([e, said, b]) => {
    if (b.right > wide + 1 && !scrolls(e)) return true;
    for (let a = e; a && a !== document.body; a = a.parentElement) {
      const s = getComputedStyle(a), r = a.getBoundingClientRect();
      if (r.width <= 1 || r.height <= 1) return false;
      if (/auto|scroll/.test(s.overflowX + s.overflowY)) return false;
      if (/hidden|clip/.test(s.overflowX) && (b.right > r.right + 1.5 || b.left < r.left - 1.5)) return true;
      if (/hidden|clip/.test(s.overflowY) && b.bottom > r.bottom + 4) return true; }
    return false; }).map(([, said]) => said);
  function scrolls(e) { for (let a = e; a && a !== document.body; a = a.parentElement)
    if (/auto|scroll/.test(getComputedStyle(a).overflowX) && a.scrollWidth > a.clientWidth) return true;
    return false; } },
"contrast": () => { 
  const parts = (c) => { const m = c.match(/[\d.]+/g).map(Number); return [m[0], m[1], m[2], m[3] ?? 1]; };
  const over = (f, g) => [0, 1, 2].map((i) => f[i] * f[3] + g[i] * (1 - f[3])).concat(1);
  const light = (c) => { const [r, g, b] = c.map((v) => { v /= 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = (e) => { const held = [];
    for (let a = e; a; a = a.parentElement) { const c = getComputedStyle(a).backgroundColor;
      if (!/^rgb/.test(c)) continue;
      const one = parts(c); if (one[3] > 0) held.push(one); if (one[3] === 1) break; }
    return held.reverse().reduce((g, f) => over(f, g), [255, 255, 255, 1]); };
  return seen().filter(([e]) => !e.closest("svg, canvas, :disabled")).map(([e, said]) => {
    const s = getComputedStyle(e); if (!/^rgb/.test(s.color)) return null;
    const g = ground(e), a = light(over(parts(s.color), g)), b = light(g);
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), px = parseFloat(s.fontSize);
    const least = px >= 24 || (px >= 18.66 && Number(s.fontWeight) >= 650) ? 3 : 4.5;
    return ratio < least ? said + " " + ratio.toFixed(1) : null; }).filter(Boolean); },
"number without unit": () => { 
  const words = /[a-zA-Z°%]/;
  return seen().filter(([, said]) => /^[+−-]?\d+([.]\d+)?$/.test(said)).filter(([e]) => {
    if (e.closest("svg, button, input, [data-testid=stSlider], .mp-log td:first-child")) return false;
    const cell = e.closest("td");
    if (cell) { const head = cell.closest("table").querySelectorAll("th")[cell.cellIndex];
      return !(head && words.test(head.textContent)) && !words.test(cell.parentElement.textContent); }
    let a = e; for (let up = 0; up < 3 && a; up += 1, a = a.parentElement)
      if (words.test(a.textContent)) return false;
    return true; }).map(([, said]) => said); },
"overlap": () => { const out = [];
  const px = parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;  // of 1920
  for (const svg of document.querySelectorAll(".stMain svg, .st-key-strip svg")) {
    if (!svg.checkVisibility()) continue;
    const held = [...svg.querySelectorAll("text")].filter((t) => t.textContent.trim())
      .map((t) => [t.textContent.trim(), t.getBoundingClientRect()]);
    held.forEach(([said, a], i) => held.slice(i + 1).forEach(([other, b]) => {
      if (a.left + 2 * px < b.right && b.left + 2 * px < a.right && a.top + 4 * px < b.bottom
          && b.top + 4 * px < a.bottom)
        out.push(said + " on " + other); })); }
  return out; },
"first screen scrolls": () => { const m = document.querySelector("[data-testid=stMain]");
  return m.scrollHeight > m.clientHeight + 1 ? [m.scrollHeight + " px of " + m.clientHeight] : []; }
};
})()
