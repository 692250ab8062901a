import {
  choiceOf,
  schemeCard,
  schemeProblem,
  SchemeSearch,
  type SchemeCard,
  type SchemeInput,
} from '#lib/finish/index.ts';
import {
  applyEdit,
  DEFAULT_SCHEME,
  parseJob,
  schemeInput,
  setting,
  type Id,
  type Job,
  type Surface,
} from '#lib/job/index.ts';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { foundSchemes, type FoundSchemes } from '../../src/lib/studio/scheme-found.ts';
import {
  apartWords,
  areaWords,
  choosing,
  decidedChoices,
  drawnShares,
  faultsOfAll,
  gradeWord,
  keptScheme,
  markedPhoto,
  nothingCounts,
  puttingOn,
  schemeKey,
  schemeValues,
  settingsGist,
  standing,
  surfaceRows,
  triedWith,
} from '../../src/lib/studio/schemes.ts';
import {
  countWords,
  noSchemeWords,
  proofWords,
  tooLarge,
  worthGoingOn,
} from '../../src/lib/studio/scheme-search-words.ts';
import { cache, room as kitchenInput } from '../finish/scheme-kitchen.ts';
import { kitchen } from '../job/kitchen.ts';

/** The kitchen: cabinets open with two candidates that have a colour and one without, granite there on the counter. */
function job(change: (job: Job) => void = () => {}): Job {
  const made = kitchen();
  change(made);
  return parseJob(made);
}

/** The same with a substitute for the counter, freed, and walls of which nothing is known. */
function freed(): Job {
  return job((made) => {
    made.surfaces.counter.candidateIds = { sage: true };
    made.rooms.k.scheme = { ...DEFAULT_SCHEME, free: { counter: true } };
    const walls: Partial<Surface> = { id: 'walls', order: 3, name: 'Walls', kind: 'walls', candidateIds: {} };
    made.surfaces.walls = { ...made.surfaces.cabinets, ...walls };
  });
}

/** The card of a scheme of the room. */
function cardOf(of: Job, choices: Record<Id, Id>): SchemeCard {
  const asked = schemeProblem(schemeInput(of, 'k').input, { cache });
  return schemeCard(asked, choiceOf(asked, choices)!);
}

/** All that a search finds. */
function found(input: SchemeInput, work = Infinity): FoundSchemes {
  const asked = schemeProblem(input, { cache });
  const search = new SchemeSearch(asked.problem, { best: 20, different: 6 });
  for (let done = 0; done < work && !search.step(1).done; done += 1);
  return foundSchemes({ asked, search }, { searching: false });
}

describe('what is said of a search', () => {
  const whole = { ...found(kitchenInput()), possible: 12345 };
  const cards = whole.different;

  test('what was found is counted, proven and in order, and what is not yet says so', () => {
    const { places } = kitchenInput();
    const all = places.reduce((count, { held, options }) => count * (held === null ? options.length : 1), 1);
    expect(found(kitchenInput())).toMatchObject({
      possible: all,
      proven: true,
      infeasible: null,
      fraction: 1,
    });
    const scores = cards.map(({ desirability }) => desirability);
    expect(scores).toEqual(scores.toSorted((a, b) => b - a));
    expect(schemeKey(whole.best[0])).toBe(schemeKey(cards[0].choices));
    expect(new Set(cards.map(({ choices }) => schemeKey(choices))).size).toBe(cards.length);
    expect(cards.length).toBeGreaterThan(1);
    const early = found(kitchenInput(), 1);
    expect(early.proven).toBe(false);
  });

  test('a proven best says of how many', () => {
    expect(proofWords(whole, kitchenInput())).toMatch(
      /^Of 12,345 possible schemes none .*is better than the first\.$/,
    );
    expect(proofWords({ ...whole, possible: 1 }, kitchenInput())).toBe(
      'There is only one scheme, the one below.',
    );
  });

  test('a search that was stopped says by how much an unseen scheme could win, rounded up', () => {
    const stopped = { ...whole, proven: false, bestProven: false };
    const words = (couldStillWin: number) => proofWords({ ...stopped, couldStillWin }, kitchenInput());
    expect(words(1.0301)).toBe(
      'Stopped early: an unseen scheme could still be at most 4 % better than the first.',
    );
    expect(words(1.0021)).toContain('at most 0.3 % better');
    expect(words(1.0001)).toBe(
      'Stopped early: an unseen scheme could still be hardly better than the first.',
    );
    expect([1, 1.0001, 1.01].map((couldStillWin) => worthGoingOn({ ...stopped, couldStillWin }))).toEqual([
      ...[false, false, true],
    ]);
    expect(worthGoingOn(whole)).toBe(false);
    expect(words(1)).toMatch(
      /^Stopped early: of 12,345 possible schemes none .*The others are not certain\.$/,
    );
    expect(proofWords({ ...stopped, different: [] }, kitchenInput())).toBe(
      'No scheme was found before the search was stopped.',
    );
  });

  test('of different schemes that are not certain it says which', () => {
    const words = proofWords(
      { ...whole, proven: false, bestProven: true, differentProven: 1, couldStillWin: 1.02 },
      kitchenInput(),
    );
    expect(words).toContain('Number 2 is not certain');
    expect(words).toContain('at most 2 % better');
  });

  test('large numbers stay readable', () => {
    expect(countWords(999_999)).toBe('999,999');
    expect(countWords(3_400_000)).toBe('3.4 million');
    // 60 to the power of 8 is 1.68e14.
    expect(countWords(60 ** 8)).toBe('168 trillion');
    expect(countWords(200 ** 16)).toBe('more than a thousand trillion');
  });

  test('a budget that cannot be kept says what the cheapest costs, and that this would do', () => {
    const input = kitchenInput();
    const tight = { ...input, limits: { ...input.limits, budget: 1 } };
    const none = found(tight);
    const words = noSchemeWords(none, tight)!;
    expect(words.sentence).toMatch(
      /^No scheme fits the budget: the cheapest costs \d+ EUR, \d+ EUR too much\.$/,
    );
    const { limit, value } = words.enough!;
    expect(limit).toBe('budget');
    const enough = { ...tight, limits: { ...tight.limits, budget: value } };
    expect(found(enough).infeasible).toBeNull();
    const short = { ...tight, limits: { ...tight.limits, budget: value - 1 } };
    expect(found(short).infeasible).not.toBeNull();
    expect(noSchemeWords(whole, input)).toBeNull();
  });

  test('a surface whose candidates are all excluded is named with their reasons', () => {
    const input = kitchenInput();
    const late = {
      ...input,
      places: input.places.map((place) =>
        place.surfaceId === 'walls' ? { ...place, limits: { ...place.limits, maxLeadTimeDays: 0 } } : place,
      ),
    };
    const none = found(late);
    const words = noSchemeWords(none, late)!;
    expect(words.sentence).toBe('No scheme fits: the limits leave no finish for “Walls”.');
    const walls = input.places.find(({ surfaceId }) => surfaceId === 'walls')!;
    expect(words.reasons).toHaveLength(walls.options.length);
    // It is the surface's own limit that is in the way.
    expect(words.enough).toBeNull();
  });

  test('days that cannot be kept say how many would do, and one fewer would not', () => {
    const input = kitchenInput();
    const within = (readyInDays: number) => ({ ...input, limits: { ...input.limits, readyInDays } });
    const { enough } = noSchemeWords(found(within(0)), within(0))!;
    expect(enough!.limit).toBe('readyInDays');
    expect(found(within(enough!.value)).infeasible).toBeNull();
    expect(found(within(enough!.value - 1)).infeasible).not.toBeNull();
  });

  test('no number of days is offered where another limit leaves nothing either', () => {
    const input = kitchenInput();
    const none = {
      ...input,
      limits: { ...input.limits, readyInDays: 0 },
      places: input.places.map((place) =>
        place.surfaceId === 'walls' ? { ...place, limits: { ...place.limits, minLrv: 100 } } : place,
      ),
    };
    expect(noSchemeWords(found(none), none)!.enough).toBeNull();
  });

  test('limits that cannot be kept together are all named', () => {
    const infeasible = {
      ...{ name: 'a and b', limits: ['the budget', 'the share of dark'], place: null, words: '' },
      least: null,
    };
    expect(noSchemeWords({ infeasible, excluded: [] }, kitchenInput())!.sentence).toBe(
      'No scheme keeps the budget and the share of dark together; without any one of these limits there is one.',
    );
  });

  test('the share of dark is said as a share', () => {
    const input = kitchenInput();
    const dark = { ...input, limits: { ...input.limits, darkShare: 0.1 } };
    const infeasible = {
      ...{ name: 'the share of dark', limits: ['the share of dark'], place: null, words: '', least: 0.412 },
    };
    expect(noSchemeWords({ infeasible, excluded: [] }, dark)!.sentence).toBe(
      'No scheme fits: at least 42 % of the room would be dark, and 10 % is the most.',
    );
  });

  test('faults between surfaces that stay are those of every scheme', () => {
    const shared = faultsOfAll(cards);
    for (const card of cards) {
      const keys = card.findings.map(({ key }) => key);
      for (const { key } of shared) expect(keys).toContain(key);
    }
    for (const { about } of shared)
      for (const id of about.surfaces)
        expect(cards[0].parts.find(({ surfaceId }) => surfaceId === id)!.held).toBe(true);
    expect(faultsOfAll([])).toEqual([]);
  });

  test('a scheme says how far it is behind the first', () => {
    const at = (desirability: number) => ({ ...cards[0], desirability });
    expect(standing(at(0.5), at(0.4975))).toBe('as good as the first, 0.5 % less');
    expect(standing(at(0.5), at(0.49999))).toBe('as good as the first');
    expect(standing(at(0.5), at(0.50001))).toBe('as good as the first');
    expect(standing(at(0.5), at(0.48))).toBe('a little behind the first, 4.0 %');
    expect(standing(at(0.5), at(0.4))).toBe('behind the first, 20.0 %');
    expect(standing(at(0.5), at(0.6))).toBe('above the first, but outside its limits');
  });

  test('what sets schemes apart says where the cost is not known', () => {
    const [first, other] = cards;
    expect(apartWords(first, other)).not.toContain('not known');
    const free = { ...other, parts: other.parts.map((part) => ({ ...part, cost: null })) };
    expect(apartWords(first, free)).toMatch(/; cost not known\.$/);
    // Of what is the same in both nothing is asked.
    const same = { ...first, parts: first.parts.map((part) => ({ ...part, cost: null })) };
    expect(apartWords(first, same)).toBe('The same scheme.');
  });

  test('without any weight nothing counts', () => {
    const { weights } = kitchenInput();
    expect(nothingCounts({ weights })).toBeNull();
    const none = Object.fromEntries(Object.keys(weights).map((name) => [name, 0])) as typeof weights;
    expect(nothingCounts({ weights: none })).toMatch(/^Nothing counts: give at least one point/);
    expect(nothingCounts({ weights: { ...none, price: 0.5 } })).toBeNull();
  });

  test('grades are those of Harrington’s scale (1965, from memory): 0.37 is fair, 0.63 good, 0.8 excellent', () => {
    expect([0, 0.19, 0.2, 0.36, 0.37, 0.62, 0.63, 0.79, 0.8, 1].map(gradeWord)).toEqual([
      ...['Poor', 'Poor', 'Weak', 'Weak', 'Fair', 'Fair', 'Good', 'Good', 'Excellent', 'Excellent'],
    ]);
  });

  test('the limits that are set stand in one line', () => {
    const none = { budget: null, readyInDays: null, metals: null, darkShare: null, strongShare: null };
    expect(settingsGist({ limits: none }, 'EUR')).toBe('No limits');
    const some = { ...none, budget: 1500, metals: 1, darkShare: 0.3 };
    expect(settingsGist({ limits: some }, 'EUR')).toBe('At most 1500 EUR, 1 metal, 30 % dark');
  });

  test('a room too large to be searched says what to do', () => {
    const { places } = kitchenInput();
    expect(tooLarge({ places })).toBeNull();
    const [place] = places;
    const many = Array.from({ length: 17 }, (_, i) => ({ ...place, surfaceId: `s${i}` }));
    expect(tooLarge({ places: many })).toContain('at most 16 surfaces, and this room has 17');
    const full = { ...place, options: Array.from({ length: 201 }, () => place.options[0]) };
    expect(tooLarge({ places: [full] })).toContain('201 candidates');
  });
});

describe('what may change', () => {
  const rows = (of: Job, choices: Record<Id, Id> | null = null) =>
    surfaceRows(of, {
      ...{ roomId: 'k', jobId: 'j', asked: schemeInput(of, 'k') },
      card: choices && cardOf(of, choices),
    });
  const row = (list: ReturnType<typeof rows>, id: Id) => list.find(({ surface }) => surface.id === id)!;

  test('open surfaces may change, what is there stays', () => {
    const list = rows(job());
    expect(list.map(({ surface }) => surface.id)).toEqual(['cabinets', 'counter']);
    expect(row(list, 'cabinets')).toMatchObject({
      may: 'change',
      on: null,
      line: 'still to choose',
      mend: null,
    });
    // The candidate without a colour takes no part.
    expect(row(list, 'cabinets').options.map(({ id }) => id)).toEqual(['sage', 'clay']);
    expect(row(list, 'counter')).toMatchObject({ may: 'stays', line: 'granite, there now' });
    expect(row(list, 'counter').mend?.href).toBe('/jobs/j/shortlist/counter');
  });

  test('a scheme says what is on each, and in place of what', () => {
    const list = rows(freed(), { cabinets: 'clay', counter: 'sage' });
    expect(row(list, 'cabinets')).toMatchObject({ line: 'clay', may: 'change' });
    expect(row(list, 'counter')).toMatchObject({
      line: 'sage in place of granite, there now',
      may: 'change',
    });
    const same = rows(freed(), { cabinets: 'clay', counter: 'granite' });
    expect(row(same, 'counter').line).toBe('granite, there now');
  });

  test('a locked surface takes only one', () => {
    const locked = job((made) => {
      made.rooms.k.scheme = { ...DEFAULT_SCHEME, locks: { cabinets: 'clay' } };
    });
    expect(row(rows(locked), 'cabinets')).toMatchObject({ may: 'only', line: 'clay' });
  });

  test('what is missing for a surface is said with where to mend it', () => {
    expect(row(rows(freed()), 'walls')).toMatchObject({
      may: 'none',
      line: 'Nothing is considered for it yet',
      mend: { href: '/jobs/j/shortlist/walls' },
    });
    const colourless = job((made) => {
      made.surfaces.cabinets.candidateIds = { bare: true };
      made.surfaces.counter.swatchId = 'bare';
    });
    expect(row(rows(colourless), 'cabinets')).toMatchObject({
      line: 'Its candidate has no colour yet',
      mend: { href: '/jobs/j/swatches' },
    });
    expect(row(rows(colourless), 'counter')).toMatchObject({
      line: 'bare has no colour yet',
      mend: { href: '/jobs/j/swatches#bare' },
    });
    const unsaid = job((made) => {
      made.surfaces.counter.swatchId = null;
    });
    expect(row(rows(unsaid), 'counter')).toMatchObject({ mend: { href: '/jobs/j' } });
  });

  test('it says where areas come from', () => {
    const asked = schemeInput(job(), 'k');
    expect(areaWords(asked, job())).toBe(
      'The size of “Cabinets” and “Counter” is what is usual; without square metres nothing can be said of their cost.',
    );
    const mixed = { ...asked, areaSources: { cabinets: 'photo', counter: 'usual' } as const };
    expect(areaWords(mixed, job())).toMatch(
      /^The size of “Cabinets” is read off the marked photo, that of “Counter” is what is usual;/,
    );
    const given = job((made) => {
      for (const surface of Object.values(made.surfaces)) surface.area = 5;
    });
    expect(areaWords(schemeInput(given, 'k'), given)).toBeNull();
  });
});

describe('settings of a room', () => {
  test('go into its scheme, and make one where it has none', () => {
    const plain = job();
    const fresh = schemeValues(plain.rooms.k, [[['limits', 'budget'], 900]]);
    const first = applyEdit(plain, setting(plain, 'limit', fresh));
    expect(first.rooms.k.scheme).toEqual({
      ...DEFAULT_SCHEME,
      limits: { ...DEFAULT_SCHEME.limits, budget: 900 },
    });
    expect(DEFAULT_SCHEME.limits.budget).toBeNull();
    const second = applyEdit(
      first,
      setting(first, 'free', schemeValues(first.rooms.k, [[['free', 'counter'], true]])),
    );
    expect(second.rooms.k.scheme).toMatchObject({ limits: { budget: 900 }, free: { counter: true } });
    const third = applyEdit(
      second,
      setting(second, 'hold', schemeValues(second.rooms.k, [[['free', 'counter'], undefined]])),
    );
    expect(parseJob(third).rooms.k.scheme!.free).toEqual({});
  });
});

describe('what becomes of a scheme', () => {
  const apply = (of: Job, values: ReturnType<typeof choosing>['values']) =>
    parseJob(applyEdit(of, setting(of, 'choose', values)));

  test('choosing decides every open surface and replaces what may change, said before', () => {
    const before = freed();
    const { values, replaces } = choosing(before, cardOf(before, { cabinets: 'clay', counter: 'sage' }));
    expect(replaces).toEqual(['sage takes the place of granite on “Counter”, which is there now.']);
    const after = apply(before, values);
    expect(after.surfaces.cabinets).toMatchObject({ state: 'chosen', swatchId: 'clay' });
    expect(after.surfaces.counter).toMatchObject({ state: 'chosen', swatchId: 'sage' });
    // What gave way can come back.
    expect(after.surfaces.counter.candidateIds).toEqual({ sage: true, granite: true });
    expect(after.surfaces.walls).toEqual(before.surfaces.walls);
  });

  test('what is there stays known while something else is to come, and is fixed again when it comes back', () => {
    const before = freed();
    const on = (of: Job, swatchId: Id) => apply(of, puttingOn(of.surfaces.counter, swatchId));
    const swapped = on(before, 'sage');
    expect(swapped.surfaces.counter).toMatchObject({ state: 'chosen', swatchId: 'sage', thereId: 'granite' });
    const again = on(swapped, 'clay');
    expect(again.surfaces.counter).toMatchObject({ state: 'chosen', swatchId: 'clay', thereId: 'granite' });
    const back = on(again, 'granite');
    expect(back.surfaces.counter).toMatchObject({ state: 'fixed', swatchId: 'granite' });
    expect(back.surfaces.counter).not.toHaveProperty('thereId');
    // Nothing is there on an open surface.
    const cabinets = apply(before, puttingOn(before.surfaces.cabinets, 'clay')).surfaces.cabinets;
    expect(cabinets).toMatchObject({ state: 'chosen', swatchId: 'clay' });
    expect(cabinets).not.toHaveProperty('thereId');
    // The photo shows it already.
    expect(triedWith(again, cardOf(again, { cabinets: 'sage', counter: 'granite' }), {})).toEqual({
      cabinets: 'sage',
      counter: null,
    });
  });

  test('what stays is left alone, and a scheme that is chosen sets nothing', () => {
    const before = freed();
    const card = cardOf(before, { cabinets: 'clay', counter: 'granite' });
    const { values, replaces } = choosing(before, card);
    expect(replaces).toEqual([]);
    const after = apply(before, values);
    expect(after.surfaces.counter).toEqual(before.surfaces.counter);
    expect(choosing(after, card).values).toEqual([]);
    expect(decidedChoices(before, schemeInput(before, 'k').input)).toBeNull();
    expect(decidedChoices(after, schemeInput(after, 'k').input)).toEqual(card.choices);
  });

  test('a kept scheme is named after its largest surfaces that may change', () => {
    const of = freed();
    const card = cardOf(of, { cabinets: 'clay', counter: 'sage' });
    const kept = keptScheme(card, { id: 'one', order: 1 });
    expect(kept).toEqual({
      ...{ id: 'one', order: 1, note: '', name: 'clay and sage' },
      choices: { cabinets: 'clay', counter: 'sage' },
    });
    const values = schemeValues(of.rooms.k, [[['kept', 'one'], kept]]);
    expect(parseJob(applyEdit(of, setting(of, 'keep', values))).rooms.k.scheme!.kept).toEqual({ one: kept });
  });

  test('the picture shows what is new, and leaves to the photo what is there now', () => {
    const of = freed();
    const tried = { counter: 'clay', elsewhere: null };
    expect(triedWith(of, cardOf(of, { cabinets: 'clay', counter: 'granite' }), tried)).toEqual({
      cabinets: 'clay',
      elsewhere: null,
    });
    expect(triedWith(of, cardOf(of, { cabinets: 'clay', counter: 'sage' }), {})).toEqual({
      cabinets: 'clay',
      counter: 'sage',
    });
  });

  test('schemes are told apart by what is on each surface, in any order', () => {
    expect(schemeKey({ a: '1', b: '2' })).toBe(schemeKey({ b: '2', a: '1' }));
    expect(schemeKey({ a: '1', b: '2' })).not.toBe(schemeKey({ a: '2', b: '1' }));
  });
});

describe('how a scheme is drawn', () => {
  test('parts go by area, sum to one and are never too thin to be seen', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.001, max: 1, noNaN: true }), { minLength: 1, maxLength: 12 }),
        (sizes) => {
          const sum = sizes.reduce((a, b) => a + b, 0);
          const shares = sizes.map((size) => size / sum);
          const drawn = drawnShares(shares);
          expect(drawn.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 9);
          drawn.forEach((part, i) => {
            expect(part).toBeGreaterThan(0.015);
            drawn.forEach((other, j) => shares[i] > shares[j] && expect(part).toBeGreaterThanOrEqual(other));
          });
        },
      ),
    );
    expect(drawnShares([0.6, 0.4])).toEqual([0.6, 0.4]);
  });

  test('only a photo of the room with marks says how large surfaces look', () => {
    expect(markedPhoto(job(), 'k')).toBeNull();
  });
});
