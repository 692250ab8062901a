import { describe, expect, test } from 'vitest';
import { maskVeil } from '../../src/lib/studio/mask-veil.ts';

const mask = (...values: number[]) => ({ width: values.length, height: 1, data: Uint8Array.from(values) });
const coverOf = (pixel: number) => pixel >>> 24;

describe('the veil over what is not marked', () => {
  test('covers what is free most and what is marked not at all', () => {
    const { pixels, cover } = maskVeil(mask(0, 128, 255, 0, 255), null);
    expect(cover).toBe(128 + 2 * 255);
    expect(coverOf(pixels[2])).toBe(0);
    expect(coverOf(pixels[0])).toBeGreaterThan(coverOf(pixels[1]));
    expect(coverOf(pixels[1])).toBeGreaterThan(0);
    expect(pixels[3]).toBe(pixels[0]);
  });

  test('drawn on the one before it is as if drawn afresh', () => {
    const [one, other] = [mask(0, 0, 0, 0, 9, 255, 0, 0, 7), mask(0, 0, 0, 0, 9, 250, 3, 0, 255)];
    const afresh = maskVeil(other, null);
    const again = maskVeil(other, maskVeil(one, null));
    expect([...again.pixels]).toEqual([...afresh.pixels]);
    expect(again.cover).toBe(afresh.cover);
  });

  test('of a picture of another size begins anew', () => {
    const before = maskVeil(mask(255, 255), null);
    expect([...maskVeil(mask(0, 255, 0), before).pixels]).toEqual([
      ...maskVeil(mask(0, 255, 0), null).pixels,
    ]);
  });
});
