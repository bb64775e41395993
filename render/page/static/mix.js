// The look: adds the light frames on the graphics card, or on a plain canvas where there is none.

import { painter, pixel } from "./develop.js";

const LAYERS = 16; // lights that one pass adds; WebGL2 promises room for 256 layers

const IMITATED = /swiftshader|llvmpipe|softpipe|basic render|software/i;

const CORNERS = `#version 300 es
void main() {
  vec2 at = vec2(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0);
  gl_Position = vec4(at, 0.0, 1.0);
}`;

const SUM = `#version 300 es
precision highp float;
precision highp sampler2DArray;
uniform sampler2DArray frames;
uniform vec3 gains[${LAYERS}];
uniform int count, height;
out vec4 code;
vec3 encode(vec3 x) {
  x = clamp(x, 0.0, 1.0);
  vec3 curve = 1.055 * pow(max(x, 0.0031308), vec3(1.0 / 2.4)) - 0.055;
  return mix(curve, 12.92 * x, vec3(lessThanEqual(x, vec3(0.0031308))));
}
void main() {
  ivec2 at = ivec2(gl_FragCoord.x, float(height) - gl_FragCoord.y);
  vec3 sum = vec3(0.0);
  for (int i = 0; i < count; i++) sum += gains[i] * texelFetch(frames, ivec3(at, i), 0).rgb;
  code = vec4(encode(sum), 1.0);
}`;

// A look on a canvas: `show(parts)` draws, `pixel(x, y)` tells, `way` names how it is done.
// parts: [{name, frame: {width, height, halves}, gain: [r, g, b]}]
// how: "" for what is quick here, "gl" or "plain" to choose
export function lookOn(canvas, how = "") {
  const quick = how === "gl" || (how !== "plain" && drawsItself());
  const gl = quick ? canvas.getContext("webgl2", { alpha: false, antialias: false }) : null;
  const put = gl ? onCard(gl, canvas) : onPlain(canvas);
  let shown = [];
  return {
    way: gl ? "webgl2" : "canvas",
    show(parts) {
      shown = parts;
      const [width, height] = largest(parts);
      if (!width) return;
      if (canvas.width !== width || canvas.height !== height) {
        canvas.width = width;
        canvas.height = height;
      }
      put(parts.map((part) => ({ ...part, frame: fitted(part.frame, width, height) })));
    },
    pixel(x, y) {
      const fit = shown.map((part) => ({
        ...part,
        frame: fitted(part.frame, canvas.width, canvas.height),
      }));
      return { names: shown.map((part) => part.name), ...pixel(fit, y * canvas.width + x) };
    },
    codes(x, y) {
      // what stands on the canvas, for tests
      this.show(shown);
      const box = new Uint8Array(4);
      if (gl) gl.readPixels(x, canvas.height - 1 - y, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, box);
      else box.set(canvas.getContext("2d").getImageData(x, y, 1, 1).data);
      return [...box.slice(0, 3)];
    },
  };
}

// Whether there is a graphics card; one that is imitated by the processor is slower than adding up.
function drawsItself() {
  const gl = document.createElement("canvas").getContext("webgl2");
  if (!gl) return false;
  const named = gl.getExtension("WEBGL_debug_renderer_info");
  const name = gl.getParameter(named ? named.UNMASKED_RENDERER_WEBGL : gl.RENDERER);
  gl.getExtension("WEBGL_lose_context")?.loseContext();
  return !IMITATED.test(name);
}

function largest(parts) {
  return parts.reduce(
    (size, { frame }) => (frame.width > size[0] ? [frame.width, frame.height] : size),
    [0, 0],
  );
}

// A coarser frame, seen while a finer one is traced, is enlarged without smoothing.
function fitted(frame, width, height) {
  if (frame.width === width && frame.height === height) return frame;
  if (frame.enlarged?.width === width && frame.enlarged.height === height) return frame.enlarged;
  const halves = new Uint16Array(3 * width * height);
  for (let y = 0; y < height; y += 1) {
    const row = Math.floor((y * frame.height) / height) * frame.width;
    for (let x = 0; x < width; x += 1) {
      const from = 3 * (row + Math.floor((x * frame.width) / width));
      halves.set(frame.halves.subarray(from, from + 3), 3 * (y * width + x));
    }
  }
  frame.enlarged = { width, height, halves };
  return frame.enlarged;
}

function onPlain(canvas) {
  const flat = canvas.getContext("2d", { alpha: false });
  const paint = painter();
  let image = null;
  return (parts) => {
    if (image?.width !== canvas.width || image.height !== canvas.height) {
      image = flat.createImageData(canvas.width, canvas.height);
    }
    paint(parts, image.data);
    flat.putImageData(image, 0, 0);
  };
}

function onCard(gl, canvas) {
  const program = linked(gl);
  const where = (name) => gl.getUniformLocation(program, name);
  const places = { count: where("count"), height: where("height"), gains: where("gains") };
  let held = { texture: null, width: 0, height: 0, frames: [] };
  const hold = (parts) => {
    const { width, height } = canvas;
    if (held.width !== width || held.height !== height || held.frames.length < parts.length) {
      if (held.texture) gl.deleteTexture(held.texture);
      held = {
        texture: newLayers(gl, width, height, parts.length),
        width,
        height,
        frames: Array(parts.length).fill(null),
      };
    }
    parts.forEach(({ frame }, i) => {
      if (held.frames[i] === frame) return;
      gl.texSubImage3D(
        gl.TEXTURE_2D_ARRAY,
        0,
        0,
        0,
        i,
        width,
        height,
        1,
        gl.RGB,
        gl.HALF_FLOAT,
        frame.halves,
      );
      held.frames[i] = frame;
    });
  };
  canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
  canvas.addEventListener("webglcontextrestored", () => window.location.reload());
  return (parts) => {
    const some = parts.filter(({ gain }) => gain.some((g) => g !== 0)).slice(0, LAYERS);
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.useProgram(program);
    const order = parts.length > LAYERS ? some : parts;
    hold(order);
    gl.uniform1i(places.count, order.length);
    gl.uniform1i(places.height, canvas.height);
    if (order.length)
      gl.uniform3fv(
        places.gains,
        order.flatMap(({ gain }) => gain),
      );
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  };
}

function newLayers(gl, width, height, count) {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D_ARRAY, texture);
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
  gl.texStorage3D(gl.TEXTURE_2D_ARRAY, 1, gl.RGB16F, width, height, count);
  for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) {
    gl.texParameteri(gl.TEXTURE_2D_ARRAY, name, gl.NEAREST);
  }
  return texture;
}

function linked(gl) {
  const program = gl.createProgram();
  for (const [kind, text] of [
    [gl.VERTEX_SHADER, CORNERS],
    [gl.FRAGMENT_SHADER, SUM],
  ]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS))
    throw new Error(gl.getProgramInfoLog(program));
  return program;
}
