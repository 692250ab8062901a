import {
  OBSERVER_10,
  WAVELENGTHS,
  WHITE_D65_10,
  illuminant,
  nearestReflectance,
  spectrumToXyz,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { IlluminantName, Lab } from '#lib/colour/index.ts';
import { isotropicCovariance } from '#lib/finish/index.ts';
import type { CandidateInput, Estimate, FinishInput, LightInput, RankInput } from '#lib/finish/index.ts';

// An invented kitchen: greens and clays for the cabinets, beside a counter, a floor and a tile.

export function estimate(L: number, a: number, b: number, meanDifference = 1): Estimate {
  return { lab: { L, a, b }, covariance: isotropicCovariance(meanDifference) };
}

export function finish(
  id: string,
  colours: readonly (readonly [number, number, number, number?])[],
  doubt = 1,
): FinishInput {
  return {
    id,
    name: id,
    colours: colours.map(([L, a, b, share = 1]) => ({ estimate: estimate(L, a, b, doubt), share })),
  };
}

export function candidate(
  id: string,
  lab: Lab,
  extra: Partial<CandidateInput> & { doubt?: number } = {},
): CandidateInput {
  const { doubt = 1, ...rest } = extra;
  return {
    ...finish(id, [[lab.L, lab.a, lab.b]], doubt),
    price: { amount: 40, currency: 'EUR', unit: 'l' },
    leadTimeDays: 7,
    ...rest,
  };
}

export function light(id: string, name: IlluminantName, illuminance = 300): LightInput {
  return { id, name: id, spectrum: Array.from(illuminant(name)), illuminance };
}

export const WINDOW = light('window', 'ID65', 900);
export const LAMPS = light('lamps', 'LED-B1', 150);

export const COUNTER = finish('counter', [
  [83, 0, 3, 0.7],
  [62, 1, 6, 0.3],
]);
export const FLOOR = finish('floor', [[48, 8, 20]]);

export function kitchen(over: Partial<RankInput> = {}): RankInput {
  return {
    surface: { name: 'cabinets' },
    target: estimate(62, -9, 11),
    candidates: [
      candidate('reed', { L: 61, a: -9.5, b: 12 }),
      candidate('moss', { L: 52, a: -12, b: 18 }),
      candidate('clay', { L: 58, a: 14, b: 19 }),
      candidate('mist', { L: 80, a: -2, b: 3 }),
      candidate('pine', { L: 34, a: -10, b: 6 }),
    ],
    fixed: [
      { finish: COUNTER, surfaceName: 'counter', contact: 1 },
      { finish: FLOOR, surfaceName: 'floor', contact: 0.8 },
    ],
    lights: [WINDOW, LAMPS],
    weights: { nearness: 3, pairing: 3, steadiness: 2, lrv: 0, price: 1, time: 1 },
    limits: { maxPrice: null, maxLeadTimeDays: null, minLrv: null, maxLrv: null },
    draws: 200,
    seed: 7,
    ...over,
  };
}

/** Two finishes that are one colour in daylight and two under tubes: a bumpy spectrum and the smooth one of its colour. */
export function metamers(): { bumpy: FinishInput; smooth: FinishInput } {
  const bump = (nm: number, centre: number) => Math.exp(-(((nm - centre) / 25) ** 2));
  const reflectance = WAVELENGTHS.map((nm) => 0.2 + 0.25 * (bump(nm, 450) + bump(nm, 535) + bump(nm, 615)));
  const sight = { illuminant: illuminant('D65'), observer: OBSERVER_10 };
  const xyz = spectrumToXyz(reflectance, sight);
  const { L, a, b } = xyzToLab(xyz, WHITE_D65_10);
  const of = (id: string, measured: readonly number[]): FinishInput => {
    const base = finish(id, [[L, a, b]], 0);
    return { ...base, colours: [{ ...base.colours[0], reflectance: measured }] };
  };
  return {
    bumpy: of('bumpy', reflectance),
    smooth: of('smooth', Array.from(nearestReflectance(xyz, sight).reflectance)),
  };
}
