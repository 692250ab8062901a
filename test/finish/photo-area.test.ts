import { describe, expect, test } from 'vitest';
import { PHOTO_DOUBT, areaFromPhoto } from '#lib/finish/index.ts';
import type { Coverage, KnownRectangle } from '#lib/finish/index.ts';
import { homographyToPlane } from '#lib/photo/index.ts';

/** A camera: pixel of a point of the plane, mm. Any homography that keeps the plane before the camera. */
const pixelOf = (u: number, v: number): [number, number] => {
  const w = 1 + 0.00012 * u - 0.00004 * v;
  return [(60 + 0.11 * u + 0.01 * v) / w, (70 + 0.012 * u + 0.13 * v) / w];
};
const rectangleAt = (u: number, v: number, width: number, height: number): KnownRectangle => ({
  corners: [pixelOf(u, v), pixelOf(u + width, v), pixelOf(u + width, v + height), pixelOf(u, v + height)],
  width,
  height,
});

/** What of a picture shows the rectangle from (0, 0) to (width, height) of the plane. */
function maskOf(width: number, height: number): Coverage {
  const size = { width: 480, height: 420 };
  const data = new Uint8Array(size.width * size.height);
  const h = homographyToPlane(rectangleAt(0, 0, 3000, 2000));
  for (let y = 0; y < size.height; y++) {
    for (let x = 0; x < size.width; x++) {
      let inside = 0;
      for (let k = 0; k < 16; k++) {
        const [px, py] = [x + ((k % 4) + 0.5) / 4, y + (Math.floor(k / 4) + 0.5) / 4];
        const w = h[6] * px + h[7] * py + h[8];
        const [u, v] = [(h[0] * px + h[1] * py + h[2]) / w, (h[3] * px + h[4] * py + h[5]) / w];
        if (u >= 0 && u <= width && v >= 0 && v <= height) inside++;
      }
      data[y * size.width + x] = Math.round((inside / 16) * 255);
    }
  }
  return { ...size, data };
}

describe('an area in a photo', () => {
  const mask = maskOf(2600, 1800);
  const byRectangle = (rectangle: KnownRectangle) =>
    areaFromPhoto({
      mask,
      scale: { kind: 'rectangle', rectangle, homography: homographyToPlane },
      system: 'metric',
    });

  test('is the true one by four corners of a known rectangle, though the picture is in perspective', () => {
    const measured = byRectangle(rectangleAt(400, 500, 1000, 800))!;
    expect(measured.area).toBeCloseTo(2.6 * 1.8, 1);
    expect(Math.abs(measured.area / (2.6 * 1.8) - 1)).toBeLessThan(0.005);
    expect(measured.words).toContain('four corners');
  });

  test('gets less sure the further the surface reaches beyond the rectangle', () => {
    const [large, small] = [
      byRectangle(rectangleAt(0, 0, 2600, 1800))!,
      byRectangle(rectangleAt(0, 0, 500, 400))!,
    ];
    expect(small.relativeSd).toBeGreaterThan(3 * large.relativeSd);
    expect(small.words).toContain('Measure before ordering.');
    expect(large.words).not.toContain('Measure before ordering.');
  });

  test('states the spread that corners set a little wrong really have', () => {
    const rectangle = rectangleAt(400, 500, 1000, 800);
    // A seeded generator; normal values by adding twelve even ones.
    let seed = 12345;
    const even = () => (seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0) / 2 ** 32;
    const normal = () => Array.from({ length: 12 }, even).reduce((sum, value) => sum + value, -6);
    const areas = Array.from({ length: 120 }, () => {
      const corners = rectangle.corners.map((at) => at.map((value) => value + PHOTO_DOUBT.corner * normal()));
      return byRectangle({ ...rectangle, corners: corners as unknown as KnownRectangle['corners'] })!.area;
    });
    const mean = areas.reduce((sum, area) => sum + area, 0) / areas.length;
    const spread = Math.sqrt(areas.reduce((sum, area) => sum + (area / mean - 1) ** 2, 0) / areas.length);
    const rest = PHOTO_DOUBT.mask ** 2 + (2 * PHOTO_DOUBT.length) ** 2;
    const stated = Math.sqrt(byRectangle(rectangle)!.relativeSd ** 2 - rest);
    // 120 draws know a spread to 6.5 %; three times that, and the bend that a straight reckoning leaves out.
    expect(spread / stated).toBeGreaterThan(0.75);
    expect(spread / stated).toBeLessThan(1.3);
  });

  test('by one length is the count of pixels, with the doubt of a perspective nobody knows', () => {
    const flat: Coverage = { width: 100, height: 50, data: new Uint8Array(5000).fill(255) };
    const scale = { kind: 'length', pixels: 100, mm: 4000 } as const;
    const unknown = areaFromPhoto({ mask: flat, scale: { ...scale, squareOn: false }, system: 'metric' })!;
    const squareOn = areaFromPhoto({ mask: flat, scale: { ...scale, squareOn: true }, system: 'us' })!;
    // 4 m × 2 m.
    expect(unknown.area).toBeCloseTo(8, 9);
    expect(unknown.relativeSd).toBeGreaterThan(0.3);
    expect(unknown.words).toMatch(
      /^About 8.00 m² \(86.1 sq ft\), somewhere from .* perspective .* Measure before ordering\.$/,
    );
    expect(squareOn.relativeSd).toBeLessThan(unknown.relativeSd / 2);
    expect(squareOn.words).toMatch(/^About 86.1 sq ft \(8.00 m²\)/);
  });

  test('has no number where nothing is marked, or the corners make no rectangle, or the surface meets its horizon', () => {
    const empty: Coverage = { width: 4, height: 4, data: new Uint8Array(16) };
    const length = { kind: 'length', pixels: 10, mm: 100, squareOn: true } as const;
    expect(areaFromPhoto({ mask: empty, scale: length, system: 'metric' })).toBeNull();
    expect(areaFromPhoto({ mask, scale: { ...length, pixels: 0 }, system: 'metric' })).toBeNull();
    const [a, b, c, d] = rectangleAt(0, 0, 1000, 800).corners;
    expect(byRectangle({ corners: [a, c, b, d], width: 1000, height: 800 })).toBeNull();
    // A floor that narrows to its horizon within the picture.
    const steep: KnownRectangle = {
      corners: [
        [220, 200],
        [260, 200],
        [400, 400],
        [80, 400],
      ],
      width: 1000,
      height: 9000,
    };
    const all: Coverage = { width: 480, height: 420, data: new Uint8Array(480 * 420).fill(255) };
    const scale = { kind: 'rectangle', rectangle: steep, homography: homographyToPlane } as const;
    expect(areaFromPhoto({ mask: all, scale, system: 'metric' })).toBeNull();
    expect(() => areaFromPhoto({ mask: { ...all, width: 3 }, scale, system: 'metric' })).toThrow(RangeError);
  });
});
