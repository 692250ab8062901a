import { describe, expect, test } from 'vitest';
import { laidOut, type Laid } from '#lib/studio/full-layout.ts';

const kitchen = { width: 1600, height: 1067 };
const desk = { width: 1440, height: 850 };
const phone = { width: 390, height: 700 };
const asked = { picture: kitchen, room: desk, letters: 40 };

/** Width of the whole picture in its frame. */
const shown = ({ width, height }: Laid, picture = kitchen) =>
  Math.min(width, (height * picture.width) / picture.height);

describe('pictures on the whole screen', () => {
  test('fit into it with their words and the gaps between them, whatever their number and shape', () => {
    for (const room of [desk, phone, { width: 650, height: 390 }])
      for (const picture of [kitchen, { width: 900, height: 1600 }, { width: 500, height: 2000 }])
        for (const count of [1, 2, 3, 4, 5, 6]) {
          const { columns, width, height } = laidOut({ count, picture, room, letters: 20 });
          expect(columns * width).toBeLessThanOrEqual(room.width - 16);
          expect(Math.ceil(count / columns) * (height + 17)).toBeLessThanOrEqual(room.height - 16);
          expect(Math.min(width, height)).toBeGreaterThan(20);
        }
  });

  test('one alone is as wide or as high as the screen, and its frame takes the rest for zooming', () => {
    expect(shown(laidOut({ ...asked, count: 1 }))).toBeGreaterThan(1180);
    const upright = laidOut({ ...asked, room: phone, count: 1 });
    expect(upright.width).toBe(374);
    expect(upright.height).toBeGreaterThan(600);
    // A frame that is far wider than its picture would cut it off at first sight.
    const portrait = { width: 900, height: 1600 };
    const frame = laidOut({ ...asked, picture: portrait, count: 1 });
    expect(shown(frame, portrait) / frame.width).toBeGreaterThan(0.6);
  });

  test('two lie one above the other on an upright phone and beside each other on a desk', () => {
    expect(laidOut({ ...asked, room: phone, count: 2 }).columns).toBe(1);
    expect(laidOut({ ...asked, count: 2 }).columns).toBe(2);
  });

  test('six are as large as any number of columns could make them', () => {
    const six = laidOut({ ...asked, count: 6 });
    expect(six.columns).toBe(3);
    expect(six.width).toBeGreaterThan(460);
    expect(laidOut({ ...asked, room: phone, count: 6 }).columns).toBe(2);
  });

  test('longer words take their height from the pictures', () => {
    const low = { ...asked, room: { width: 1440, height: 700 }, count: 6 };
    const [short, long] = [laidOut(low), laidOut({ ...low, letters: 200 })];
    expect(long.height).toBeLessThan(short.height);
  });
});
