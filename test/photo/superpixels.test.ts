import { describe, expect, test } from 'vitest';
import { shadingFeatures, smoothed } from '#lib/photo/shading-features.ts';
import { neighbourhood, superpixels } from '#lib/photo/superpixels.ts';
import { picture } from './picture.ts';

const [W, H] = [160, 120];
/** No cracks anywhere. */
const uncracked = ({ width, height }: { width: number; height: number }) => new Uint8Array(width * height);
const halves = picture(W, H, (x) => (x < 80 ? [60, 10, 20] : [66, 10, 20]));

describe('colours that shading leaves alone', () => {
  test('the same paint in a quarter of the light keeps u and v within the steps of 8 bits', () => {
    const at = (light: number) => {
      const image = picture(8, 8, () => [60, 18, 30], { noise: 0, light: [light, light, light] });
      return shadingFeatures(image).data;
    };
    const [bright, dark] = [at(1), at(0.25)];
    expect(bright[0] - dark[0]).toBeGreaterThan(20);
    // CIE 15:2018 eq. 8.3-8.11: a*, b* and L* + 16 share the factor; half a device step at this level is 0.7.
    expect(Math.abs(bright[1] - dark[1])).toBeLessThan(1.4);
    expect(Math.abs(bright[2] - dark[2])).toBeLessThan(1.4);
  });

  test('smoothing keeps a flat picture and the mean of any', () => {
    const flat = shadingFeatures(picture(20, 10, () => [50, 5, 5], { noise: 0 }));
    expect(smoothed(flat).data[0]).toBeCloseTo(flat.data[0], 3);
    const any = shadingFeatures(halves);
    const mean = (data: Float32Array) => data.reduce((s, v) => s + v, 0) / data.length;
    expect(mean(smoothed(any).data)).toBeCloseTo(mean(any.data), 1);
  });
});

describe('pieces', () => {
  const features = smoothed(shadingFeatures(halves));
  const pieces = superpixels(features, 8, uncracked(features));

  test('every pixel lies in exactly one piece, and each piece is connected', () => {
    expect(pieces.start[pieces.count]).toBe(W * H);
    expect([...pieces.pixels].sort((a, b) => a - b)).toEqual(Array.from({ length: W * H }, (_, i) => i));
    for (let i = 0; i < pieces.count; i++) {
      const own = new Set(pieces.pixels.subarray(pieces.start[i], pieces.start[i + 1]));
      const reached = [own.values().next().value as number];
      own.delete(reached[0]);
      for (let head = 0; head < reached.length; head++)
        for (const q of [reached[head] - 1, reached[head] + 1, reached[head] - W, reached[head] + W])
          if (own.delete(q)) reached.push(q);
      expect(own.size).toBe(0);
    }
  });

  test('their number is that of the cells, and they respect a step of six units of L', () => {
    expect(pieces.count).toBeGreaterThan(0.6 * (W / 8) * (H / 8));
    expect(pieces.count).toBeLessThan(1.6 * (W / 8) * (H / 8));
    let wrong = 0;
    for (let i = 0; i < pieces.count; i++) {
      let left = 0;
      const size = pieces.start[i + 1] - pieces.start[i];
      for (let j = pieces.start[i]; j < pieces.start[i + 1]; j++) if (pieces.pixels[j] % W < 80) left++;
      wrong += Math.min(left, size - left);
    }
    // On average less than half a pixel off along the 120 pixels of the border.
    expect(wrong).toBeLessThan(60);
  });

  test('borders are symmetric, and the step across the edge is the step of the picture', () => {
    const graph = neighbourhood(pieces, features);
    let [edges, strong] = [0, 0];
    for (let i = 0; i < pieces.count; i++)
      for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
        edges++;
        const back = graph.twin[e];
        expect(graph.other[back]).toBe(i);
        expect(graph.twin[back]).toBe(e);
        expect(graph.border[back]).toBe(graph.border[e]);
        const across = (pieces.mean[3 * i] - 63) * (pieces.mean[3 * graph.other[e]] - 63) < 0;
        if (across && graph.border[e] > 4) {
          strong++;
          // 6 units of L, noise of 2 device values averaged.
          expect(Math.abs(graph.step[e] - 6)).toBeLessThan(2.5);
        }
      }
    expect(edges).toBe(graph.other.length);
    expect(strong).toBeGreaterThan(20);
  });

  test('no piece lies on both sides of a crack, even where the colour is one', () => {
    const even = smoothed(shadingFeatures(picture(60, 40, () => [50, 5, 5])));
    const cracks = uncracked(even);
    for (let y = 0; y < 40; y++) cracks[y * 60 + 27] = 1; // to the right of column 27
    const { label } = superpixels(even, 10, cracks);
    const sides = [new Set<number>(), new Set<number>()];
    label.forEach((piece, p) => sides[p % 60 > 27 ? 1 : 0].add(piece));
    expect([...sides[0]].filter((piece) => sides[1].has(piece))).toEqual([]);
  });

  test('a picture of one pixel is one piece without neighbours; a cell below two is refused', () => {
    const one = smoothed(shadingFeatures(picture(1, 1, () => [50, 0, 0])));
    const single = superpixels(one, 10, uncracked(one));
    expect(single.count).toBe(1);
    expect(neighbourhood(single, one).other.length).toBe(0);
    expect(() => superpixels(one, 1, uncracked(one))).toThrow('cell of at least 2 pixels, got 1');
  });
});
