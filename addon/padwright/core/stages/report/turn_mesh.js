// The part as numbers: read from the page, lit smoothly where it is smooth, asked where a line of sight meets it.

const SHARP = Math.cos(40 * Math.PI / 180); // corners that lean more than this from their face stay sharp
const BORDER = 0.3; // how light a border between names is, of what lies there
const NOTHING = 0; // a cell of a field that says nothing; 1 to 255 say something

function bytesOf(base64) {
  const text = atob(base64);
  const found = new Uint8Array(text.length);
  for (let at = 0; at < text.length; at++) found[at] = text.charCodeAt(at);
  return found;
}

// Return the corners of all triangles, 9 numbers each, and their normals, alike; mm.
function triangles(part) {
  const steps = new Uint16Array(bytesOf(part.vertices).buffer);
  const raw = bytesOf(part.faces).buffer;
  const index = part.wide ? new Uint32Array(raw) : new Uint16Array(raw);
  const places = new Float32Array(index.length * 3);
  for (let corner = 0; corner < index.length; corner++) {
    for (let axis = 0; axis < 3; axis++) {
      places[3 * corner + axis] = part.low[axis] + steps[3 * index[corner] + axis] * part.size[axis] / 65535;
    }
  }
  return { places, normals: normals(places, index, steps.length / 3) };
}

function normals(places, index, vertices) {
  const flat = new Float32Array(places.length), sums = new Float32Array(3 * vertices);
  for (let face = 0; face < places.length; face += 9) {
    const ax = places[face + 3] - places[face], ay = places[face + 4] - places[face + 1];
    const az = places[face + 5] - places[face + 2], bx = places[face + 6] - places[face];
    const by = places[face + 7] - places[face + 1], bz = places[face + 8] - places[face + 2];
    const cross = [ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx];
    const long = Math.hypot(...cross) || 1;
    for (let corner = 0; corner < 3; corner++) {
      const vertex = 3 * index[face / 3 + corner];
      for (let axis = 0; axis < 3; axis++) {
        flat[face + 3 * corner + axis] = cross[axis] / long;
        sums[vertex + axis] += cross[axis]; // the larger face counts more
      }
    }
  }
  const found = new Float32Array(places.length);
  for (let corner = 0; corner < index.length; corner++) {
    const at = 3 * corner, vertex = 3 * index[corner];
    const x = sums[vertex], y = sums[vertex + 1], z = sums[vertex + 2], long = Math.hypot(x, y, z) || 1;
    const leans = (x * flat[at] + y * flat[at + 1] + z * flat[at + 2]) / long;
    const isRound = leans > SHARP;
    found[at] = isRound ? x / long : flat[at];
    found[at + 1] = isRound ? y / long : flat[at + 1];
    found[at + 2] = isRound ? z / long : flat[at + 2];
  }
  return found;
}

// Return where a line of sight first meets the part as it is cut, or null. What lies beyond cut.at along cut.normal is
// taken away; a line that enters at the cut, within the part, meets the cut face there.
function firstHit(places, from, way, cut) {
  let nearest = Infinity, beyond = 0, start = -Infinity, end = Infinity;
  if (cut) {
    const along = dot(way, cut.normal), left = cut.at - dot(from, cut.normal);
    if (Math.abs(along) < 1e-9) {
      if (left < 0) return null;
    } else if (along < 0) start = left / along;
    else end = left / along;
  }
  for (let face = 0; face < places.length; face += 9) {
    const t = along(places, face, from, way);
    if (t <= start) continue;
    beyond++;
    if (t < nearest) nearest = t;
  }
  if (start > -Infinity && beyond % 2 === 1) return { place: stepped(from, way, start), isCut: true };
  return nearest <= end && nearest < Infinity ? { place: stepped(from, way, nearest), isCut: false } : null;
}

// How far along a line it meets a face, or NaN: Moeller & Trumbore 1997, doi 10.1080/10867651.1997.10487468 (cited, not
// read).
function along(places, face, from, way) {
  const x = places[face], y = places[face + 1], z = places[face + 2];
  const ax = places[face + 3] - x, ay = places[face + 4] - y, az = places[face + 5] - z;
  const bx = places[face + 6] - x, by = places[face + 7] - y, bz = places[face + 8] - z;
  const px = way[1] * bz - way[2] * by, py = way[2] * bx - way[0] * bz, pz = way[0] * by - way[1] * bx;
  const size = ax * px + ay * py + az * pz;
  if (size > -1e-12 && size < 1e-12) return NaN;
  const tx = from[0] - x, ty = from[1] - y, tz = from[2] - z;
  const u = (tx * px + ty * py + tz * pz) / size;
  if (u < 0 || u > 1) return NaN;
  const qx = ty * az - tz * ay, qy = tz * ax - tx * az, qz = tx * ay - ty * ax;
  const v = (way[0] * qx + way[1] * qy + way[2] * qz) / size;
  return v < 0 || u + v > 1 ? NaN : (bx * qx + by * qy + bz * qz) / size;
}

function dot(a, b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

function stepped(from, way, far) {
  return [0, 1, 2].map((axis) => from[axis] + far * way[axis]);
}

// Return the cell of a field at a place: NOTHING, or what was stored.
function cellAt(grid, cells, place) {
  const at = [0, 1, 2].map((axis) => {
    const cell = Math.floor((place[axis] - grid.low[axis]) / grid.step);
    return Math.min(Math.max(cell, 0), grid.count[axis] - 1);
  });
  return cells[at[0] + grid.count[0] * (at[1] + grid.count[1] * at[2])];
}

// Return what a field says at a place, in words.
function saidAt(grid, field, place) {
  const cell = cellAt(grid, field.cells, place);
  if (cell === NOTHING) return field.none;
  if (field.names) return field.names[cell - 1];
  const value = field.from + (cell - 1) / 254 * (field.to - field.from);
  const number = value.toFixed(field.decimals).replace(/^-(0\.?0*)$/, "$1"); // never "-0"
  return `${number} ${field.unit}`.trim();
}

// Return the color of every cell, 4 bytes each.
function painted(grid, field) {
  const colors = field.colors.map((color) => [1, 3, 5].map((at) => parseInt(color.slice(at, at + 2), 16)));
  const none = [1, 3, 5].map((at) => parseInt(field.noneColor.slice(at, at + 2), 16));
  const table = [none];
  for (let cell = 1; cell < 256; cell++) {
    if (field.names) {
      table.push(colors[cell - 1] || none);
      continue;
    }
    const value = field.from + (cell - 1) / 254 * (field.to - field.from);
    let first = 0;
    while (first < colors.length - 2 && value > field.stops[first + 1]) first++;
    const share = (value - field.stops[first]) / (field.stops[first + 1] - field.stops[first]);
    const part = Math.min(Math.max(share, 0), 1);
    table.push([0, 1, 2].map((c) => Math.round(colors[first][c] * (1 - part) + colors[first + 1][c] * part)));
  }
  const found = new Uint8Array(4 * field.cells.length);
  field.cells.forEach((cell, at) => found.set([...table[cell], 255], 4 * at));
  return field.names ? softened(softened(bordered(found, grid.count, field.cells), grid.count), grid.count) : found;
}

// Return colors, 4 bytes a cell, darker where what a cell says ends: names may have colors much alike.
function bordered(colors, count, cells) {
  const step = [1, count[0], count[0] * count[1]];
  for (let at = 0; at < cells.length; at++) {
    const ends = step.some((apart, axis) => {
      const here = Math.floor(at / apart) % count[axis];
      return here < count[axis] - 1 && cells[at + apart] !== cells[at];
    });
    if (ends) for (let c = 0; c < 3; c++) colors[4 * at + c] *= BORDER;
  }
  return colors;
}

// Return colors, 4 bytes a cell, each mixed with its neighbors along every axis by 1 : 2 : 1, so that a border between
// names runs smoothly and not along the cells' edges.
function softened(colors, count) {
  let from = colors, apart = 4;
  for (const long of count) {
    const to = new Uint8Array(from.length);
    for (let at = 0; at < from.length; at++) {
      const here = Math.floor(at / apart) % long;
      const before = here > 0 ? from[at - apart] : from[at], after = here < long - 1 ? from[at + apart] : from[at];
      to[at] = (before + 2 * from[at] + after + 2) >> 2;
    }
    from = to;
    apart *= long;
  }
  return from;
}
