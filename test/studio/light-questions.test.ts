import { plausibleReflectance, type Lab } from '#lib/colour/index.ts';
import { compareLamps, lightReport, PAIRING_BANDS, WHITE_BANDS, WHITE_CURVE } from '#lib/finish/index.ts';
import { DEFAULT_CRITERIA, SURFACE_KINDS, type Job, type Surface, type Swatch } from '#lib/job/index.ts';
import { LAMP_TABLE } from '#lib/light/index.ts';
import { describe, expect, test } from 'vitest';
import { greyingSentences } from '../../src/lib/studio/greying.ts';
import {
  firstLamps,
  lampChoices,
  lampInput,
  lampQuestion,
  LEFT_OUT,
  lightQuestion,
  standingFinishes,
  surfaceFinishes,
} from '../../src/lib/studio/light-questions.ts';
import {
  chanceWords,
  lightAnswers,
  partsWords,
  saidOf,
  togetherWords,
} from '../../src/lib/studio/light-report-words.ts';
import { kitchen } from '../job/kitchen.ts';

function surface(id: string, fields: Partial<Surface>): Surface {
  return {
    id,
    order: 9,
    roomId: 'k',
    name: id,
    kind: 'walls',
    state: 'fixed',
    swatchId: null,
    candidateIds: {},
    target: null,
    criteria: DEFAULT_CRITERIA,
    ...fields,
  };
}

function withSurfaces(...more: Surface[]): Job {
  const job = kitchen();
  for (const one of more) job.surfaces[one.id] = one;
  return job;
}

const pairKeys = (pairs: Iterable<readonly [string, string]> | undefined) =>
  [...(pairs ?? [])].map((pair) => [...pair].toSorted().join(' ')).toSorted();

describe('what is asked of a room’s lights', () => {
  test('every finish with a colour takes part in its role; those without are told apart', () => {
    const job = kitchen();
    const { finishes, lights } = lightQuestion(job, 'k');
    expect(finishes.map(({ id, role, surfaceName }) => [id, role, surfaceName])).toEqual([
      ['sage', 'candidate', 'Cabinets'],
      ['clay', 'candidate', 'Cabinets'],
      ['granite', 'fixed', 'Counter'],
    ]);
    expect(lights.map(({ name }) => name)).toEqual(['Noon', 'Pendants']);
    const [cabinets] = surfaceFinishes(job, 'k');
    expect(cabinets.without.map(({ id }) => id)).toEqual(['bare']);
  });

  test('two candidates never meet; what is settled meets them and what else is settled, once', () => {
    const walls = surface('walls', { state: 'chosen', swatchId: 'clay' });
    const island = surface('island', {
      kind: 'island',
      state: 'open',
      candidateIds: { sage: true, granite: true },
    });
    const { pairs } = lightQuestion(withSurfaces(walls, island), 'k');
    expect(pairKeys(pairs)).toEqual(['clay granite', 'clay sage', 'granite sage']);
    const two = surface('walls', { state: 'open', candidateIds: { clay: true } });
    expect(pairKeys(lightQuestion(withSurfaces(two), 'k').pairs)).toEqual(['clay granite', 'granite sage']);
  });

  test('a finish on two surfaces is not held against itself, and other rooms stay out', () => {
    const job = withSurfaces(
      surface('splash', { swatchId: 'granite' }),
      surface('elsewhere', { roomId: 'b', swatchId: 'clay' }),
    );
    job.rooms.b = { id: 'b', order: 2, name: 'Bath', note: '' };
    job.lights.bath = { ...job.lights.noon, id: 'bath', roomId: 'b', name: 'Bath light' };
    const { pairs, finishes, lights } = lightQuestion(job, 'k');
    expect(pairKeys(pairs)).toEqual(['clay granite', 'granite sage']);
    expect(finishes.filter(({ id }) => id === 'granite')).toHaveLength(2);
    expect(lights.map(({ id }) => id)).not.toContain('bath');
    expect(lightReport({ ...lightQuestion(job, 'k'), draws: 20 }).finishes).toHaveLength(3);
  });
});

/** Two swatches of one daylight colour and two measured reflectances: they must match by day and need not elsewhere. */
function twins(): Job {
  const lab: Lab = { L: 60, a: 2, b: 8 };
  const { reflectance, directions } = plausibleReflectance(lab);
  const job = withSurfaces(surface('walls', { swatchId: 'other', name: 'Walls' }));
  const twin = (id: string, sign: number): Swatch => {
    const swatch = structuredClone(job.swatches.sage);
    const curve = Array.from(reflectance, (value, w) =>
      Math.min(1, Math.max(0, value + sign * 2 * directions[0][w])),
    );
    Object.assign(swatch, { id, name: id });
    Object.assign(swatch.samples.s1, {
      colours: [{ ...swatch.samples.s1.colours[0], lab }],
      reflectance: curve,
    });
    return swatch;
  };
  job.swatches.one = twin('one', 1);
  job.swatches.other = twin('other', -1);
  job.surfaces.counter.swatchId = 'one';
  job.surfaces.cabinets.candidateIds = {};
  job.lights.evening.parts = [{ source: { kind: 'table', name: 'FL11' }, share: 1 }];
  return job;
}

describe('what is answered first', () => {
  test('a pair that matches by day and parts under a tube is named with its light', () => {
    const job = twins();
    const report = lightReport({ ...lightQuestion(job, 'k'), draws: 50 });
    const [pair] = report.pairs;
    expect(pair.day.difference.value).toBeLessThan(1);
    const parting = lightAnswers(report, []).find(({ question }) => question.includes('stop matching'));
    expect(parting?.sentences[0]).toMatch(
      /one on “Counter” and other on “Walls”|other on “Walls” and one on “Counter”/,
    );
    expect(parting?.sentences[0]).toContain('part under “Pendants”');
  });

  test('without a match by day it says that none can stop, and names the nearest', () => {
    const report = lightReport({ ...lightQuestion(kitchen(), 'k'), draws: 50 });
    const [, parting] = lightAnswers(report, []);
    expect(parting.sentences).toHaveLength(1);
    expect(parting.sentences[0]).toMatch(/^No two finishes match by day/);
  });

  test('every question has an answer, also where nothing meets', () => {
    const job = kitchen();
    delete job.surfaces.counter;
    const report = lightReport({ ...lightQuestion(job, 'k'), draws: 50 });
    for (const { sentences } of lightAnswers(report, greyingSentences(report, surfaceFinishes(job, 'k')))) {
      expect(sentences.length).toBeGreaterThan(0);
      for (const sentence of sentences) expect(sentence).toMatch(/\S\.$/);
    }
  });

  test('what is said of a finish follows its name and ends its sentence', () => {
    for (const found of lightReport({ ...lightQuestion(kitchen(), 'k'), draws: 50 }).finishes)
      expect(`${found.name} ${saidOf(found)}`).toBe(found.sentence);
  });

  test('chances and parts are said as people count', () => {
    expect([0, 0.42, 1].map(chanceWords)).toEqual(['never', 'in 42 of 100', 'always']);
    expect(partsWords({ dL: 0.84, dC: -1.16, dH: -0.01 })).toBe('+0.8, −1.2, 0.0');
  });
});

describe('what greys most', () => {
  const greying = (job: Job) =>
    greyingSentences(lightReport({ ...lightQuestion(job, 'k'), draws: 50 }), surfaceFinishes(job, 'k'));
  const warm = (job: Job, name = 'LED-B1') => {
    job.lights.evening.parts = [{ source: { kind: 'table', name }, share: 1 }];
    return job;
  };

  test('daylight of the same kind takes no colour', () => {
    const job = kitchen();
    delete job.lights.evening;
    expect(greying(job)).toEqual([
      expect.stringMatching(/^Of the candidates .* all with a clear colour (probably )?hold it/),
    ]);
  });

  test('a lamp that greys a candidate is told, by name, light and share', () => {
    const [sentence] = greying(warm(kitchen()));
    expect(sentence).toMatch(/^Of the candidates for “Cabinets”, (sage|clay) (may|will) turn greyest/);
    expect(sentence).toMatch(/: \d+\s% of the colour is left under “Pendants”, give or take \d+\./);
  });

  test('what the report says turns grey is not said again', () => {
    expect(greying(warm(kitchen(), 'HP1'))).toEqual([]);
  });

  test('one candidate is spoken of as one', () => {
    const job = warm(kitchen());
    job.surfaces.cabinets.candidateIds = { sage: true };
    expect(greying(job)).toEqual([
      expect.stringMatching(/^sage, the candidate for “Cabinets”, (may|will) lose colour: \d+/),
    ]);
    delete job.lights.evening;
    expect(greying(job)).toEqual([expect.stringMatching(/ will (probably )?hold its colour/)]);
  });

  test('a measured reflectance leaves nothing open; a room without lights or candidates says nothing', () => {
    const job = warm(kitchen());
    const { reflectance } = plausibleReflectance(job.swatches.sage.samples.s1.colours[0].lab);
    job.swatches.sage.samples.s1.reflectance = Array.from(reflectance);
    job.surfaces.cabinets.candidateIds = { sage: true };
    expect(greying(job).join()).not.toContain('give or take');
    expect(greying({ ...job, lights: {} })).toEqual([]);
    job.surfaces.cabinets.candidateIds = {};
    expect(greying(job)).toEqual([]);
  });

  test('what keeps least colour of what turns grey is said first', () => {
    const job = kitchen();
    // Hardly more than one line, which leaves little colour to any surface, and not equally little.
    const values = Array.from({ length: 81 }, (_, i) => (i === 39 ? 100 : 1.2));
    job.lights.evening.parts = [{ source: { kind: 'measured', fileName: 'lines', values }, share: 1 }];
    job.swatches.sage.samples.s1.colours[0].lab = { L: 50, a: -30, b: 10 };
    job.swatches.clay.samples.s1.colours[0].lab = { L: 62, a: -22, b: 4 };
    const report = lightReport({ ...lightQuestion(job, 'k'), draws: 50 });
    const [{ sentences }] = lightAnswers(report, []);
    const shares = sentences.flatMap((words) => /turn grey.*?(\d+)\s%/.exec(words)?.[1] ?? []).map(Number);
    expect(shares.length).toBeGreaterThan(1);
    expect(shares).toEqual(shares.toSorted((a, b) => a - b));
  });
});

describe('a pair in its table', () => {
  test('is called as in its sentence', () => {
    expect([0.5, 1.5, 3, 8, 30].map((d) => togetherWords(d))).toEqual([
      'match',
      'nearly match',
      'near miss',
      'clear step',
      'far apart',
    ]);
  });

  test('is called more strictly where the two are whites: what would match among colours nearly does', () => {
    const between = (WHITE_BANDS.match + PAIRING_BANDS.match) / 2;
    expect([between, WHITE_CURVE.matchNone].map((d) => togetherWords(d))).toEqual(['match', 'nearly match']);
    expect([between, WHITE_CURVE.matchNone].map((d) => togetherWords(d, 1))).toEqual([
      'nearly match',
      'near miss',
    ]);
  });
});

describe('which lamps are compared', () => {
  test('the room’s own come first, each once, then the catalogue; daylight is no lamp', () => {
    const job = kitchen();
    const choices = lampChoices(job, job.rooms.k);
    expect(choices.slice(0, 2).map(({ inRoom }) => inRoom)).toEqual([['Pendants'], ['Pendants']]);
    expect(choices).toHaveLength(LAMP_TABLE.length + 1);
    expect(new Set(choices.map(({ id }) => id)).size).toBe(choices.length);
    expect(choices.some(({ source }) => source.kind === 'daylight')).toBe(false);
  });

  test('a comparison starts with the own lamp, one as warm that renders better, and halogen', () => {
    const job = kitchen();
    job.lights.evening.parts = [{ source: { kind: 'table', name: 'LED-B1' }, share: 1 }];
    const tables = (ids: string[]) => ids.map((id) => Object.fromEntries(JSON.parse(id)).name as string);
    const [own, better, halogen, ...more] = tables(firstLamps(lampChoices(job, job.rooms.k)));
    expect([own, halogen, more]).toEqual(['LED-B1', 'A', []]);
    const table = (name: string) => LAMP_TABLE.find((lamp) => lamp.table === name)!;
    expect(table(better).ra).toBeGreaterThan(table(own).ra);
    expect(Math.abs(table(better).cct - table(own).cct)).toBeLessThan(500);
    job.lights = {};
    expect(new Set(firstLamps(lampChoices(job, job.rooms.k))).size).toBe(3);
  });

  test('every open surface gets its first candidate, the one picked for it, or nothing', () => {
    const groups = surfaceFinishes(kitchen(), 'k');
    const on = (picked: Record<string, string>) =>
      standingFinishes(groups, picked).map(({ swatch }) => swatch.id);
    expect(on({})).toEqual(['sage', 'granite']);
    expect(on({ cabinets: 'clay' })).toEqual(['clay', 'granite']);
    expect(on({ cabinets: LEFT_OUT })).toEqual(['granite']);
    // Deleted meanwhile, and a fixed finish that nobody can pick away.
    expect(on({ cabinets: 'gone', counter: LEFT_OUT })).toEqual(['sage', 'granite']);
  });

  test('lamps are asked about with areas for every kind of surface, and answered by their ids', () => {
    const job = kitchen();
    const surfaces = SURFACE_KINDS.map((kind) => surface(kind, { kind, swatchId: 'clay' }));
    const standing = surfaces.map((one) => ({ surface: one, swatch: job.swatches.clay }));
    const lamps = lampChoices(job, job.rooms.k).slice(0, 3);
    expect(lampQuestion([], lamps)).toBeNull();
    expect(lampQuestion(standing, [])).toBeNull();
    const question = lampQuestion(standing, lamps)!;
    for (const { area } of question.finishes) expect(area).toBeGreaterThan(0);
    expect(question.pairs).toEqual([]);
    const scheme = lampQuestion(standingFinishes(surfaceFinishes(job, 'k'), {}), lamps)!;
    expect(pairKeys(scheme.pairs)).toEqual(['granite sage']);
    const { lamps: compared } = compareLamps({ ...scheme, draws: 50 });
    expect(compared.map(({ id }) => id).toSorted()).toEqual(lamps.map(({ id }) => id).toSorted());
  });

  test('a lamp of the room is called as in the room', () => {
    const job = kitchen();
    const [own] = lampChoices(job, job.rooms.k);
    expect(lampInput(own).name).toBe('Pendants: Warm LED lamp, 2,700 K');
  });
});
