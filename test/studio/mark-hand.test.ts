import { drawnByHand, maskUnion, prepareSelection, select } from '#lib/photo/index.ts';
import type { HandStroke, Image8, Mask, Point, Stroke } from '#lib/photo/index.ts';
import { describe, expect, test } from 'vitest';
import { givenWay, markedMask } from '../../src/lib/studio/marked-mask.ts';
import {
  NO_STEPS,
  readMarkings,
  stepBack,
  stepForth,
  stepsTo,
  stepWords,
  wayOf,
  withStroke,
  writeMarkings,
  type AnyStroke,
  type Marking,
} from '../../src/lib/studio/marking.ts';

type Mode = HandStroke['mode'];
const stroke = (mode: Mode, ...points: Point[]): Stroke => ({ mode, points, radius: 4 });
const hand = (mode: Mode, radius: number, ...points: Point[]): HandStroke => ({
  mode,
  by: 'hand',
  points,
  radius,
});
const outline = (mode: Mode, ...points: Point[]): HandStroke => ({ mode, by: 'outline', points });

describe('steps with hand work', () => {
  const drawn: AnyStroke[] = [
    stroke('add', [1, 2]),
    hand('add', 3, [4, 5]),
    outline('remove', [1, 1], [9, 1], [9, 9]),
  ];
  const steps = drawn.reduce(withStroke, NO_STEPS);

  test('every kind is taken back and comes again, and is called what it is', () => {
    const two = stepBack(steps);
    const one = stepBack(two);
    expect(stepWords(steps.now, two.now)).toBe('outline 3 taken back, 2 left');
    expect(stepWords(two.now, one.now)).toBe('hand stroke 2 taken back, 1 left');
    expect(stepWords(one.now, two.now)).toBe('hand stroke 2 is back');
    expect(stepForth(stepForth(one)).now.strokes).toEqual(drawn);
    expect(stepsTo(steps.now).past.map(({ strokes }) => strokes.length)).toEqual([0, 1, 2]);
  });

  test('come back after a reload exactly as they were drawn', () => {
    const odd = [hand('add', 3.14159, [4.26, 5.9999]), outline('add', [1.23456, 1], [9, 1], [9, 9.87654])];
    const { now } = [...drawn, ...odd].reduce(withStroke, NO_STEPS);
    const back = readMarkings(writeMarkings('f1', { s1: now }), 'f1');
    expect(back.s1).toEqual(now);
    expect(back.s1.strokes.map(wayOf)).toEqual(['picture', 'hand', 'outline', 'hand', 'outline']);
    for (const [i, { points }] of now.strokes.slice(3).entries())
      for (const [k, point] of points.entries())
        for (const [axis, value] of point.entries())
          expect(Math.abs(value - odd[i].points[k][axis])).toBeLessThanOrEqual(0.005 + 1e-9);
  });

  test('strokes that were kept before there was hand work are the picture’s', () => {
    const text = '{"fileId":"f1","markings":{"s1":{"kept":true,"elsewhere":false,"strokes":[{"mode":"add",';
    const { s1 } = readMarkings(`${text}"points":[[1,2],[3.5,4]],"radius":7.5}]}}}`, 'f1');
    expect(s1.strokes.map(wayOf)).toEqual(['picture']);
    expect(readMarkings(`${text}"by":"magic","points":[[1,2]],"radius":7.5}]}}}`, 'f1')).toEqual({});
    expect(readMarkings(`${text}"by":"hand","points":[[1,2]]}]}}}`, 'f1')).toEqual({});
    expect(readMarkings(`${text}"by":"outline","points":[[1,null]]}]}}}`, 'f1')).toEqual({});
  });
});

/** Three upright bands, light, mid and dark, 240 x 120. */
function bands(): Image8 {
  const [width, height] = [240, 120];
  const data = new Uint8ClampedArray(width * height * 3);
  for (let p = 0; p < width * height; p++) {
    const band = Math.floor((p % width) / 80);
    data.fill([205, 130, 60][band], 3 * p, 3 * p + 3);
  }
  return { width, height, channels: 3, data, space: 'srgb' };
}

function maskOf(cover: (x: number, y: number) => number): Mask {
  const data = Uint8Array.from({ length: 240 * 120 }, (_, p) => cover(p % 240, Math.floor(p / 240)));
  return { width: 240, height: 120, data };
}

describe('what a marking with hand work means', () => {
  const selector = prepareSelection(bands());
  const nothing = maskOf(() => 0);
  const fresh = { saved: null, others: [] };
  const marking = (...strokes: AnyStroke[]): Marking => ({ kept: true, strokes, elsewhere: false });
  const marked = (...strokes: AnyStroke[]) => markedMask(selector, marking(...strokes), fresh).mask;
  const band = (i: number) => stroke('add', [80 * i + 40, 30], [80 * i + 40, 90]);
  const box = (mode: Mode, left: number, right: number) =>
    outline(mode, [left, 20.5], [right, 20.5], [right, 100], [left, 100]);
  const covers = (mask: Mask, part: Mask) => part.data.every((value, p) => mask.data[p] >= value);
  const leaves = (mask: Mask, part: Mask) => part.data.every((value, p) => mask.data[p] <= 255 - value);

  test('hand work alone is exactly what was drawn, on nothing and over saved marks', () => {
    const strokes = [hand('add', 9, [20, 60], [200, 50]), box('remove', 100.5, 140.25)];
    expect(marked(...strokes).data).toEqual(drawnByHand(nothing, strokes).data);
    const saved = maskOf((x) => (x < 160 ? 255 : 0));
    const over = markedMask(selector, marking(...strokes), { saved, others: [] }).mask;
    expect(over.data).toEqual(drawnByHand(saved, strokes).data);
    const without = markedMask(selector, { ...marking(...strokes), kept: false }, { saved, others: [] }).mask;
    expect(without.data).toEqual(drawnByHand(nothing, strokes).data);
  });

  test('hand work after strokes of the picture edits what those found, and only there', () => {
    const found = select(selector, [band(0)], { elsewhere: false }).mask;
    const away = box('remove', 30, 50);
    expect(marked(band(0), away).data).toEqual(drawnByHand(found, [away]).data);
  });

  test('what was added by hand stays, whatever strokes of the picture add later', () => {
    const drawn = [hand('add', 6, [100, 20], [220, 110]), outline('add', [70, 10], [95, 14], [84, 60])];
    const mask = marked(...drawn, band(0));
    expect(covers(mask, drawnByHand(nothing, drawn))).toBe(true);
    expect(covers(mask, select(selector, [band(0)], { elsewhere: false }).mask)).toBe(true);
  });

  test('what was taken away by hand stays away, unless a later stroke is drawn there', () => {
    const away = box('remove', 10, 30);
    const part = drawnByHand(nothing, [{ ...away, mode: 'add' }]);
    expect(leaves(marked(band(0), away, band(0)), part)).toBe(true);
    expect(leaves(marked(away, band(0)), part)).toBe(true);
    // Drawn right through what was taken away: then it is meant.
    const mask = marked(band(0), away, stroke('add', [20, 40], [20, 80]));
    expect(mask.data[60 * 240 + 20]).toBe(255);
    // Added by hand after it was taken away by hand: the last word counts.
    const back = marked(band(0), away, hand('add', 3, [20, 60]), band(0));
    expect(back.data[60 * 240 + 20]).toBe(255);
    expect(back.data[40 * 240 + 15]).toBe(0);
  });

  test('a stroke of the picture takes away from hand work as it does from saved marks', () => {
    const drawn = drawnByHand(nothing, [box('add', 0, 240)]);
    const away = stroke('remove', [120, 30], [120, 90]);
    const saved = markedMask(selector, marking(away), { saved: drawn, others: [] }).mask;
    const mask = marked(box('add', 0, 240), away);
    expect(mask.data).toEqual(saved.data);
    expect(mask.data[60 * 240 + 120]).toBe(0);
    expect(mask.data[60 * 240 + 20]).toBe(255);
  });

  test('strokes in a row are one selection, and notes are those of the last run', () => {
    const two = [band(0), band(1)];
    const { mask } = select(selector, two, { elsewhere: false });
    expect(marked(...two).data).toEqual(mask.data);
    const line = hand('add', 5, [200, 60]);
    expect(marked(line, ...two).data).toEqual(maskUnion(drawnByHand(nothing, [line]), mask).data);
    const astray = stroke('add', [-20, 60], [40, 60]);
    expect(markedMask(selector, marking(line, astray), fresh).notes.join(' ')).toContain(
      'outside the picture',
    );
    const after = markedMask(selector, marking(astray, line), fresh);
    expect(after.notes).toEqual([]);
  });

  test('what is remembered changes nothing: strokes one by one, back and forth, another ground', () => {
    const strokes = [
      band(0),
      box('remove', 30, 50),
      hand('add', 4, [40, 60]),
      band(2),
      hand('remove', 7, [200, 60]),
    ];
    const afresh = (list: AnyStroke[], ground: { saved: Mask | null; others: Mask[] }) =>
      markedMask(prepareSelection(bands()), marking(...list), ground).mask.data;
    for (const count of [1, 2, 3, 4, 5, 3, 4, 2, 5]) {
      const list = strokes.slice(0, count);
      expect(marked(...list).data).toEqual(afresh(list, fresh));
    }
    const ground = { saved: maskOf((x) => (x > 150 ? 255 : 0)), others: [maskOf((x) => (x < 20 ? 255 : 0))] };
    expect(markedMask(selector, marking(...strokes), ground).mask.data).toEqual(afresh(strokes, ground));
    expect(marked(...strokes).data).toEqual(afresh(strokes, fresh));
  });

  test('hand work over another surface claims its place, as a stroke does', () => {
    const other = maskOf((x) => (x >= 100 ? 255 : 0));
    const ground = { saved: null, others: [other] };
    const { mask } = markedMask(selector, marking(box('add', 60, 140)), ground);
    expect(mask.data[60 * 240 + 120]).toBe(255);
    const less = givenWay(other, mask);
    expect(less?.data[60 * 240 + 120]).toBe(0);
    expect(less?.data[60 * 240 + 150]).toBe(255);
    // And keeps it when a stroke of the picture follows.
    const later = markedMask(selector, marking(box('add', 60, 140), band(0)), ground).mask;
    expect(later.data[60 * 240 + 120]).toBe(255);
  });
});
