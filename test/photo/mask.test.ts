import { describe, expect, test } from 'vitest';
import {
  decodeMask,
  encodeMask,
  maskArea,
  maskBox,
  maskDifference,
  maskUnion,
  scaledMask,
  type Mask,
} from '#lib/photo/index.ts';
import { adler32, toBase64 } from '#lib/photo/mask-code.ts';
import { random } from './board-scene.ts';

/** A disc with an edge one pixel soft. */
function disc(width: number, height: number, [x0, y0, r]: readonly [number, number, number]): Mask {
  const data = new Uint8Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const d = r - Math.hypot(x + 0.5 - x0, y + 0.5 - y0);
      data[y * width + x] = Math.round(255 * Math.max(0, Math.min(1, d + 0.5)));
    }
  return { width, height, data };
}

const text = (value: string) => new TextEncoder().encode(value);

describe('area, box, union, difference', () => {
  test('the area of a disc is that of the circle, and its box holds it', () => {
    const mask = disc(100, 80, [40.5, 30.5, 20]);
    // The area of a disc, to a tenth of a percent.
    expect(maskArea(mask)).toBeCloseTo(Math.PI * 400, -1);
    expect(maskBox(mask)).toEqual({ x: 20, y: 10, width: 41, height: 41 });
  });

  test('an empty mask has no area and no box', () => {
    const empty = { width: 3, height: 2, data: new Uint8Array(6) };
    expect(maskArea(empty)).toBe(0);
    expect(maskBox(empty)).toBeNull();
  });

  test('union and difference add up to the area of both', () => {
    // Hard edges: of two partly covered pixels nobody knows how far they overlap.
    const hard = (mask: Mask): Mask => ({ ...mask, data: mask.data.map((v) => (v < 128 ? 0 : 255)) });
    const a = hard(disc(90, 60, [30, 30, 20]));
    const b = hard(disc(90, 60, [50, 30, 20]));
    const both = maskUnion(a, b);
    expect(maskArea(maskDifference(both, b)) + maskArea(b)).toBeCloseTo(maskArea(both), 6);
    expect(maskUnion(a, a).data).toEqual(a.data);
    expect(maskArea(maskDifference(a, { ...a, data: a.data.map((v) => (v > 0 ? 255 : 0)) }))).toBe(0);
  });

  test('masks of two sizes, and a mask whose data do not fit, are refused in words', () => {
    const a = disc(20, 10, [5, 5, 3]);
    expect(() => maskUnion(a, disc(10, 20, [5, 5, 3]))).toThrow('one size, got 20x10 and 10x20');
    expect(() => maskArea({ width: 4, height: 4, data: new Uint8Array(15) })).toThrow('16 values');
    expect(() => maskArea({ width: 0, height: 4, data: new Uint8Array(0) })).toThrow(RangeError);
  });
});

describe('another working size', () => {
  test.each([
    [1024, 683],
    [640, 427],
    [2048, 1366],
  ])('%dx%d keeps the covered share of the picture', (width, height) => {
    const mask = disc(1600, 1067, [700, 500, 300]);
    const scaled = scaledMask(mask, width, height);
    expect(maskArea(scaled) / (width * height)).toBeCloseTo(maskArea(mask) / (1600 * 1067), 3);
  });

  test('the same size gives the same mask', () => {
    const mask = disc(60, 40, [30, 20, 11]);
    expect(scaledMask(mask, 60, 40).data).toEqual(mask.data);
  });

  test('other proportions are another crop and are refused', () => {
    expect(() => scaledMask(disc(60, 40, [30, 20, 11]), 40, 60)).toThrow('proportions of 60x40, got 40x60');
    expect(() => scaledMask(disc(60, 40, [30, 20, 11]), 30.5, 20)).toThrow(RangeError);
  });
});

describe('storage', () => {
  test('the check value and the text form are those of their standards', () => {
    // Adler-32 of "Wikipedia" as widely printed (300286872), from memory; of nothing: 1, RFC 1950 section 8.2.
    expect(adler32(text('Wikipedia'))).toBe(300286872);
    expect(adler32(new Uint8Array(0))).toBe(1);
    // RFC 4648 section 10.
    expect(['', 'f', 'fo', 'foo', 'foob', 'fooba', 'foobar'].map((word) => toBase64(text(word)))).toEqual([
      '',
      'Zg==',
      'Zm8=',
      'Zm9v',
      'Zm9vYg==',
      'Zm9vYmE=',
      'Zm9vYmFy',
    ]);
  });

  test.each([
    ['a disc', disc(333, 217, [150, 100, 70])],
    ['nothing', { width: 5, height: 7, data: new Uint8Array(35) }],
    ['everything', { width: 64, height: 3, data: new Uint8Array(192).fill(255) }],
    ['one pixel', { width: 1, height: 1, data: Uint8Array.of(93) }],
    ['one column', { width: 1, height: 300, data: Uint8Array.from({ length: 300 }, (_, i) => i % 256) }],
  ])('%s comes back exactly, through JSON', (_, mask) => {
    const back = decodeMask(JSON.parse(JSON.stringify(encodeMask(mask))), mask);
    expect(back).toEqual(mask);
  });

  test('noise of every kind comes back exactly', () => {
    for (let seed = 1; seed <= 30; seed++) {
      const next = random(seed);
      const [width, height] = [1 + Math.floor(next() * 60), 1 + Math.floor(next() * 60)];
      const levels = [2, 3, 256][seed % 3];
      const data = Uint8Array.from({ length: width * height }, () =>
        Math.round((Math.floor(next() * levels) / (levels - 1)) * 255),
      );
      expect(decodeMask(encodeMask({ width, height, data })).data).toEqual(data);
    }
  });

  test('a large plain mask takes few bytes', () => {
    expect(encodeMask(disc(2048, 1366, [1000, 700, 500])).code.length).toBeLessThan(12_000);
  });

  test('damage is found: a sign changed, the end cut off, bytes of another mask', () => {
    const stored = encodeMask(disc(120, 90, [60, 40, 30]));
    const at = stored.code.length >> 1;
    const changed = stored.code[at] === 'A' ? 'B' : 'A';
    const damaged = [
      { ...stored, code: stored.code.slice(0, at) + changed + stored.code.slice(at + 1) },
      { ...stored, code: stored.code.slice(0, 8) },
      { ...stored, code: encodeMask(disc(120, 90, [50, 40, 30])).code },
      { ...stored, code: '' },
    ];
    for (const mask of damaged) expect(() => decodeMask(mask)).toThrow('undamaged mask');
  });

  test('what is no mask, or one for another picture, is refused in words', () => {
    const stored = encodeMask(disc(120, 90, [60, 40, 30]));
    expect(() => decodeMask(null)).toThrow('stored mask');
    expect(() => decodeMask('mask')).toThrow('stored mask');
    expect(() => decodeMask({ ...stored, version: 2 })).toThrow('version 1, got 2');
    expect(() => decodeMask({ ...stored, width: -3 })).toThrow('got -3x90');
    expect(() => decodeMask({ ...stored, width: 1e9, height: 1e9 })).toThrow(RangeError);
    expect(() => decodeMask({ ...stored, code: 'é' })).toThrow('base64');
    expect(() => decodeMask({ ...stored, sum: undefined })).toThrow('check value');
    expect(() => decodeMask(stored, { width: 90, height: 120 })).toThrow('90x120, got one of 120x90');
  });
});
