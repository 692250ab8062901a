import { SCHEME_CRITERIA } from '#lib/finish/index.ts';
import type {
  ReflectanceCache,
  SchemeCriterion,
  SchemeInput,
  SchemeOption,
  SchemePlace,
} from '#lib/finish/index.ts';
import { LAMPS, WINDOW, estimate, finish } from './kitchen.ts';

// An invented kitchen as a whole: some surfaces decided, some open, a few finishes for each.

/** One cache for all: what it holds depends on nothing but the colour. */
export const cache: ReflectanceCache = new Map();

export function option(
  id: string,
  lab: readonly [number, number, number],
  extra: Partial<SchemeOption> = {},
): SchemeOption {
  return {
    ...finish(id, [lab], 0.5),
    kind: 'paint',
    price: { amount: 40, currency: 'EUR', unit: 'l' },
    leadTimeDays: 7,
    busyness: 0,
    cost: 120,
    ...extra,
  };
}

export const NO_LIMITS = { maxPrice: null, maxLeadTimeDays: null, minLrv: null, maxLrv: null } as const;
export const NO_ROOM_LIMITS = {
  budget: null,
  readyInDays: null,
  metals: null,
  darkShare: null,
  strongShare: null,
} as const;

export function place(
  surfaceId: string,
  options: readonly SchemeOption[],
  over: Partial<SchemePlace> = {},
): SchemePlace {
  return {
    surfaceId,
    surfaceName: surfaceId[0].toUpperCase() + surfaceId.slice(1),
    state: 'open',
    held: null,
    current: null,
    there: null,
    options,
    target: null,
    inspiration: null,
    area: 5,
    limits: NO_LIMITS,
    ...over,
  };
}

/** A place whose first option is there. */
export function fixed(surfaceId: string, options: readonly SchemeOption[], over: Partial<SchemePlace> = {}) {
  const { id } = options[0];
  return place(surfaceId, options, { state: 'fixed', held: id, current: id, there: id, ...over });
}

export const ALL_WEIGHTS = Object.fromEntries(SCHEME_CRITERIA.map((criterion) => [criterion, 1])) as Record<
  SchemeCriterion,
  number
>;

export const NO_WEIGHTS = Object.fromEntries(SCHEME_CRITERIA.map((criterion) => [criterion, 0])) as Record<
  SchemeCriterion,
  number
>;

/** Every two places meet. */
export function meetingsOf(places: readonly SchemePlace[], contact = 0.7): SchemeInput['meetings'] {
  return places.flatMap((a, i) =>
    places.slice(i + 1).map((b) => ({
      a: a.surfaceId,
      b: b.surfaceId,
      contact,
      mustBeSeen: a.surfaceId === 'counter' && b.surfaceId === 'floor',
    })),
  );
}

/** Cabinets, walls and backsplash open; counter and floor there, the counter with a substitute. */
export function room(over: Partial<SchemeInput> = {}): SchemeInput {
  const picture = (L: number, a: number, b: number) => ({ pictureId: 'p', lab: { L, a, b } });
  const places = over.places ?? [
    place(
      'cabinets',
      [
        option('reed', [61, -9.5, 12]),
        option('moss', [52, -12, 18], { cost: 150, leadTimeDays: 3 }),
        option('pine', [34, -10, 6], { cost: 180, leadTimeDays: 14 }),
      ],
      { target: estimate(62, -9, 11), inspiration: picture(58, -8, 9), area: 14 },
    ),
    place('walls', [option('chalk', [93, 0, 3]), option('lime', [86, -3, 9], { cost: 90 })], {
      inspiration: picture(88, 1, 4),
      area: 25,
    }),
    place(
      'backsplash',
      [
        option('ring', [70, 2, 10], { kind: 'tile', busyness: 22, cost: 400, leadTimeDays: 21 }),
        option('plain', [78, -5, 7], { kind: 'tile', busyness: 1, cost: 260, leadTimeDays: 9 }),
      ],
      { area: 5 },
    ),
    fixed(
      'counter',
      [
        option('granite', [83, 0, 3], { kind: 'stone', busyness: 2, cost: 1900, leadTimeDays: 40 }),
        option('fleck', [70, 1, 5], { kind: 'stone', busyness: 19, cost: 1500, leadTimeDays: 10 }),
      ],
      { inspiration: picture(80, 0, 4), area: 6 },
    ),
    fixed(
      'floor',
      [option('oak', [48, 8, 20], { kind: 'wood', busyness: 6, cost: null, leadTimeDays: null })],
      {
        area: 14,
      },
    ),
  ];
  return {
    places,
    meetings: meetingsOf(places),
    lights: [WINDOW, LAMPS],
    weights: ALL_WEIGHTS,
    limits: NO_ROOM_LIMITS,
    currency: 'EUR',
    ...over,
  };
}

/** Every choice there is. */
export function everyChoice(counts: readonly number[]): number[][] {
  return counts.reduce<number[][]>(
    (choices, count) => choices.flatMap((choice) => Array.from({ length: count }, (_, i) => [...choice, i])),
    [[]],
  );
}
