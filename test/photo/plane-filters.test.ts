import { describe, expect, test } from 'vitest';
import { HALF_TO_NUMBER, toHalf } from '../../src/lib/photo/half-float.ts';
import { blur, fillHoles, guidedSmooth } from '../../src/lib/photo/plane-filters.ts';
import { normal, random } from './board-scene.ts';

const size = { width: 37, height: 23 };
const count = size.width * size.height;

function noise(seed: number): Float32Array {
  const next = random(seed);
  return Float32Array.from({ length: count }, () => normal(next));
}

describe('weighted blur', () => {
  test('is the mean of means over the window, borders cut, untrusted pixels unread', () => {
    const plane = noise(1);
    const next = random(2);
    const weight = Float32Array.from({ length: count }, () => (next() < 0.4 ? 0 : 1));
    const radius = 3;
    // By hand: twice the plain sum over the window, of weight x value and of weight.
    const sums = (values: Float64Array) =>
      Float64Array.from(values, (_, i) => {
        const [x, y] = [i % size.width, Math.floor(i / size.width)];
        let sum = 0;
        for (let v = Math.max(0, y - radius); v <= Math.min(size.height - 1, y + radius); v++)
          for (let u = Math.max(0, x - radius); u <= Math.min(size.width - 1, x + radius); u++)
            sum += values[v * size.width + u];
        return sum;
      });
    const above = sums(sums(Float64Array.from(plane, (v, i) => v * weight[i])));
    const below = sums(sums(Float64Array.from(weight)));
    const spoilt = plane.map((v, i) => (weight[i] ? v : 1e6));
    blur([spoilt], weight, size, radius);
    spoilt.forEach((v, i) => expect(v).toBeCloseTo(above[i] / below[i], 3));
  });

  test('where nothing is trusted it says so and gives 0', () => {
    const plane = noise(3);
    const found = blur([plane], new Float32Array(count), size, 2);
    expect(Math.max(...found)).toBe(0);
    expect(Math.max(...plane)).toBe(0);
  });
});

describe('edge-preserving smoothing', () => {
  test('takes out noise and leaves a step where it is', () => {
    const grain = noise(4);
    const plane = grain.map((v, i) => (i % size.width < 18 ? 100 : 160) + 1.5 * v);
    const out = guidedSmooth(plane, new Float32Array(count).fill(1), { size, radius: 3, variance: 12 });
    const roughness = (values: Float32Array) => {
      let sum = 0;
      for (let y = 0; y < size.height; y++)
        for (let x = 2; x < 12; x++) sum += (values[y * size.width + x] - 100) ** 2;
      return Math.sqrt(sum / (10 * size.height));
    };
    expect(roughness(out)).toBeLessThan(0.5 * roughness(plane));
    for (let y = 0; y < size.height; y++) {
      expect(out[y * size.width + 17]).toBeLessThan(108);
      expect(out[y * size.width + 18]).toBeGreaterThan(152);
    }
  });
});

describe('filling', () => {
  test('keeps what is trusted, and puts between it what lies around', () => {
    const ramp = Float32Array.from({ length: count }, (_, i) => i % size.width);
    const weight = Float32Array.from({ length: count }, (_, i) =>
      Math.abs((i % size.width) - 18) < 5 ? 0 : 1,
    );
    const plane = ramp.map((v, i) => (weight[i] ? v : -50));
    expect(fillHoles([plane], weight, size)).toBe(true);
    plane.forEach((v, i) => {
      if (weight[i]) expect(v).toBe(ramp[i]);
      else {
        expect(v).toBeGreaterThan(4);
        expect(v).toBeLessThan(32);
      }
    });
    const middle = 11 * size.width;
    expect(plane[middle + 14]).toBeLessThan(plane[middle + 22]);
  });

  test('without anything to go by it changes nothing and says so', () => {
    const plane = noise(5);
    const before = plane.slice();
    expect(fillHoles([plane], new Float32Array(count), size)).toBe(false);
    expect(plane).toEqual(before);
  });

  test('a pixel that is not wanted stays', () => {
    const plane = new Float32Array(count).fill(7);
    plane[0] = plane[1] = -1;
    const weight = new Float32Array(count).fill(1);
    weight[0] = weight[1] = 0;
    const wanted = new Uint8Array(count).fill(255);
    wanted[1] = 0;
    fillHoles([plane], weight, { ...size, wanted });
    expect(plane[0]).toBe(7);
    expect(plane[1]).toBe(-1);
  });
});

describe('half-precision floats', () => {
  // Binary16 patterns: IEEE 754-2019, 3.4 and table 3.5 (bias 15, 10 bits of fraction).
  test.each([
    [0, 0x0000],
    [1, 0x3c00],
    [-2, 0xc000],
    [65504, 0x7bff],
    [2 ** -14, 0x0400],
    [2 ** -24, 0x0001],
    [1 / 3, 0x3555],
  ])('%d is written as the standard has it', (value, bits) => {
    expect(toHalf(value)).toBe(bits);
    expect(Math.abs(HALF_TO_NUMBER[bits] - value)).toBeLessThanOrEqual(Math.abs(value) * 2 ** -11);
  });

  test('every finite pattern comes back as itself, and too large becomes the largest', () => {
    for (let bits = 0; bits < 0x7c00; bits++) expect(toHalf(HALF_TO_NUMBER[bits])).toBe(bits);
    expect(toHalf(1e9)).toBe(0x7bff);
  });
});
