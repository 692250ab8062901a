import { describe, expect, test } from 'vitest';
import {
  illuminant,
  OBSERVER_10,
  REFERENCE_ILLUMINANCE,
  roomView,
  viewingConditions,
  WHITE_D65_10,
  whitePoint,
  type IlluminantName,
  type Lab,
  type RoomView,
} from '#lib/colour/index.ts';
import { lightReport } from '#lib/finish/index.ts';
import type { Sample } from '#lib/job/index.ts';
import { daylightOfLevel, paintsOf, readingOf, type DayRow, type RowReading } from '#lib/studio/day.ts';

const GREEN: Lab = { L: 32, a: -18, b: 9 };
const OFF_WHITE: Lab = { L: 93, a: -0.5, b: 4 };
const COLOURS: Record<string, Lab> = {
  'deep green': GREEN,
  'off-white': OFF_WHITE,
  'grey blue': { L: 58, a: -3, b: -9 },
  terracotta: { L: 48, a: 24, b: 26 },
  'warm grey': { L: 66, a: 1.5, b: 6 },
};

function rowOf(labs: readonly Lab[], reflectance: number[] | null = null): DayRow {
  const covariance = [1, 0, 0, 0, 1, 0, 0, 0, 1];
  const colours = labs.map((lab) => ({ lab, covariance, share: 1 / labs.length }));
  const sample: Sample = {
    ...{ id: 's', order: 1, source: 'typed', colours, reflectance, from: null, note: '' },
  };
  const swatch = {
    ...{ id: 'w', order: 1, kind: 'paint' as const, maker: '', code: '', name: 'Invented', sheen: null },
    ...{ price: null, leadTimeDays: null, publishedLrv: null, samples: { s: sample }, note: '' },
  };
  return { id: 'r', name: 'Row', swatch, paints: paintsOf(sample) };
}

const lamp = (name: IlluminantName) =>
  roomView({ spectrum: illuminant(name), illuminance: REFERENCE_ILLUMINANCE });

const read = (row: DayRow, view: RoomView): RowReading => readingOf(row, view, daylightOfLevel(view));

/** A room at the level of the screen, for an eye that has settled on its light: as the light report judges. */
function settled(name: IlluminantName): RoomView {
  const view = lamp(name);
  const conditions = (white: RoomView['conditions']['white']) =>
    viewingConditions({
      white,
      L_A: REFERENCE_ILLUMINANCE / (5 * Math.PI),
      Y_b: 20,
      surround: 'average',
      degree: 1,
    });
  return {
    ...view,
    conditions: conditions(whitePoint(illuminant(name), OBSERVER_10)),
    screen: conditions(WHITE_D65_10),
    level: 1,
  };
}

describe('the doubt of a look in a room', () => {
  test('is none where the reflectance was measured', () => {
    const curve = Array.from({ length: 81 }, (_, i) => (i < 40 ? 0.2 : 0.5));
    expect(read(rowOf([{ L: 60, a: 20, b: 20 }], curve), lamp('A')).doubt).toEqual({
      ...{ deltaE: 0, castDeltaE: 0, kept: 0 },
    });
  });

  test('is none by daylight, dim or not', () => {
    const dim = roomView({ spectrum: illuminant('D65'), illuminance: 40 });
    for (const view of [lamp('D65'), dim]) {
      const { doubt } = read(rowOf([GREEN]), view);
      expect(Math.max(doubt.deltaE, doubt.castDeltaE, doubt.kept)).toBeLessThan(0.01);
    }
  });

  test('is the greater, the farther a light is from daylight', () => {
    for (const [name, lab] of Object.entries(COLOURS)) {
      const doubts = (['D65', 'D50', 'A'] as const).map(
        (light) => read(rowOf([lab]), lamp(light)).doubt.deltaE,
      );
      expect(doubts[1], name).toBeGreaterThan(doubts[0]);
      expect(doubts[2], name).toBeGreaterThan(doubts[1]);
    }
  });

  test('is smaller for an off-white than for a deep green', () => {
    for (const light of ['A', 'LED-B1', 'FL4'] as const)
      expect(read(rowOf([OFF_WHITE]), lamp(light)).doubt.deltaE, light).toBeLessThan(
        0.5 * read(rowOf([GREEN]), lamp(light)).doubt.deltaE,
      );
  });

  test('of two equal colours is that of one: what is not known of them is the same', () => {
    const one = read(rowOf([GREEN]), lamp('LED-B1')).doubt;
    const two = read(rowOf([GREEN, GREEN]), lamp('LED-B1')).doubt;
    expect(one.castDeltaE).toBeGreaterThan(0.5);
    expect(two.castDeltaE).toBeCloseTo(one.castDeltaE, 6);
    expect(two.kept).toBeCloseTo(one.kept, 6);
  });

  // The report draws 4,000 reflectances, which leaves 1 % of sampling error, and looks at each exactly; here looks are linear
  // in what is not known.
  test('is that of the light report for an eye that has settled on the light', () => {
    for (const [name, lab] of Object.entries(COLOURS))
      for (const light of ['A', 'LED-B1', 'FL4'] as const) {
        const colours = [{ estimate: { lab, covariance: [1, 0, 0, 0, 1, 0, 0, 0, 1] }, share: 1 }];
        const report = lightReport({
          finishes: [{ id: 'f', name, colours, role: 'candidate' }],
          lights: [{ id: light, name: light, spectrum: Array.from(illuminant(light)), illuminance: 500 }],
          draws: 4000,
        });
        const { deltaE } = report.finishes[0].movements[0];
        const found = read(rowOf([lab]), settled(light));
        const where = `${name} under ${light}: ${found.deltaE} ${found.doubt.deltaE} v ${deltaE.value} ${deltaE.giveOrTake}`;
        expect(Math.abs(found.deltaE - deltaE.value), where).toBeLessThan(0.1);
        expect(found.doubt.deltaE / deltaE.giveOrTake, where).toBeGreaterThan(0.93);
        expect(found.doubt.deltaE / deltaE.giveOrTake, where).toBeLessThan(1.07);
      }
  });
});
