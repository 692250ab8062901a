/** Steps of `encodingTable`. */
export const ENCODE_STEPS = 8192;

/** Device value with its fraction, for square roots of linear light in steps; right to a hundredth of a value. */
export function encodingTable(table: Float64Array | Float32Array): Float32Array {
  const out = new Float32Array(ENCODE_STEPS + 1);
  let v = 0;
  for (let s = 0; s <= ENCODE_STEPS; s++) {
    const linear = Math.min(1, ((s + 0.5) / ENCODE_STEPS) ** 2);
    while (v < 254 && table[v + 1] < linear) v++;
    out[s] = v + (linear - table[v]) / (table[v + 1] - table[v]);
  }
  return out;
}
