// The four chart frames in the browser, so that the cursor, the graticule and the rubber band need
// no question to the server. Same formulas as the server's library: Snyder (1987) for Mercator and
// the polar stereographic, Krüger's series as in Karney (2011) for UTM, Vincenty (1975) for the
// range-true frame. A browser test holds each against pyproj.
(function () {
  "use strict";
  const mp = (window.musterplot = window.musterplot || {});
  const A = 6378137.0, F = 1 / 298.257223563, E2 = F * (2 - F), E = Math.sqrt(E2), B = A * (1 - F);
  const RAD = Math.PI / 180, DEG = 180 / Math.PI;
  const wrap = (lon) => ((((lon + 180) % 360) + 360) % 360) - 180;

  // Distance in metres and bearings in radians (Vincenty 1975, inverse).
  mp.inverse = function (lat1, lon1, lat2, lon2) {
    const L = wrap(lon2 - lon1) * RAD;
    const U1 = Math.atan((1 - F) * Math.tan(lat1 * RAD)), U2 = Math.atan((1 - F) * Math.tan(lat2 * RAD));
    const s1 = Math.sin(U1), c1 = Math.cos(U1), s2 = Math.sin(U2), c2 = Math.cos(U2);
    let lam = L, ss, cs, sg, ca2, c2m, sa;
    for (let i = 0; i < 100; i++) {
      const sl = Math.sin(lam), cl = Math.cos(lam);
      ss = Math.hypot(c2 * sl, c1 * s2 - s1 * c2 * cl);
      if (ss === 0) return { m: 0, deg: 0 };
      cs = s1 * s2 + c1 * c2 * cl;
      sg = Math.atan2(ss, cs);
      sa = (c1 * c2 * sl) / ss;
      ca2 = 1 - sa * sa;
      c2m = ca2 === 0 ? 0 : cs - (2 * s1 * s2) / ca2;
      const C = (F / 16) * ca2 * (4 + F * (4 - 3 * ca2));
      const before = lam;
      lam = L + (1 - C) * F * sa * (sg + C * ss * (c2m + C * cs * (-1 + 2 * c2m * c2m)));
      if (Math.abs(lam - before) < 1e-12) break;
      if (i === 99) return { m: NaN, deg: NaN }; // nearly antipodal: not shown
    }
    const u2 = (ca2 * (A * A - B * B)) / (B * B);
    const a = 1 + (u2 / 16384) * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    const b = (u2 / 1024) * (256 + u2 * (-128 + u2 * (74 - 47 * u2)));
    const ds = b * ss * (c2m + (b / 4) * (cs * (-1 + 2 * c2m * c2m) - (b / 6) * c2m * (-3 + 4 * ss * ss) * (-3 + 4 * c2m * c2m)));
    const az = Math.atan2(c2 * Math.sin(lam), c1 * s2 - s1 * c2 * Math.cos(lam)) * DEG;
    return { m: B * a * (sg - ds), deg: (az + 360) % 360 };
  };

  // The place at a distance and bearing (Vincenty 1975, direct).
  mp.direct = function (lat1, lon1, deg, m) {
    if (m === 0) return [lat1, lon1];
    const al = deg * RAD, sa1 = Math.sin(al), ca1 = Math.cos(al);
    const tU = (1 - F) * Math.tan(lat1 * RAD), cU = 1 / Math.sqrt(1 + tU * tU), sU = tU * cU;
    const s1 = Math.atan2(tU, ca1), sa = cU * sa1, ca2 = 1 - sa * sa, u2 = (ca2 * (A * A - B * B)) / (B * B);
    const a = 1 + (u2 / 16384) * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    const b = (u2 / 1024) * (256 + u2 * (-128 + u2 * (74 - 47 * u2)));
    let s = m / (B * a), c2m, ss, cs;
    for (let i = 0; i < 100; i++) {
      c2m = Math.cos(2 * s1 + s); ss = Math.sin(s); cs = Math.cos(s);
      const ds = b * ss * (c2m + (b / 4) * (cs * (-1 + 2 * c2m * c2m) - (b / 6) * c2m * (-3 + 4 * ss * ss) * (-3 + 4 * c2m * c2m)));
      const next = m / (B * a) + ds;
      if (Math.abs(next - s) < 1e-13) { s = next; break; }
      s = next;
    }
    const t = sU * ss - cU * cs * ca1;
    const lat = Math.atan2(sU * cs + cU * ss * ca1, (1 - F) * Math.hypot(sa, t));
    const lam = Math.atan2(ss * sa1, cU * cs - sU * ss * ca1);
    const C = (F / 16) * ca2 * (4 + F * (4 - 3 * ca2));
    const L = lam - (1 - C) * F * sa * (s + C * ss * (c2m + C * cs * (-1 + 2 * c2m * c2m)));
    return [lat * DEG, wrap(lon1 + L * DEG)];
  };

  function isometric(phi) { return Math.atanh(Math.sin(phi)) - E * Math.atanh(E * Math.sin(phi)); }
  function latitude(psi) { // from the isometric latitude, by fixed point
    let phi = Math.asin(Math.tanh(psi));
    for (let i = 0; i < 12; i++) phi = Math.asin(Math.tanh(psi + E * Math.atanh(E * Math.sin(phi))));
    return phi;
  }
  function mercator(s) {
    const p = s.lat_ts * RAD, k = Math.cos(p) / Math.sqrt(1 - E2 * Math.sin(p) ** 2);
    return {
      forward: (lat, lon) => [A * k * wrap(lon - s.lon) * RAD, A * k * isometric(lat * RAD)],
      inverse: (x, y) => [latitude(y / (A * k)) * DEG, wrap(s.lon + (x / (A * k)) * DEG)],
    };
  }
  function polar(s) {
    const south = s.pole < 0, p = Math.abs(s.lat_ts) * RAD, top = Math.abs(p - Math.PI / 2) < 1e-12;
    const mc = Math.cos(p) / Math.sqrt(1 - E2 * Math.sin(p) ** 2);
    const scale = top ? (2 * A) / Math.sqrt(Math.pow(1 + E, 1 + E) * Math.pow(1 - E, 1 - E)) : A * mc * Math.exp(isometric(p));
    return {
      forward: (lat, lon) => {
        const l = south ? -lat : lat, r = l >= 90 ? 0 : scale * Math.exp(-isometric(l * RAD)), d = wrap(lon - s.lon) * RAD;
        return south ? [r * Math.sin(d), r * Math.cos(d)] : [r * Math.sin(d), -r * Math.cos(d)];
      },
      inverse: (x, y) => {
        const r = Math.hypot(x, y), lat = r === 0 ? 90 : latitude(-Math.log(r / scale)) * DEG;
        const lon = wrap(s.lon + (south ? Math.atan2(x, y) : Math.atan2(x, -y)) * DEG);
        return [south ? -lat : lat, lon];
      },
    };
  }
  function transverse(s) {
    const n = F / (2 - F), n2 = n * n, n3 = n2 * n, n4 = n3 * n, k0 = 0.9996;
    const R = (A / (1 + n)) * (1 + n2 / 4 + n4 / 64);
    const al = [n / 2 - (2 / 3) * n2 + (5 / 16) * n3 + (41 / 180) * n4, (13 / 48) * n2 - (3 / 5) * n3 + (557 / 1440) * n4, (61 / 240) * n3 - (103 / 140) * n4, (49561 / 161280) * n4];
    const be = [n / 2 - (2 / 3) * n2 + (37 / 96) * n3 - (1 / 360) * n4, n2 / 48 + n3 / 15 - (437 / 1440) * n4, (17 / 480) * n3 - (37 / 840) * n4, (4397 / 161280) * n4];
    return {
      forward: (lat, lon) => {
        const d = wrap(lon - s.lon) * RAD;
        if (Math.abs(d) > 1.4) return [NaN, NaN];
        const t = Math.sinh(isometric(lat * RAD)), xi = Math.atan2(t, Math.cos(d)), eta = Math.asinh(Math.sin(d) / Math.hypot(t, Math.cos(d)));
        let x = eta, y = xi;
        al.forEach((a, i) => { const j = 2 * (i + 1); y += a * Math.sin(j * xi) * Math.cosh(j * eta); x += a * Math.cos(j * xi) * Math.sinh(j * eta); });
        return [k0 * R * x, k0 * R * y];
      },
      inverse: (x, y) => {
        const xi = y / (k0 * R), eta = x / (k0 * R);
        let u = xi, v = eta;
        be.forEach((b, i) => { const j = 2 * (i + 1); u -= b * Math.sin(j * xi) * Math.cosh(j * eta); v -= b * Math.cos(j * xi) * Math.sinh(j * eta); });
        const chi = Math.asin(Math.sin(u) / Math.cosh(v));
        return [latitude(Math.atanh(Math.sin(chi))) * DEG, wrap(s.lon + Math.atan2(Math.sinh(v), Math.cos(u)) * DEG)];
      },
    };
  }
  function rangeTrue(s) {
    return {
      forward: (lat, lon) => { const r = mp.inverse(s.lat, s.lon, lat, lon); return [r.m * Math.sin(r.deg * RAD), r.m * Math.cos(r.deg * RAD)]; },
      inverse: (x, y) => mp.direct(s.lat, s.lon, (Math.atan2(x, y) * DEG + 360) % 360, Math.hypot(x, y)),
    };
  }
  // spec: {name, lat, lon, and lat_ts, pole where the frame has them}; (0, 0) is the centre.
  mp.frame = function (spec) {
    if (spec.name === "range-true") return rangeTrue(spec);
    const make = { mercator: mercator, utm: transverse, polar: polar }[spec.name];
    const raw = make({ ...spec, lon: spec.meridian });
    const [x0, y0] = raw.forward(spec.lat, spec.lon);
    return {
      forward: (lat, lon) => { const p = raw.forward(lat, lon); return [p[0] - x0, p[1] - y0]; },
      inverse: (x, y) => raw.inverse(x + x0, y + y0),
    };
  };
})();
