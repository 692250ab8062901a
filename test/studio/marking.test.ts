import { prepareSelection, type Image8, type Mask, type Stroke } from '#lib/photo/index.ts';
import { describe, expect, test } from 'vitest';
import { givenWay, markedMask } from '../../src/lib/studio/marked-mask.ts';
import {
  cleared,
  holds,
  isChanged,
  NO_STEPS,
  readMarkings,
  shareWords,
  sizeWords,
  stepBack,
  stepForth,
  stepName,
  stepped,
  stepsSince,
  stepsTo,
  stepWords,
  thinned,
  UNTOUCHED,
  withStroke,
  writeMarkings,
} from '../../src/lib/studio/marking.ts';
import { insidePlace, maskOutline } from '../../src/lib/studio/mask-outline.ts';
import { panned, showing, toFrame, toPicture, wholeView, zoomed } from '../../src/lib/studio/picture-view.ts';

const stroke = (mode: Stroke['mode'], ...points: [number, number][]): Stroke => ({ mode, points, radius: 4 });

describe('what was done while marks were being saved', () => {
  const asked = withStroke(stepped(NO_STEPS, { ...UNTOUCHED, elsewhere: true }), stroke('add', [1, 2]));

  test('is nothing where nothing came', () => {
    expect(stepsSince(asked, asked.now)).toBe(NO_STEPS);
  });

  test('a box unticked changes nothing of what was asked to be saved', () => {
    const later = stepped(asked, { ...asked.now, elsewhere: false });
    expect(holds(later, asked.now)).toBe(true);
    const since = stepsSince(later, asked.now);
    expect(since.now).toEqual(UNTOUCHED);
    expect(isChanged(since.now)).toBe(false);
  });

  test('strokes that came lie over the marks saved and can be taken back', () => {
    const later = stepBack(withStroke(withStroke(asked, stroke('remove', [3, 4])), stroke('add', [5, 6])));
    const since = stepsSince(later, asked.now);
    expect(since.now).toEqual({ kept: true, strokes: [stroke('remove', [3, 4])], elsewhere: true });
    expect(isChanged(stepBack(since).now)).toBe(false);
    expect(stepForth(since).now.strokes).toEqual([stroke('remove', [3, 4]), stroke('add', [5, 6])]);
  });

  test('“Clear” that came clears what was saved, and what was drawn on it stays', () => {
    const later = withStroke(cleared(asked), stroke('add', [7, 8]));
    expect(stepsSince(later, asked.now).now).toEqual(later.now);
    const anew = withStroke(cleared(NO_STEPS), stroke('add', [1, 1]));
    expect(isChanged(stepsSince(stepped(anew, { ...anew.now, elsewhere: true }), anew.now).now)).toBe(false);
  });

  test('a step back beyond it takes back what was asked', () => {
    expect(holds(stepBack(asked), asked.now)).toBe(false);
  });
});

describe('steps of a marking', () => {
  const two = withStroke(withStroke(NO_STEPS, stroke('add', [1, 2])), stroke('remove', [3, 4]));

  test('strokes are taken back one by one and come again', () => {
    const one = stepBack(two);
    expect(one.now.strokes).toEqual([stroke('add', [1, 2])]);
    expect(stepWords(two.now, one.now)).toBe('stroke 2 taken back, 1 left');
    expect(stepBack(stepBack(one))).toEqual(stepBack(one));
    expect(stepForth(stepForth(stepBack(one))).now).toEqual(two.now);
    expect(stepForth(two)).toEqual(two);
  });

  test('a new stroke ends what could come again', () => {
    const other = withStroke(stepBack(two), stroke('add', [9, 9]));
    expect(other.future).toEqual([]);
    expect(stepForth(other).now).toEqual(other.now);
  });

  test('clearing is a step of its own and counts as a change, even with nothing drawn', () => {
    const none = cleared(two);
    expect(isChanged(none.now)).toBe(true);
    expect(stepBack(none).now).toEqual(two.now);
    expect(stepWords(none.now, two.now)).toBe('the marks are back');
    expect(isChanged(UNTOUCHED)).toBe(false);
    // A tick changes no marks by itself.
    expect(isChanged(stepped(NO_STEPS, { ...UNTOUCHED, elsewhere: true }).now)).toBe(false);
  });

  test('after a reload every stroke can still be taken back', () => {
    const again = stepsTo({ ...two.now, kept: false });
    expect(again.now.strokes).toHaveLength(2);
    expect(stepBack(stepBack(again)).now.strokes).toEqual([]);
    expect(stepBack(stepBack(stepBack(again))).now).toEqual(UNTOUCHED);
  });
});

describe('markings kept over a reload', () => {
  const marking = { kept: true, strokes: [stroke('add', [1.26, 2], [30, 40.04])], elsewhere: true };

  test('come back as they were', () => {
    const back = readMarkings(writeMarkings('f1', { s1: marking }), 'f1');
    expect(back).toEqual({ s1: marking });
  });

  test('are left out where the picture is another, the text is damaged, or a stroke is none', () => {
    const text = writeMarkings('f1', { s1: marking }) ?? '';
    expect(readMarkings(text, 'f2')).toEqual({});
    expect(readMarkings(text.slice(0, -9), 'f1')).toEqual({});
    expect(readMarkings(text.replace('"add"', '"paint"'), 'f1')).toEqual({});
    expect(readMarkings(text.replace('"radius":4', '"radius":-4'), 'f1')).toEqual({});
    expect(readMarkings(null, 'f1')).toEqual({});
    expect(readMarkings('null', 'f1')).toEqual({});
  });

  test('nothing is kept where nothing is unsaved', () => {
    expect(writeMarkings('f1', { s1: UNTOUCHED })).toBeNull();
  });
});

test('a thinned line keeps its ends and no two points closer than asked', () => {
  const line = Array.from({ length: 101 }, (_, i): [number, number] => [i / 2, 0]);
  const thin = thinned(line, 3);
  expect(thin[0]).toEqual([0, 0]);
  expect(thin.at(-1)).toEqual([50, 0]);
  expect(thin.length).toBeLessThan(20);
  expect(thinned([[5, 5]], 3)).toEqual([[5, 5]]);
});

test('a share is told in words that never round something to nothing', () => {
  expect(shareWords(0)).toBe('nothing');
  expect(shareWords(0.001)).toBe('less than 1 %');
  expect(shareWords(0.243)).toBe('24 %');
});

describe('the view of a picture', () => {
  const picture = { width: 2000, height: 1000 };
  const frame = { width: 500, height: 500 };
  const whole = wholeView(picture, frame);

  test('whole: all of it, in the middle', () => {
    expect(toFrame(whole, [0, 0])).toEqual([0, 125]);
    expect(toFrame(whole, [2000, 1000])).toEqual([500, 375]);
  });

  test('zooming holds the place under the pointer and there and back is the same', () => {
    const about: [number, number] = [200, 250];
    const near = zoomed(whole, { factor: 6, about, picture, frame });
    const before = toPicture(whole, about);
    toPicture(near, about).forEach((v, i) => expect(v).toBeCloseTo(before[i], 9));
    const back = zoomed(near, { factor: 1 / 6, about, picture, frame });
    expect(back.scale).toBeCloseTo(whole.scale, 12);
    expect(back.x).toBeCloseTo(whole.x, 9);
  });

  test('never smaller than whole, and never moved off the frame', () => {
    expect(zoomed(whole, { factor: 0.1, about: [9, 9], picture, frame })).toEqual(whole);
    const near = zoomed(whole, { factor: 8, about: [250, 250], picture, frame });
    const far = panned(near, { by: [1e6, -1e6], picture, frame });
    expect(toFrame(far, [0, 1000])).toEqual([0, 500]);
    expect(zoomed(near, { factor: 1e6, about: [0, 0], picture, frame }).scale).toBeLessThanOrEqual(16);
  });

  test('a place outside the frame is brought in', () => {
    const near = zoomed(whole, { factor: 8, about: [0, 0], picture, frame });
    const moved = showing(near, { place: [1500, 500], margin: 24, picture, frame });
    const [x, y] = toFrame(moved, [1500, 500]);
    expect(x).toBeCloseTo(476, 6);
    expect(y).toBeGreaterThanOrEqual(24);
    expect(y).toBeLessThanOrEqual(476);
  });
});

function maskOf(width: number, height: number, cover: (x: number, y: number) => number): Mask {
  const data = Uint8Array.from({ length: width * height }, (_, p) => cover(p % width, Math.floor(p / width)));
  return { width, height, data };
}

/** Area inside closed lines by the shoelace formula; holes count against it. */
function areaIn({ places, ends }: ReturnType<typeof maskOutline>): number {
  let [area, start] = [0, 0];
  for (const end of ends) {
    for (let i = start; i < end; i++) {
      const j = i + 1 < end ? i + 1 : start;
      area += places[2 * i] * places[2 * j + 1] - places[2 * j] * places[2 * i + 1];
    }
    start = end;
  }
  return area / 2;
}

describe('the outline of a mask', () => {
  test('a box has few points and its area', () => {
    const outline = maskOutline(maskOf(60, 40, (x, y) => (x >= 10 && x < 50 && y >= 5 && y < 30 ? 255 : 0)));
    expect(outline.ends).toHaveLength(1);
    expect(outline.places.length / 2).toBeLessThan(16);
    expect(areaIn(outline)).toBeCloseTo(40 * 25, -1);
  });

  test('a ring has two lines, and its hole counts against it', () => {
    const disc = (x: number, y: number) => Math.hypot(x - 49.5, y - 49.5);
    const outline = maskOutline(maskOf(100, 100, (x, y) => (disc(x, y) < 40 && disc(x, y) > 20 ? 255 : 0)));
    expect(outline.ends).toHaveLength(2);
    const area = Math.PI * (40 ** 2 - 20 ** 2);
    expect(Math.abs(areaIn(outline) - area) / area).toBeLessThan(0.02);
  });

  test('a soft edge lies where cover passes one half', () => {
    // A straight edge at x = 10.25: the pixel from 10 to 11 is covered by a quarter.
    const outline = maskOutline(maskOf(30, 30, (x) => (x < 10 ? 255 : x === 10 ? 64 : 0)));
    const xs = [...outline.places].filter((_, i) => i % 2 === 0);
    expect(Math.max(...xs)).toBeGreaterThan(10);
    expect(Math.max(...xs)).toBeLessThan(10.5);
  });

  test('nothing covered has no lines and no place for a name; else the place is inside', () => {
    const none = maskOf(9, 9, () => 0);
    expect(maskOutline(none).ends).toHaveLength(0);
    expect(insidePlace(none)).toBeNull();
    const horseshoe = maskOf(90, 60, (x, y) => (x < 12 || x >= 78 || y < 10 ? 255 : 0));
    const [x, y] = insidePlace(horseshoe) ?? [0, 0];
    expect(horseshoe.data[Math.floor(y) * 90 + Math.floor(x)]).toBe(255);
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

describe('what a marking means', () => {
  const selector = prepareSelection(bands());
  const share = (mask: Mask, band: number) => {
    let sum = 0;
    for (let y = 0; y < 120; y++)
      for (let x = 80 * band; x < 80 * band + 80; x++) sum += mask.data[y * 240 + x];
    return sum / 255 / (80 * 120);
  };
  const saved = maskOf(240, 120, (x) => (x < 160 ? 255 : 0));
  const marking = (...strokes: Stroke[]) => ({ kept: true, strokes, elsewhere: false });

  test('strokes on saved marks add to them', () => {
    const left = maskOf(240, 120, (x) => (x < 80 ? 255 : 0));
    const { mask } = markedMask(selector, marking(stroke('add', [200, 30], [200, 90])), {
      saved: left,
      others: [],
    });
    expect(share(mask, 0)).toBeGreaterThan(0.97);
    expect(share(mask, 1)).toBeLessThan(0.05);
    expect(share(mask, 2)).toBeGreaterThan(0.95);
  });

  test('a stroke that takes away takes the part it touches from saved marks, and no more', () => {
    const { mask } = markedMask(selector, marking(stroke('remove', [120, 30], [120, 90])), {
      saved,
      others: [],
    });
    expect(share(mask, 0)).toBeGreaterThan(0.95);
    expect(share(mask, 1)).toBeLessThan(0.1);
  });

  test('cleared, saved marks count no more; untouched, they are given back as they are', () => {
    const ground = { saved, others: [] };
    expect(share(markedMask(selector, { ...UNTOUCHED, kept: false }, ground).mask, 0)).toBe(0);
    expect(markedMask(selector, UNTOUCHED, ground).mask).toBe(saved);
  });

  test('another surface gives way where it is claimed, and stays itself where only soft edges meet', () => {
    const other = maskOf(240, 120, (x) => (x >= 100 ? 255 : 0));
    const less = givenWay(other, saved);
    expect(less && share(less, 1)).toBe(0);
    expect(less && share(less, 2)).toBe(1);
    const edge = maskOf(240, 120, (x) => (x < 160 ? 255 : x === 160 ? 130 : 0));
    const beside = maskOf(240, 120, (x) => (x > 160 ? 255 : x === 160 ? 140 : 0));
    expect(givenWay(beside, edge)).toBeNull();
  });
});

describe('what a step did', () => {
  test('is named as what undo takes back', () => {
    const one = withStroke(NO_STEPS, stroke('add', [1, 2]));
    const outline = withStroke(one, { mode: 'add', by: 'outline', points: [[1, 1]] });
    expect(stepName(NO_STEPS.now, one.now)).toBe('stroke 1');
    expect(stepName(one.now, outline.now)).toBe('outline 2');
    expect(stepName(outline.now, cleared(outline).now)).toBe('“Clear”');
    expect(stepName(cleared(one).now, cleared(cleared(one)).now)).toBe('“Clear”');
    expect(stepName(one.now, { ...one.now, elsewhere: true })).toBe(
      '“Also take what looks like it elsewhere in the picture”',
    );
  });
});

describe('what a picture’s size means for marking', () => {
  test('a larger one is asked for only where it would help', () => {
    expect(sizeWords(2048, 1365)).toBeNull();
    expect(sizeWords(400, 2048)).toBeNull();
    expect(sizeWords(320, 213)).toMatch(/^This photo is small, 320 by 213 pixels: .* A larger one/);
    // 1000 by 6000 comes in with its long side at 2048.
    for (const words of [sizeWords(341, 2048), sizeWords(2048, 341)]) {
      expect(words).toMatch(/^This picture is long and narrow\. .* comes to 2,048 pixels .* has 341, /);
      expect(words).toMatch(/Crop it to the part with the surface, or take it in two photos\.$/);
      expect(words).not.toContain('larger');
    }
    // At its full size its short side would have 341 as well.
    expect(sizeWords(300, 1800)).toMatch(/^This picture is long and narrow\. .* has 300, /);
  });
});
