import { describe, expect, test } from 'vitest';
import {
  FACE_SHARE,
  brightnessMirrored,
  drawnTint,
  faceShare,
  faceShares,
  glossRatio,
  tintBelieved,
  type Tint,
} from '../../src/lib/photo/highlight.ts';
import { labToLinear } from './board-scene.ts';

const GREEN = labToLinear([28, -10, 4]);
const CHERRY = labToLinear([30, 25, 20]);
const GREY = labToLinear([60, 0, 0]);

/** ln(R/G), ln(B/G) of a surface that mirrors the share k, in a light of that tint. */
function ratios(albedo: readonly number[], k: number, tint: Tint = [0, 0]): [number, number] {
  return [
    Math.log((albedo[0] + k) / (albedo[1] + k)) + tint[0],
    Math.log((albedo[2] + k) / (albedo[1] + k)) + tint[1],
  ];
}

describe('what the face of a paint mirrors, told from colour', () => {
  test.each([
    ['dark green', GREEN],
    ['cherry red', CHERRY],
  ])('%s: more where the colour is drawn towards that of the light', (_, albedo) => {
    const share = faceShares(albedo, FACE_SHARE, [0, 0]);
    const found = [0.01, 0.03, 0.08, 0.2, 0.5].map((k) => share(...ratios(albedo, k)));
    found.forEach((k, i) => i > 0 && expect(k).toBeGreaterThan(found[i - 1]));
    expect(found[1]).toBeGreaterThan(0.5 * FACE_SHARE);
    expect(found[1]).toBeLessThan(2 * FACE_SHARE);
    expect(found[3]).toBeGreaterThan(0.1);
  });

  test('the noisier the colour, the nearer to what paints do on the average', () => {
    const [sure, unsure] = [0, 0.1].map((sd) =>
      faceShares(GREEN, FACE_SHARE, [0, 0], { along: sd, across: sd })(...ratios(GREEN, 0.2)),
    );
    expect(unsure).toBeLessThan(sure);
    expect(unsure).toBeGreaterThan(FACE_SHARE);
  });

  test('on a dark paint what is brighter is partly mirrored, on a pale one it is light', () => {
    const [dark, pale] = [GREEN, labToLinear([92, 0, 3])].map((albedo) =>
      brightnessMirrored(albedo, FACE_SHARE),
    );
    expect(dark).toBeGreaterThan(2 * pale);
    // Never more than all of it: part of ln k is what ln brightness gains from a mirror.
    const part = FACE_SHARE / (0.2126 * GREEN[0] + 0.7152 * GREEN[1] + 0.0722 * GREEN[2] + FACE_SHARE);
    expect(part * dark).toBeLessThan(1);
  });

  test('a duller sheen mirrors no more beside its colour, an unknown one what paints do', () => {
    const shares = (['flat', 'matt', 'eggshell', 'satin', 'gloss'] as const).map(faceShare);
    shares.forEach((share, i) => i > 0 && expect(share).toBeGreaterThanOrEqual(shares[i - 1]));
    expect(shares[0]).toBeLessThan(shares[4]);
    expect(faceShare(null)).toBe(FACE_SHARE);
  });

  test('a grey paint tells nothing: the answer stays what paints do on the average', () => {
    const share = faceShares(GREY, FACE_SHARE, [0, 0]);
    for (const k of [0.01, 0.1, 0.4])
      expect(Math.abs(share(...ratios(GREY, k)) / FACE_SHARE - 1)).toBeLessThan(0.1);
  });

  test('warm light is not taken for a highlight on green paint', () => {
    const share = faceShares(GREEN, FACE_SHARE, [0, 0]);
    const warm = share(...ratios(GREEN, FACE_SHARE, [0.1, -0.163]));
    expect(warm).toBeGreaterThan(0.6 * FACE_SHARE);
    expect(warm).toBeLessThan(1.6 * FACE_SHARE);
  });

  test('colours that no light could make still give a share in range', () => {
    const share = faceShares(GREEN, FACE_SHARE, [0, 0]);
    for (const r of [-20, 0, 20])
      for (const b of [-20, 0, 20]) {
        const k = share(r, b);
        expect(k).toBeGreaterThan(0);
        expect(k).toBeLessThan(2);
      }
  });
});

describe('the tint of light on one place', () => {
  const out = new Float64Array(2);
  const range = { along: 0.25, across: 0, mostAlong: 0.2, mostAcross: 0 };
  const believed = { along: 1, across: 1 };

  test('is drawn towards that of the room, and never further than light goes', () => {
    drawnTint(out, { red: 0.1, blue: -0.05 }, { tint: [0.1, -0.05], range, believed });
    expect(out[0]).toBeCloseTo(0.1, 12);
    expect(out[1]).toBeCloseTo(-0.05, 12);
    drawnTint(out, { red: 3, blue: -3 }, { tint: [0, 0], range, believed });
    expect(Math.hypot(out[0], out[1])).toBeLessThan(0.201);
  });

  test('is left alone where all of it is believed', () => {
    const all = { along: 1, across: 1, mostAlong: 9, mostAcross: 9 };
    drawnTint(out, { red: 0.3, blue: 0.2 }, { tint: [0.05, 0], range: all, believed });
    expect(out[0]).toBeCloseTo(0.3, 3);
    expect(out[1]).toBeCloseTo(0.2, 3);
  });

  test('is believed on a pale paint, and the less the more of what is seen is mirrored or noise', () => {
    const none = { along: 0, across: 0 };
    expect(tintBelieved(0, none)).toEqual({ along: 1, across: 1 });
    const [pale, dark] = [0.03 / 0.8, 0.03 / 0.08].map((part) => tintBelieved(part, none));
    const noisy = tintBelieved(0.03 / 0.08, { along: 0.05, across: 0.05 });
    for (const axis of ['along', 'across'] as const) {
      expect(pale[axis]).toBeGreaterThan(0.98);
      expect(dark[axis]).toBeLessThan(0.8);
      expect(noisy[axis]).toBeLessThan(dark[axis]);
      expect(noisy[axis]).toBeGreaterThan(0);
    }
  });
});

describe('sheen', () => {
  test('the same sheen changes nothing; glossier is more, duller less, in order', () => {
    const names = ['flat', 'matt', 'eggshell', 'satin', 'semi-gloss', 'gloss'] as const;
    const found = names.map((to) => glossRatio('satin', to));
    expect(found[3]).toBe(1);
    found.forEach((v, i) => i > 0 && expect(v).toBeGreaterThan(found[i - 1]));
    expect(glossRatio('flat', 'gloss')).toBeLessThanOrEqual(3.2);
  });

  test('a word that is no sheen is refused', () => {
    expect(() => glossRatio('satin', 'shiny' as never)).toThrow(/Expected a sheen, got shiny/);
  });
});
