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

  test('says which rows differ from the one before it, so that the others need not be drawn again', () => {
    // Rows of five do not fall in with the steps of four that are compared.
    const rows = (...marked: number[]) => ({
      width: 5,
      height: 7,
      data: Uint8Array.from({ length: 35 }, (_, p) => (marked.includes(Math.floor(p / 5)) ? 255 : 0)),
    });
    const told = (veil: { top: number; bottom: number }) => [veil.top, veil.bottom];
    expect(told(maskVeil(rows(2), null))).toEqual([0, 7]);
    for (const [before, after, top, bottom] of [
      [rows(2), rows(2, 4), 4, 5],
      [rows(2), rows(3), 2, 4],
      [rows(), rows(6), 6, 7],
      [rows(0), rows(), 0, 1],
    ] as const) {
      const veil = maskVeil(after, maskVeil(before, null));
      expect(veil.top).toBeLessThanOrEqual(top);
      expect(veil.top).toBeGreaterThanOrEqual(top - 1);
      expect(veil.bottom).toBeGreaterThanOrEqual(bottom);
      // The pixels after the last whole step of four are always drawn.
      expect([bottom, bottom + 1, 7]).toContain(veil.bottom);
    }
    const same = maskVeil(rows(1), maskVeil(rows(1), null));
    // Of 35 pixels the last three are no whole step of four: they may be drawn again.
    expect(same.top).toBeGreaterThanOrEqual(6);
  });

  test('of a picture of another size begins anew', () => {
    const before = maskVeil(mask(255, 255), null);
    expect([...maskVeil(mask(0, 255, 0), before).pixels]).toEqual([
      ...maskVeil(mask(0, 255, 0), null).pixels,
    ]);
  });
});
