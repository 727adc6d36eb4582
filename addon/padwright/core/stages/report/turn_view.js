// What a person does with the view: turn, move, zoom, look from a side, choose the colors, cut, ask for values.

const GROUND = [0.969, 0.969, 0.961]; // as in the page's other pictures, sRGB
const MARGIN = 0.06; // of the view's width and height, around the part
const MOST_ZOOM = 12, LEAST_ZOOM = 0.5;
const STEP_DEG = 7.5; // of an arrow key
const SIDES = { body: [0, 90], base: [0, -90], long: [0, 8], end: [90, 8], start: [-24, 48] }; // turn, rise; degrees
const CUTS = { length: 0, width: 1, height: 2 }; // along which axis the place of the cut runs
const EDGE_ON = 0.4; // a cut whose normal shows less of itself than this is hard to look into
const SAMPLES = 600; // places of the surface that tell how large it looks
const isCalm = window.matchMedia("(prefers-reduced-motion: reduce)");

function shown(root) {
  const part = JSON.parse(root.querySelector(".turn-data").textContent);
  part.fields.forEach((field) => { field.cells = bytesOf(field.cells); });
  const find = (name) => root.querySelector(`.turn-${name}`);
  const canvas = find("canvas"), value = find("value"), where = find("where"), at = find("at"), other = find("other");
  const still = find("still").querySelector("img");
  const surface = triangles(part);
  const paint = painter(canvas, part, surface);
  if (!paint) return; // the still picture stays

  const middle = [0, 1, 2].map((axis) => part.low[axis] + 0.5 * part.size[axis]);
  const outer = samples(surface.places);
  const state = { turn: 0, rise: 0, zoom: 1, shift: [0, 0], field: 0, home: 1, taken: 1 };
  let isAsked = false, resting = 0, moving = 0;

  function eye() {
    const turn = state.turn * Math.PI / 180, rise = state.rise * Math.PI / 180;
    const level = [Math.sin(turn), -Math.cos(turn), 0], right = [Math.cos(turn), Math.sin(turn), 0];
    const toward = [level[0] * Math.cos(rise), level[1] * Math.cos(rise), Math.sin(rise)];
    const up = [-level[0] * Math.sin(rise), -level[1] * Math.sin(rise), Math.cos(rise)];
    return [right, up, toward];
  }

  // Return pixels a mm at which the whole part is seen.
  function fitting() {
    const [across, high] = eye().slice(0, 2).map(
      (row) => 2 * Math.max(...outer.map((place) => Math.abs(dot(row, place) - dot(row, middle)))));
    return (1 - 2 * MARGIN) * Math.min(canvas.width / across, canvas.height / high);
  }

  function cut() {
    const axis = CUTS[find("cut").value];
    if (axis === undefined) return null;
    const share = Math.min(Math.max(Number(where.value) / 1000, 0.001), 0.999);
    const normal = [0, 1, 2].map((each) => (each === axis ? state.taken : 0)); // towards what is taken away
    return { axis, normal, at: state.taken * (part.low[axis] + share * part.size[axis]) };
  }

  function view() {
    const scale = Math.min(state.home, fitting()) * state.zoom;
    return { eye: eye(), middle, scale, shift: state.shift, cut: cut(), ground: GROUND };
  }

  function draw() {
    isAsked = false;
    paint.draw(view());
    // A page that is printed shows what was last looked at: pictures are printed everywhere, drawings not.
    clearTimeout(resting);
    resting = setTimeout(() => { still.src = canvas.toDataURL("image/png"); }, 400);
  }

  function ask() {
    if (!isAsked) requestAnimationFrame(draw);
    isAsked = true;
  }

  function pixels() {
    return canvas.width / Math.max(canvas.clientWidth, 1);
  }

  function resize() {
    const more = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.round(canvas.clientWidth * more), height = Math.round(canvas.clientHeight * more);
    if (!width || !height || (canvas.width === width && canvas.height === height)) return;
    canvas.width = width;
    canvas.height = height;
    state.home = fitting();
    ask();
  }

  // Look from a side; the way there is shown unless the person wants no motion.
  function look(turn, rise) {
    const from = { ...state, shift: [...state.shift] };
    const round = ((turn - from.turn) % 360 + 540) % 360 - 180; // the shorter way
    const began = performance.now(), long = isCalm.matches ? 0 : 350;
    cancelAnimationFrame(moving);
    (function move(now) {
      const done = long ? Math.min((now - began) / long, 1) : 1, eased = done * done * (3 - 2 * done);
      state.turn = from.turn + round * eased;
      state.rise = from.rise + (rise - from.rise) * eased;
      state.zoom = from.zoom + (1 - from.zoom) * eased;
      state.shift = from.shift.map((each) => each * (1 - eased));
      state.home = fitting();
      ask();
      if (done < 1) moving = requestAnimationFrame(move);
    })(began);
  }

  function turnBy(turn, rise) {
    cancelAnimationFrame(moving);
    state.turn = (state.turn + turn) % 360;
    state.rise = Math.min(Math.max(state.rise + rise, -90), 90);
    ask();
  }

  function moveBy(x, y) {
    state.shift = [state.shift[0] + x * pixels(), state.shift[1] + y * pixels()];
    ask();
  }

  // Zoom about a place of the canvas, device pixels from its middle.
  function zoomBy(factor, about = [0, 0]) {
    const zoom = Math.min(Math.max(state.zoom * factor, LEAST_ZOOM), MOST_ZOOM), by = zoom / state.zoom;
    state.shift = state.shift.map((each, axis) => about[axis] + (each - about[axis]) * by);
    state.zoom = zoom;
    ask();
  }

  // Device pixels from the middle of the canvas, up positive.
  function fromMiddle(event) {
    const box = canvas.getBoundingClientRect();
    const right = event.clientX - box.left - box.width / 2, up = box.top + box.height / 2 - event.clientY;
    return [right * pixels(), up * pixels()];
  }

  function tell(place, begin) {
    const seen = view(), [right, up, toward] = seen.eye;
    const level = [0, 1].map((axis) => (place[axis] - seen.shift[axis]) / seen.scale);
    const far = Math.hypot(...part.size);
    const from = middle.map((each, axis) => each + level[0] * right[axis] + level[1] * up[axis] + far * toward[axis]);
    const hit = firstHit(surface.places, from, toward.map((each) => -each), seen.cut);
    if (!hit) {
      value.textContent = part.words.ask;
      return;
    }
    const order = [state.field, ...part.fields.keys()].filter((each, index, all) => all.indexOf(each) === index);
    const said = order.map((index) => part.fields[index]).map(
      (field) => `${field.title}: ${saidAt(part.grid, field, hit.place)}`);
    const job = part.toJob.map((row) => (dot(row, hit.place) + row[3]).toFixed(part.jobDecimals)).join(", ");
    value.textContent = `${begin}${said.join("; ")} (${part.words.place} ${job})`;
  }

  function choose(index) {
    state.field = index;
    paint.paint(part.fields[index]);
    root.querySelectorAll(".turn-key").forEach((key, number) => { key.hidden = number !== index; });
    ask();
  }

  function cutMoved() {
    const found = cut();
    find("cutting").hidden = !found;
    at.textContent = found ? `${(Number(where.value) / 1000 * part.size[found.axis]).toFixed(0)} mm` : "";
    ask();
  }

  // Take away what lies towards the eye, and look into the cut where it would be seen edge-on.
  function cutChosen() {
    const axis = CUTS[find("cut").value];
    if (axis !== undefined) {
      const seen = eye()[2][axis];
      state.taken = seen < 0 ? -1 : 1;
      if (Math.abs(seen) < EDGE_ON) look(axis === 0 ? 60 * state.taken : state.turn, axis === 2 ? 48 : 25);
    }
    cutMoved();
  }

  // One finger or the mouse turns; with Shift, the right button or two fingers the part is moved; two fingers zoom.
  const fingers = new Map();
  let apart = 0, travelled = 0, asked = null;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    apart = 0;
    travelled = 0;
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) {
      if (event.pointerType === "mouse" && !asked) {
        asked = requestAnimationFrame(() => {
          asked = null;
          tell(fromMiddle(event), "");
        });
      }
      return;
    }
    const x = event.clientX - before[0], y = event.clientY - before[1];
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    travelled += Math.hypot(x, y);
    if (fingers.size > 1) {
      const [a, b] = [...fingers.values()], now = Math.hypot(a[0] - b[0], a[1] - b[1]);
      moveBy(x / fingers.size, -y / fingers.size);
      if (apart) zoomBy(now / apart, fromMiddle({ clientX: (a[0] + b[0]) / 2, clientY: (a[1] + b[1]) / 2 }));
      apart = now;
    } else if (event.shiftKey || event.buttons & 2) moveBy(x, -y);
    else turnBy(-x * 180 / canvas.clientWidth, y * 180 / canvas.clientWidth);
  });
  for (const name of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(name, (event) => {
      fingers.delete(event.pointerId);
      apart = 0;
      if (name === "pointerup" && travelled < 6) tell(fromMiddle(event), "");
    });
  }
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey) return; // the page scrolls
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.002)), fromMiddle(event));
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const ways = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const way = ways[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (way && event.shiftKey) moveBy(-24 * way[0], 24 * way[1]);
    else if (way) turnBy(STEP_DEG * way[0], STEP_DEG * way[1]);
    else if (event.key === "+" || event.key === "=") zoomBy(1.25);
    else if (event.key === "-") zoomBy(0.8);
    else if (event.key === "Home" || event.key === "0") look(...SIDES.start);
    else return;
    event.preventDefault();
    tell([0, 0], part.words.middle);
  });

  root.querySelectorAll("[data-look]").forEach((button) => {
    button.addEventListener("click", () => look(...SIDES[button.dataset.look]));
  });
  root.querySelectorAll("[data-zoom]").forEach((button) => {
    button.addEventListener("click", () => zoomBy(Number(button.dataset.zoom)));
  });
  find("colors").addEventListener("change", (event) => choose(event.target.selectedIndex));
  find("cut").addEventListener("change", cutChosen);
  where.addEventListener("input", cutMoved);
  other.addEventListener("click", () => {
    state.taken = -state.taken;
    cutMoved();
  });
  canvas.addEventListener("webglcontextlost", () => root.classList.remove("is-live"));

  root.classList.add("is-live");
  [state.turn, state.rise] = SIDES.start;
  new ResizeObserver(resize).observe(canvas);
  resize();
  choose(find("colors").selectedIndex);
  cutMoved();
}

// Return some places of the surface, evenly picked.
function samples(places) {
  const count = places.length / 3, step = Math.max(1, Math.floor(count / SAMPLES)), found = [];
  for (let corner = 0; corner < count; corner += step) found.push([...places.subarray(3 * corner, 3 * corner + 3)]);
  return found;
}

document.querySelectorAll(".turn-view").forEach(shown);
