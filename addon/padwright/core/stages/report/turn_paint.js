// The part drawn by WebGL 2, and cut open: the cut is closed where a line of sight has entered the part and not left
// it.

const VERTEX = `#version 300 es
in vec3 place;
in vec3 normal;
uniform mat3 eye; // to right, up and towards the eye
uniform vec3 middle;
uniform vec2 scale;
uniform vec2 shift;
uniform float deep;
out vec3 at;
out vec3 lean;
void main() {
  vec3 seen = (place - middle) * eye;
  at = place;
  lean = normal * eye;
  gl_Position = vec4(seen.xy * scale + shift, -seen.z * deep, 1.0);
}`;

// Light as in the page's other pictures: from the upper left, low; the rest from the sky.
const FRAGMENT = `#version 300 es
precision highp float;
precision highp sampler3D;
in vec3 at;
in vec3 lean;
uniform vec4 cut; // what lies beyond is taken away
uniform vec3 low;
uniform vec3 size;
uniform sampler3D cells;
uniform bool isFace;
out vec4 color;
const vec3 KEY = normalize(vec3(-0.62, 0.52, 0.59));
const float LINE = 1.5; // pixels
const vec3 SKY = vec3(0.0, 0.67, 0.74);
void main() {
  vec3 light = texture(cells, (at - low) / size).rgb;
  if (isFace) {
    light *= 0.98; // flat: it shows the very colors of the key
  } else {
    float left = cut.w - dot(at, cut.xyz);
    if (left < 0.0) discard;
    // A dark line around the cut face, so that it stands out from the walls behind it.
    float line = left < LINE * fwidth(left) ? 0.3 : 1.0;
    vec3 n = normalize(lean) * (gl_FrontFacing ? 1.0 : -1.0);
    float matte = 0.82 * pow(max((dot(n, KEY) + 0.25) / 1.25, 0.0), 1.2) + 0.20 + 0.22 * dot(n, SKY);
    float gloss = 0.05 * pow(max(dot(n, normalize(KEY + vec3(0.0, 0.0, 1.0))), 0.0), 24.0);
    // Half as strong as in a picture of the part alone: here colors are read.
    light = (light * mix(1.0, clamp(matte, 0.0, 1.2), 0.62) + gloss) * line;
  }
  light = clamp(light, 0.0, 1.0);
  vec3 small = 12.92 * light, large = 1.055 * pow(light, vec3(1.0 / 2.4)) - 0.055;
  color = vec4(mix(large, small, vec3(lessThanEqual(light, vec3(0.0031308)))), 1.0);
}`;

function compiled(gl) {
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.bindAttribLocation(program, 0, "place");
  gl.bindAttribLocation(program, 1, "normal");
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program) || "no program");
  return program;
}

function mesh(gl, arrays) {
  const found = gl.createVertexArray();
  gl.bindVertexArray(found);
  arrays.forEach((values, slot) => {
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(slot);
    gl.vertexAttribPointer(slot, 3, gl.FLOAT, false, 0, 0);
  });
  return found;
}

// Return what draws the part: paint(field) chooses its colors, draw(view) draws it; null where there is no WebGL 2.
function painter(canvas, part, surface) {
  // The drawn picture is kept, so that it is there when the page is printed.
  const gl = canvas.getContext("webgl2", { stencil: true, antialias: true, preserveDrawingBuffer: true });
  if (!gl) return null;
  const program = compiled(gl);
  const places = Object.fromEntries(
    ["eye", "middle", "scale", "shift", "deep", "cut", "low", "size", "cells", "isFace"].map(
      (name) => [name, gl.getUniformLocation(program, name)]),
  );
  const solid = mesh(gl, [surface.places, surface.normals]);
  const corners = surface.places.length / 3;
  const square = new Float32Array(18);
  const face = mesh(gl, [square, new Float32Array(18)]);
  const facePlaces = gl.createBuffer();
  gl.bindBuffer(gl.ARRAY_BUFFER, facePlaces);
  gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
  const cells = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_3D, cells);
  for (const [what, how] of [
    [gl.TEXTURE_MIN_FILTER, gl.LINEAR], [gl.TEXTURE_MAG_FILTER, gl.LINEAR], [gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE],
    [gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE], [gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE],
  ]) gl.texParameteri(gl.TEXTURE_3D, what, how);

  function paint(field) {
    gl.texImage3D(
      gl.TEXTURE_3D, 0, gl.SRGB8_ALPHA8, ...part.grid.count, 0, gl.RGBA, gl.UNSIGNED_BYTE, painted(part.grid, field));
  }

  function draw(view) {
    const cut = view.cut;
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(...view.ground, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT | gl.STENCIL_BUFFER_BIT);
    gl.useProgram(program);
    gl.uniformMatrix3fv(places.eye, false, view.eye.flat());
    gl.uniform3fv(places.middle, view.middle);
    gl.uniform2f(places.scale, 2 * view.scale / canvas.width, 2 * view.scale / canvas.height);
    gl.uniform2f(places.shift, 2 * view.shift[0] / canvas.width, 2 * view.shift[1] / canvas.height);
    gl.uniform1f(places.deep, 1 / Math.hypot(...part.size));
    gl.uniform4fv(places.cut, cut ? [...cut.normal, cut.at] : [0, 0, 0, 1]);
    gl.uniform3fv(places.low, part.grid.low);
    gl.uniform3fv(places.size, part.grid.count.map((count) => count * part.grid.step));
    gl.uniform1i(places.isFace, 0);
    gl.bindVertexArray(solid);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.drawArrays(gl.TRIANGLES, 0, corners);
    if (!cut) return;
    // What is left of the part, counted: faces turned away less faces turned to the eye, whether seen or not.
    gl.enable(gl.STENCIL_TEST);
    gl.disable(gl.DEPTH_TEST);
    gl.colorMask(false, false, false, false);
    gl.stencilFunc(gl.ALWAYS, 0, 255);
    gl.stencilOpSeparate(gl.FRONT, gl.KEEP, gl.KEEP, gl.DECR_WRAP);
    gl.stencilOpSeparate(gl.BACK, gl.KEEP, gl.KEEP, gl.INCR_WRAP);
    gl.drawArrays(gl.TRIANGLES, 0, corners);
    gl.colorMask(true, true, true, true);
    gl.enable(gl.DEPTH_TEST);
    gl.stencilFunc(gl.NOTEQUAL, 0, 255);
    gl.stencilOp(gl.KEEP, gl.KEEP, gl.KEEP);
    gl.uniform1i(places.isFace, 1);
    gl.bindVertexArray(face);
    gl.bindBuffer(gl.ARRAY_BUFFER, facePlaces);
    gl.bufferData(gl.ARRAY_BUFFER, cutSquare(part, cut), gl.DYNAMIC_DRAW);
    gl.drawArrays(gl.TRIANGLES, 0, 6);
    gl.disable(gl.STENCIL_TEST);
  }

  return { paint, draw };
}

// Return two triangles that hold all of the part's section at a cut along one of its axes.
function cutSquare(part, cut) {
  const others = [0, 1, 2].filter((each) => each !== cut.axis);
  const corner = (a, b) => {
    const found = [0, 0, 0];
    found[cut.axis] = cut.at * cut.normal[cut.axis];
    found[others[0]] = part.low[others[0]] + a * part.size[others[0]];
    found[others[1]] = part.low[others[1]] + b * part.size[others[1]];
    return found;
  };
  const [a, b, c, d] = [corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)];
  return new Float32Array([a, b, c, a, c, d].flat());
}
