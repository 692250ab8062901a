import { RoomDrawing } from './room-drawing.ts';

/** Not every browser counts it as a caveat when software plays the graphics processor: Mesa's, Chromium's and Windows' own. */
const SOFTWARE = /swiftshader|llvmpipe|softpipe|software|basic render/i;

/**
 * A drawing by WebGL2, or null where the browser has none or cannot draw into half floats. `onlost`: from now on nothing can
 * be drawn; `onrestored`: it can again, and picture and surfaces have to be set anew. `software`: also where no graphics
 * processor stands behind it.
 */
export function drawingFor(options: {
  readonly software: boolean;
  readonly onlost: () => void;
  readonly onrestored: () => void;
}): RoomDrawing | null {
  const canvas = new OffscreenCanvas(1, 1);
  const gl = canvas.getContext('webgl2', {
    antialias: false,
    depth: false,
    stencil: false,
    failIfMajorPerformanceCaveat: !options.software,
  });
  if (!gl || (!options.software && SOFTWARE.test(rendererOf(gl)))) return null;
  const drawing = new RoomDrawing(canvas, gl);
  if (!drawing.ready) return null;
  canvas.addEventListener('webglcontextlost', (event) => {
    // Without this the browser never gives it back.
    event.preventDefault();
    drawing.lost();
    options.onlost();
  });
  canvas.addEventListener('webglcontextrestored', () => {
    drawing.restock();
    if (drawing.ready) options.onrestored();
  });
  return drawing;
}

function rendererOf(gl: WebGL2RenderingContext): string {
  const named = gl.getExtension('WEBGL_debug_renderer_info');
  return String(gl.getParameter(named ? named.UNMASKED_RENDERER_WEBGL : gl.RENDERER));
}
