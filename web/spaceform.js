// The stored form of a making: one net, its states, and the parts as lines on it.

// One state as views take it: {points, flat, triangles, parts: [{..., line: [[x, y, z]]}], ...}.
export function stateOf(form, id) {
  const state = form.states.find((s) => s.id === id) || form.states[0];
  const there = new Set(state.parts || []);
  const parts = form.parts.filter((p) => there.has(p.id)).map((p) => ({ ...p, line: p.at.map(([t, ...w]) => {
    const at = [0, 0, 0];
    form.triangles[t].forEach((v, i) => { for (let k = 0; k < 3; k++) at[k] += w[i] * state.points[v][k]; });
    return at;
  }) }));
  return { id: state.id, title: state.title, day: state.day, moisture: state.moisture, thickness: form.thickness,
    points: state.points, flat: form.flat, triangles: form.triangles, parts };
}

// Where a section across axis 0 (x = 0) or 1 (y = 0) meets the parts: place along, width, height.
export function marksOf(state, axis) {
  const out = [];
  for (const p of state.parts) {
    if (p.kind === "paint") continue;
    const n = p.line.length, sides = p.closed ? n : n - 1;
    for (let i = 0; i < sides; i++) {
      const a = p.line[i], b = p.line[(i + 1) % n];
      if ((a[axis] < 0) === (b[axis] < 0)) continue;
      const t = a[axis] / (a[axis] - b[axis]), along = a[1 - axis] + t * (b[1 - axis] - a[1 - axis]);
      const slant = Math.abs(b[axis] - a[axis]) / (Math.hypot(b[0] - a[0], b[1] - a[1]) || 1);
      out.push({ at: along, wide: Math.min(p.width / Math.max(slant, 0.2), 60), high: p.thickness, side: p.side, name: p.name });
    }
  }
  return out;
}

// Difference of two states over the same net, in mm, point by point, along the height.
export const lifted = (one, other) => one.points.map((p, i) => p[2] - other.points[i][2]);
