/** Levels out of 255 between the darkest and the brightest place: with less there is no edge to be found. */
const LEAST_RANGE = 6;

/**
 * Whether a picture is the same all over, as an all white or all black one: nothing in it tells surfaces apart.
 * In: RGBA, 8 bits, of the picture at any size. A thousandth of the places may stand out: dust and hot pixels.
 */
export function isBlank(data: Uint8ClampedArray): boolean {
  const out = Math.floor(data.length / 4000);
  return [0, 1, 2].every((channel) => {
    const counts = new Uint32Array(256);
    for (let p = channel; p < data.length; p += 4) counts[data[p]]++;
    return 255 - level(counts.slice().reverse(), out) - level(counts, out) < LEAST_RANGE;
  });
}

/** The lowest level that leaves more than `out` places at or beneath it. */
function level(counts: Uint32Array, out: number): number {
  let sum = 0;
  for (let v = 0; v < 256; v++) {
    sum += counts[v];
    if (sum > out) return v;
  }
  return 255;
}
