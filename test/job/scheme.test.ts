import { describe, expect, test } from 'vitest';
import { SchemeSearch, choiceOf, schemeCard, schemeProblem, swapReport } from '#lib/finish/index.ts';
import {
  DEFAULT_CRITERIA,
  DEFAULT_SCHEME,
  contact,
  parseJob,
  schemeInput,
  shortlistInput,
  type Job,
  type RoomScheme,
  type Surface,
} from '#lib/job/index.ts';
import { kitchen } from './kitchen.ts';

/** The kitchen with a floor, handles and a scheme. */
function job(over: Partial<RoomScheme> = {}, surfaces: Record<string, Partial<Surface>> = {}): Job {
  const out = kitchen();
  const [paint] = Object.values(out.swatches);
  out.swatches.brass = {
    ...paint,
    id: 'brass',
    name: 'brass',
    kind: 'metal',
    price: { amount: 9, currency: 'EUR', unit: 'piece' },
  };
  out.swatches.marble = {
    ...out.swatches.granite,
    id: 'marble',
    name: 'marble',
    price: { amount: 300, currency: 'EUR', unit: 'm²' },
    leadTimeDays: 20,
  };
  const base = { roomId: 'k', candidateIds: {}, target: null, criteria: DEFAULT_CRITERIA } as const;
  out.surfaces.floor = {
    ...base,
    id: 'floor',
    order: 3,
    name: 'Floor',
    kind: 'floor',
    state: 'fixed',
    swatchId: 'clay',
  };
  out.surfaces.pulls = {
    ...base,
    id: 'pulls',
    order: 4,
    name: 'Pulls',
    kind: 'hardware',
    state: 'open',
    swatchId: null,
    candidateIds: { brass: true },
  };
  for (const [id, fields] of Object.entries(surfaces)) Object.assign(out.surfaces[id], fields);
  out.rooms.k.scheme = { ...DEFAULT_SCHEME, ...over };
  return parseJob(out);
}

const placeOf = (input: ReturnType<typeof schemeInput>['input'], id: string) =>
  input.places.find(({ surfaceId }) => surfaceId === id)!;

describe("a room's scheme", () => {
  test('has the surfaces in their order with what they have and could have', () => {
    const { input, withoutSample, withoutOptions } = schemeInput(job(), 'k');
    expect(input.places.map(({ surfaceId, state, held }) => [surfaceId, state, held])).toEqual([
      ['cabinets', 'open', null],
      ['counter', 'fixed', 'granite'],
      ['floor', 'fixed', 'clay'],
      ['pulls', 'open', null],
    ]);
    expect(placeOf(input, 'cabinets').options.map(({ id }) => id)).toEqual(['sage', 'clay']);
    expect(withoutSample).toEqual(['bare']);
    expect(withoutOptions).toEqual([]);
    expect(input.currency).toBe('EUR');
    expect(input.weights).toEqual(DEFAULT_SCHEME.weights);
    expect(placeOf(input, 'cabinets').target!.lab).toEqual({ L: 60, a: -9, b: 10 });
  });

  test('reads what the shortlist reads of a candidate, and as much contact', () => {
    const j = job();
    const { input } = schemeInput(j, 'k');
    const list = shortlistInput(j, 'cabinets').input;
    for (const candidate of list.candidates)
      expect(placeOf(input, 'cabinets').options.find(({ id }) => id === candidate.id)).toMatchObject(
        candidate,
      );
    expect(input.lights).toEqual(list.lights);
    for (const { surfaceName, contact: near } of list.fixed) {
      const other = Object.values(j.surfaces).find(({ name }) => name === surfaceName)!;
      const meeting = input.meetings.find(({ a, b }) => a === 'cabinets' && b === other.id)!;
      expect(meeting.contact).toBe(near);
      expect(meeting.contact).toBe(contact('cabinets', other.kind));
    }
  });

  test('passes over locks, choices and freed surfaces that name what is gone', () => {
    const scheme = {
      locks: { cabinets: 'gone', nowhere: 'sage', counter: 'marble' },
      free: { nowhere: true as const },
    };
    const { input } = schemeInput(job(scheme), 'k', { choices: { cabinets: 'gone', attic: 'sage' } });
    expect(placeOf(input, 'cabinets')).toMatchObject({ held: null, current: null });
    expect(placeOf(input, 'counter')).toMatchObject({ held: 'granite', current: 'granite' });
    const locked = schemeInput(job({ locks: { cabinets: 'clay' } }), 'k').input;
    expect(placeOf(locked, 'cabinets')).toMatchObject({ held: 'clay', current: 'clay', state: 'open' });
  });

  test('frees what is fixed where it is said to be', () => {
    const free = job({ free: { counter: true } }, { counter: { candidateIds: { marble: true } } });
    const counter = placeOf(schemeInput(free, 'k').input, 'counter');
    expect(counter).toMatchObject({ held: null, current: 'granite', state: 'fixed' });
    expect(counter.options.map(({ id }) => id)).toEqual(['granite', 'marble']);
  });

  test('knows what is there still under something chosen, and passes over what is gone', () => {
    const chosen = (over: Partial<Surface>) =>
      placeOf(
        schemeInput(job({}, { counter: { state: 'chosen', swatchId: 'marble', ...over } }), 'k').input,
        'counter',
      );
    const kept = chosen({ thereId: 'granite' });
    expect(kept).toMatchObject({ held: 'marble', current: 'marble', there: 'granite' });
    expect(kept.options.map(({ id }) => id)).toEqual(['granite', 'marble']);
    expect(chosen({}).there).toBeNull();
    const gone = chosen({ thereId: 'gone' });
    expect(gone.there).toBeNull();
    expect(gone.options.map(({ id }) => id)).toEqual(['marble']);
    // What is fixed is there itself.
    expect(chosen({ state: 'fixed', thereId: 'granite' }).there).toBe('marble');
    const open = { state: 'open', swatchId: null, candidateIds: { marble: true } } as const;
    expect(chosen({ ...open, thereId: 'granite' }).there).toBeNull();
    expect(
      chosen({ ...open, candidateIds: { marble: true, granite: true }, thereId: 'granite' }),
    ).toMatchObject({ there: 'granite', held: null });
  });

  test('leaves out a surface with nothing to choose from, and says so', () => {
    const none = schemeInput(job({}, { pulls: { candidateIds: { bare: true } } }), 'k');
    expect(none.withoutOptions).toEqual(['pulls']);
    expect(none.input.places.map(({ surfaceId }) => surfaceId)).not.toContain('pulls');
    expect(none.input.meetings.flatMap(({ a, b }) => [a, b])).not.toContain('pulls');
  });

  test('asks for visible edges where people must find them', () => {
    const { input } = schemeInput(job(), 'k');
    const seen = input.meetings.filter(({ mustBeSeen }) => mustBeSeen).map(({ a, b }) => `${a} ${b}`);
    expect(seen).toEqual(['cabinets pulls', 'counter floor']);
  });

  test('compares a step with the inspiration only within one inspiration picture', () => {
    const j = job();
    expect(placeOf(schemeInput(j, 'k').input, 'cabinets').inspiration).toBeNull();
    j.photos.day.role = 'inspiration';
    expect(placeOf(schemeInput(j, 'k').input, 'cabinets').inspiration).toEqual({
      pictureId: 'day',
      lab: { L: 60, a: -9, b: 10 },
    });
  });

  test('refuses a room that is not there', () => {
    expect(() => schemeInput(job(), 'attic')).toThrow('Expected a room of this job, got attic');
  });
});

describe('the areas of a scheme', () => {
  test('are usual ones where nothing is said', () => {
    const { input, areaSources } = schemeInput(job(), 'k');
    expect(new Set(Object.values(areaSources))).toEqual(new Set(['usual']));
    expect(placeOf(input, 'cabinets').area).toBeGreaterThan(placeOf(input, 'pulls').area);
  });

  test('are those given, the photo brought to their scale, the rest to the scale of both', () => {
    const j = job({}, { cabinets: { area: 14 } });
    const edges = { areas: { cabinets: 7000, counter: 3000, floor: 0 }, borders: [] };
    const { input, areaSources } = schemeInput(j, 'k', { edges });
    expect(areaSources).toEqual({ cabinets: 'given', counter: 'photo', floor: 'usual', pulls: 'usual' });
    expect(placeOf(input, 'cabinets').area).toBe(14);
    expect(placeOf(input, 'counter').area).toBeCloseTo(6, 9);
    const usual = schemeInput(job(), 'k').input;
    const ratio = placeOf(usual, 'floor').area / placeOf(usual, 'pulls').area;
    expect(placeOf(input, 'floor').area / placeOf(input, 'pulls').area).toBeCloseTo(ratio, 9);
  });

  test('make costs only where they are given in m²', () => {
    const cost = (j: Job, id: string, swatch: string) =>
      placeOf(schemeInput(j, 'k').input, id).options.find((one) => one.id === swatch)!.cost;
    expect(cost(job(), 'cabinets', 'sage')).toBeNull();
    const j = job(
      {},
      { cabinets: { area: 14 }, pulls: { area: 0.3 }, counter: { area: 6, candidateIds: { marble: true } } },
    );
    // 14 m² twice at 350 sq ft per US gallon (8.59 m²/l) are 3.26 l: two tins of 2.5 l at 61.
    expect(cost(j, 'cabinets', 'sage')).toBe(122);
    expect(cost(j, 'pulls', 'brass')).toBeNull();
    // 300 a square metre with a tenth of waste.
    expect(cost(j, 'counter', 'marble')).toBeCloseTo(1980, 6);
    j.currency = 'SEK';
    expect(cost(j, 'cabinets', 'sage')).toBeNull();
  });

  test('and borders of a photo say how much surfaces meet', () => {
    const edges = {
      areas: { cabinets: 7000, counter: 3000, floor: 4000 },
      borders: [
        { a: 'counter', b: 'cabinets', length: 900 },
        { a: 'cabinets', b: 'floor', length: 300 },
      ],
    };
    const { input } = schemeInput(job(), 'k', { edges });
    const near = (a: string, b: string) => input.meetings.find((one) => one.a === a && one.b === b)!.contact;
    expect(near('cabinets', 'counter')).toBe(1);
    // They touch, if only by a third of the longest border: no less than usual.
    expect(near('cabinets', 'floor')).toBe(contact('cabinets', 'floor'));
    // They do not touch: half the usual.
    expect(near('counter', 'floor')).toBe(contact('counter', 'floor') / 2);
    // Not marked in this photo, so as usual.
    expect(near('cabinets', 'pulls')).toBe(contact('cabinets', 'hardware'));
  });
});

test('a border counts from a hundredth of the longest on, and for more than is usual where it is long', () => {
  const near = (length: number) => {
    const edges = {
      areas: { cabinets: 7000, counter: 3000, floor: 4000 },
      borders: [
        { a: 'counter', b: 'cabinets', length: 1000 },
        { a: 'floor', b: 'counter', length },
      ],
    };
    const { input } = schemeInput(job(), 'k', { edges });
    return input.meetings.find(({ a, b }) => a === 'counter' && b === 'floor')!.contact;
  };
  const usual = contact('counter', 'floor');
  expect([near(0), near(9)]).toEqual([usual / 2, usual / 2]);
  expect([near(10), near(300)]).toEqual([usual, usual]);
  expect(near(700)).toBe(0.7);
  expect(usual).toBeLessThan(0.7);
});

describe('busyness', () => {
  test('is that of the photo, none for paint, and not known of other things', () => {
    const j = job();
    const pattern = { width: 600, measured: true, busyness: 12, distance: 1500 };
    j.swatches.granite.samples.s1.pattern = pattern;
    const of = (id: string, swatch: string) =>
      placeOf(schemeInput(j, 'k').input, id).options.find((one) => one.id === swatch)!.busyness;
    expect(of('counter', 'granite')).toBe(12);
    expect(of('cabinets', 'sage')).toBe(0);
    expect(of('pulls', 'brass')).toBeNull();
  });
});

test('a room goes from the document to schemes, a card and a swap', () => {
  const j = job({}, { cabinets: { area: 14 }, counter: { area: 6, candidateIds: { marble: true } } });
  const { input } = schemeInput(j, 'k');
  const asked = schemeProblem(input);
  const search = new SchemeSearch(asked.problem, { best: 3, different: 2 });
  while (!search.step(100).done);
  const { best, proven } = search.result();
  expect(proven).toBe(true);
  const card = schemeCard(asked, best[0].choice);
  expect(choiceOf(asked, card.choices)).toEqual(best[0].choice);
  expect(card.choices).toMatchObject({ counter: 'granite', floor: 'clay', pulls: 'brass' });
  const decided = schemeInput(j, 'k', { choices: card.choices }).input;
  const report = swapReport(decided, { surfaceId: 'counter', to: 'marble' });
  expect(report.repair.card.choices).toMatchObject({ counter: 'marble', floor: 'clay' });
});
