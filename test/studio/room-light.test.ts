import { describe, expect, test } from 'vitest';
import { blackBody, illuminant } from '#lib/colour/index.ts';
import type { Light } from '#lib/job/index.ts';
import { lightParts } from '../../src/lib/studio/room-light.ts';
import { kitchen } from '../job/kitchen.ts';

type Parts = Light['parts'];

function partsOf(parts: Parts, illuminance = 300) {
  const job = kitchen();
  const light = { id: 'l', order: 1, roomId: Object.keys(job.rooms)[0], name: 'Mixture', parts, illuminance };
  return lightParts({ ...job, lights: { l: light } }, { lightId: 'l' });
}

const DAY: Parts[number] = { source: { kind: 'daylight', cct: 6500 }, share: 0.5 };
const LAMP: Parts[number] = { source: { kind: 'black body', kelvin: 2700 }, share: 1.5 };

/** Two relative spectra of one shape. */
function same(one: ArrayLike<number> | null, other: ArrayLike<number>): boolean {
  if (!one) return false;
  const factor = one[40] / other[40];
  return Array.from(other).every(
    (v, i) => Math.abs(one[i] - factor * v) <= 1e-9 * Math.abs(factor * v) + 1e-12,
  );
}

describe('window and lamps of a light', () => {
  test('a mixture has both, with the share of the illuminance', () => {
    const parts = partsOf([DAY, LAMP]);
    expect(parts?.part).toBeCloseTo(0.25, 12);
    expect(parts?.whole.illuminance).toBe(300);
    expect(same(parts?.lamps ?? null, blackBody(2700))).toBe(true);
    expect(parts?.window).not.toBeNull();
  });

  test('lamps alone leave the window out, and the other way round', () => {
    expect(partsOf([LAMP])).toMatchObject({ part: 0, window: null });
    expect(partsOf([DAY])).toMatchObject({ part: 1, lamps: null });
    // A source that is switched off is not there.
    expect(partsOf([{ ...DAY, share: 0 }, LAMP])).toMatchObject({ part: 0, window: null });
  });

  test.each([
    ['D65', 1],
    ['ID50', 1],
    ['LED-B1', 0],
    ['FL2', 0],
    ['A', 0],
  ])('a table of %s counts as the window by %i', (name, part) => {
    const found = partsOf([{ source: { kind: 'table', name }, share: 1 }]);
    expect(found?.part).toBe(part);
    expect(same((part === 1 ? found?.window : found?.lamps) ?? null, illuminant(name as 'D65'))).toBe(true);
  });

  test('plain daylight and lights that are gone have no parts', () => {
    expect(lightParts(kitchen(), null)).toBeNull();
    expect(lightParts(kitchen(), { lightId: 'gone' })).toBeNull();
    expect(lightParts(kitchen(), { roomId: Object.keys(kitchen().rooms)[0], hour: 12 })).toBeNull();
  });

  test('an hour of a day has windows by day and the lamps that burn by night', () => {
    const job = kitchen();
    const [room] = Object.values(job.rooms);
    room.day = {
      place: { latitude: 50, longitude: 10, timeZone: '+01:00' },
      date: '2027-02-10',
      sky: 'clear',
      windows: { w: { id: 'w', order: 1, name: 'Pendant', facing: 0, area: 3, glass: 'double glass' } },
      lamps: {
        p: {
          id: 'p',
          order: 1,
          // The name of the window: what comes first is the window all the same.
          name: 'Pendant',
          source: { kind: 'black body', kelvin: 2700 },
          illuminance: 150,
          on: 'when dark',
        },
      },
      floorArea: 20,
      height: 2.6,
      reflectance: 0.5,
    };
    expect(lightParts(job, { roomId: room.id, hour: 12 })).toMatchObject({ part: 1, lamps: null });
    expect(lightParts(job, { roomId: room.id, hour: 23 })).toMatchObject({ part: 0, window: null });
    // Half an hour after sunset (17:25 at that place) both give something.
    const dusk = lightParts(job, { roomId: room.id, hour: 17.4 });
    expect(dusk?.part).toBeGreaterThan(0);
    expect(dusk?.part).toBeLessThan(1);
    expect(dusk?.window && dusk.lamps).not.toBeNull();
  });
});
