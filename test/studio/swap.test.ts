import { rankOn, swapReport, type RankedOn, type Repair, type SchemeFinding } from '#lib/finish/index.ts';
import {
  applyEdit,
  DEFAULT_SCHEME,
  parseJob,
  setting,
  undone,
  recorded,
  EMPTY_HISTORY,
  type Job,
} from '#lib/job/index.ts';
import { describe, expect, test } from 'vitest';
import {
  aboutWords,
  beforeWords,
  changeKind,
  considerable,
  faultWords,
  firstToSwap,
  isNewFault,
  judgedWith,
  provenWords,
  repairCost,
  repairDays,
  speaks,
  swapGround,
  swapInput,
  swapping,
  toBuyWords,
  wholeWords,
  withItWords,
} from '../../src/lib/studio/swap-words.ts';
import { kitchen } from '../job/kitchen.ts';

/** The kitchen with two slabs that could take the granite's place, a budget, and walls that may change. */
function job(change: (job: Job) => void = () => {}): Job {
  const made = kitchen();
  const { granite, sage } = made.swatches;
  made.swatches.granite = {
    ...granite,
    name: 'Heron granite',
    price: { amount: 300, currency: 'EUR', unit: 'm2' },
    leadTimeDays: 40,
  };
  const slab = (id: string, name: string, L: number, b: number) => {
    made.swatches[id] = {
      ...made.swatches.granite,
      id,
      order: Object.keys(made.swatches).length + 1,
      name,
      price: { amount: 250, currency: 'EUR', unit: 'm2' },
      leadTimeDays: 10,
      samples: {
        s1: {
          ...granite.samples.s1,
          from: null,
          colours: [{ ...granite.samples.s1.colours[0], lab: { L, a: 0, b }, share: 1 }],
        },
      },
    };
  };
  slab('pale', 'Pale slab', 82, 4);
  slab('dark', 'Dark slab', 30, 2);
  made.swatches.white = { ...sage, id: 'white', order: 20, name: 'white' };
  made.swatches.white.samples = {
    s1: {
      ...sage.samples.s1,
      colours: [{ ...sage.samples.s1.colours[0], lab: { L: 92, a: 0, b: 5 } }],
    },
  };
  made.surfaces.counter = { ...made.surfaces.counter, area: 4, candidateIds: { pale: true, dark: true } };
  made.surfaces.walls = {
    ...made.surfaces.counter,
    id: 'walls',
    order: 3,
    name: 'Walls',
    kind: 'walls',
    swatchId: 'white',
    area: 20,
    candidateIds: { clay: true },
  };
  made.rooms.k.scheme = {
    ...DEFAULT_SCHEME,
    limits: { ...DEFAULT_SCHEME.limits, budget: 500 },
    free: { walls: true },
  };
  change(made);
  return parseJob(made);
}

const CHOICES = { cabinets: 'sage', counter: 'granite', walls: 'white' };

function asked(made: Job, to = 'pale') {
  const ground = swapGround(made, 'k', { choices: CHOICES });
  return { ground, report: swapReport(ground.input, { surfaceId: 'counter', to }) };
}

const finding = (severity: SchemeFinding['severity'], number: string): SchemeFinding => ({
  rule: 'Undertones',
  key: 'Undertones counter walls',
  severity,
  sentence: `Found ${number}.`,
  number,
  about: { surfaces: ['counter', 'walls'], light: null, criterion: 'undertone' },
});

describe('what is asked about swaps', () => {
  test('every surface has a finish, and those that are decided can be swapped', () => {
    const { input, surfaces, missing, problem } = swapGround(job(), 'k', { choices: CHOICES });
    expect(input.places.map(({ surfaceId, current }) => [surfaceId, current])).toEqual([
      ['cabinets', 'sage'],
      ['counter', 'granite'],
      ['walls', 'white'],
    ]);
    expect(surfaces.map(({ id }) => id)).toEqual(['counter', 'walls']);
    expect([missing, problem]).toEqual([[], null]);
  });

  test('an open surface without a finish is left out with all its meetings, and the rest is still judged', () => {
    const made = job();
    const ground = swapGround(made, 'k', { choices: {} });
    expect(ground.input.places.map(({ surfaceId }) => surfaceId)).toEqual(['counter', 'walls']);
    expect(ground.input.meetings).not.toEqual([]);
    for (const { a, b } of ground.input.meetings) expect([a, b]).not.toContain('cabinets');
    expect(ground.missing).toEqual(['“Cabinets” is open and has no finish in a scheme yet.']);
    expect(
      rankOn(ground.input, 'counter')
        .map(({ optionId }) => optionId)
        .sort(),
    ).toEqual(['dark', 'granite', 'pale']);
  });

  test('a decided surface, freed or not, has what is on it, whatever the scheme would put there', () => {
    const made = job();
    const scheme = { cabinets: 'clay', counter: 'dark', walls: 'clay' };
    for (const free of [{}, { walls: true, counter: true }] as Record<string, true>[]) {
      made.rooms.k.scheme!.free = free;
      const { input } = swapGround(made, 'k', { choices: scheme });
      expect(input.places.map(({ current }) => current)).toEqual(['clay', 'granite', 'white']);
      expect(judgedWith(input)).toBe('Judged with clay on Cabinets, which is still open.');
    }
    made.surfaces.cabinets = { ...made.surfaces.cabinets, state: 'chosen', swatchId: 'sage' };
    expect(judgedWith(swapGround(made, 'k', { choices: scheme }).input)).toBe(
      'Judged with what is there or chosen on every other surface.',
    );
  });

  test('without any weight there is nothing to judge by', () => {
    const made = job(({ rooms }) => {
      for (const name of Object.keys(rooms.k.scheme!.weights) as (keyof typeof DEFAULT_SCHEME.weights)[])
        rooms.k.scheme!.weights = { ...rooms.k.scheme!.weights, [name]: 0 };
    });
    expect(swapGround(made, 'k', { choices: CHOICES }).problem).toMatch(/^Nothing counts/);
  });

  test('a surface without any colour is said', () => {
    const bare = job(({ surfaces }) => {
      surfaces.cabinets.candidateIds = { bare: true };
      surfaces.walls.swatchId = 'bare';
      surfaces.walls.candidateIds = {};
    });
    expect(swapGround(bare, 'k', { choices: CHOICES }).missing).toEqual([
      '“Cabinets” is open and has no candidate with a colour.',
      '“Walls” has no finish with a colour.',
    ]);
  });

  test('begins where there is something to choose from', () => {
    expect(firstToSwap(swapGround(job(), 'k', { choices: CHOICES }))).toBe('counter');
    const alone = job(({ surfaces }) => void (surfaces.counter.candidateIds = {}));
    expect(firstToSwap(swapGround(alone, 'k', { choices: CHOICES }))).toBe('walls');
    const open = job(({ surfaces }) => {
      surfaces.counter.state = 'open';
      surfaces.walls.state = 'open';
    });
    expect(firstToSwap(swapGround(open, 'k', { choices: CHOICES }))).toBeNull();
  });

  test('what could be considered is of one kind and not what is there', () => {
    const made = job();
    const stones = considerable(made, made.surfaces.counter, 'stone');
    expect(stones.map(({ swatch, considered }) => [swatch.id, considered])).toEqual([
      ['pale', true],
      ['dark', true],
    ]);
    const paints = considerable(made, made.surfaces.counter, 'paint');
    expect(paints.filter(({ coloured }) => !coloured).map(({ swatch }) => swatch.id)).toEqual(['bare']);
  });
});

describe('what speaks for a finish and against it', () => {
  const line = (criterion: 'nearness' | 'price' | 'steadiness', desirability: number) => ({
    ...{ criterion, desirability, weight: 1, value: 0, assumed: 0 },
    sentence: `About ${criterion}.`,
    number: `number of ${criterion}`,
    about: { surfaces: ['counter'], light: null, criterion },
  });
  const ranked = (optionId: string, near: number, steady: number, price: number, over = {}) =>
    ({
      ...{ optionId, optionName: optionId, excluded: null, broken: [], better: [], faults: [] },
      reasons: [line('nearness', near), line('steadiness', steady), line('price', price)],
      cost: { before: 100, after: 80, change: -20 },
      card: { cost: { currency: 'EUR' } },
      ...over,
    }) as unknown as RankedOn;

  test('is what lifts it most above the others, with the sentence where it says the same', () => {
    const a = ranked('a', 0.5, 0.9, 0.9);
    const all = [a, ranked('b', 0.1, 0.95, 0.9), ranked('c', 0.2, 0.95, 0.9)];
    // Near, but not good: the sentence would speak against it.
    expect(speaks(a, all).pro).toEqual({
      words: 'Comes closer to its aim than both others.',
      number: 'number of nearness',
    });
    expect(speaks(all[1], all).con).toEqual({
      words: 'Is further from its aim than both others: About nearness.',
      number: 'number of nearness',
    });
    const steady = [ranked('a', 0.5, 0.95, 0.9), ranked('b', 0.5, 0.2, 0.9)];
    expect(speaks(steady[0], steady).pro!.words).toBe(
      'Holds its colour better than the other one: About steadiness.',
    );
  });

  test('does not let what is worst about a finish speak for it', () => {
    const meeting = (desirability: number) => ({ ...line('nearness', desirability), criterion: 'undertone' });
    const all = [0.95, 0.3].map((value, i) => ranked(`${i}`, 0, 0, 0, { reasons: [meeting(value)] }));
    expect(speaks(all[0], all).pro).toEqual({
      words: 'Its undertone fits the rest better than the other one.',
      number: '',
    });
    expect(speaks(all[1], all).con).toEqual({
      words: 'Its undertone fits the rest less well than the other one: About nearness.',
      number: 'number of nearness',
    });
  });

  test('of money tells the price of the finish itself', () => {
    const all = [ranked('a', 0.5, 0.9, 0.9), ranked('b', 0.5, 0.9, 0.3)];
    expect(speaks(all[1], all).con).toEqual({ words: 'Costs more than the other one.', number: '80 EUR' });
  });

  test('is nothing among equals', () => {
    const all = [ranked('a', 0.5, 0.9, 0.9), ranked('b', 0.5, 0.9, 0.9)];
    expect(speaks(all[0], all)).toEqual({ pro: null, con: null, newFaults: 0 });
  });

  test('puts a limit before a fault, and a fault before a criterion', () => {
    const fault = { ...finding('fault', '100 degrees'), was: finding('note', '50 degrees') };
    const broken = [{ ...fault, now: finding('fault', '100 degrees') }];
    const all = [ranked('a', 0.1, 0.9, 0.9, { broken }), ranked('b', 0.9, 0.9, 0.9)];
    expect(speaks(all[0], all)).toMatchObject({ con: { number: '100 degrees' }, newFaults: 1 });
    const late = ranked('a', 0.1, 0.9, 0.9, { broken, excluded: 'Too late.' });
    expect(speaks(late, [late, all[1]]).con).toEqual({ words: 'Too late.', number: '' });
  });
});

describe('words of a swap', () => {
  const [note, fault, good] = [
    finding('note', '5 points'),
    finding('fault', '4 points'),
    finding('good', '9 degrees'),
  ];

  test('tell a new fault from one that grows, shrinks or goes', () => {
    expect([isNewFault({ was: note, now: fault }), isNewFault({ was: null, now: fault })]).toEqual([
      true,
      true,
    ]);
    expect([isNewFault({ was: fault, now: fault }), isNewFault({ was: fault, now: null })]).toEqual([
      false,
      false,
    ]);
    expect(changeKind({ was: note, now: fault }, 'worse')).toBe('New fault');
    expect(changeKind({ was: fault, now: fault }, 'worse')).toBe('The fault grows');
    expect(changeKind({ was: null, now: note }, 'worse')).toBe('Worth knowing');
    expect(changeKind({ was: fault, now: fault }, 'better')).toBe('Still a fault, a smaller one');
    expect(changeKind({ was: fault, now: null }, 'better')).toBe('A fault less');
    expect(changeKind({ was: note, now: good }, 'better')).toBe('Better');
  });

  test('say how it was: the number alone where it is of the same sort', () => {
    expect(beforeWords({ was: note, now: fault })).toBe('Before: a remark, 5 points.');
    expect(beforeWords({ was: good, now: fault })).toBe('Before: Found 9 degrees. 9 degrees');
    expect(beforeWords({ was: null, now: fault })).toBe('');
    expect(beforeWords({ was: fault, now: null })).toBe('');
  });

  test('count faults', () => {
    expect([0, 1, 2].map(faultWords)).toEqual(['No new fault.', 'One new fault.', '2 new faults.']);
  });

  test('name the finishes a sentence is about, and where the room stands', () => {
    const { report } = asked(job());
    expect(aboutWords({ about: fault.about }, report.after)).toBe('Pale slab on “Counter”, white on “Walls”');
    expect(aboutWords({ about: fault.about }, report.before)).toMatch(/^Heron granite on “Counter”/);
    const at = (desirability: number) => ({ ...report.before, desirability });
    expect(wholeWords({ before: at(0.4), after: at(0.5) })).toBe(
      'The room as a whole rises from 40 to 50 of 100.',
    );
    expect(wholeWords({ before: at(0.5), after: at(0.4) })).toBe(
      'The room as a whole falls from 50 to 40 of 100.',
    );
    expect(wholeWords({ before: at(0.401), after: at(0.402) })).toBe(
      'The room as a whole stays at 40 of 100.',
    );
    expect(wholeWords({ before: at(0.4), after: at(0.4) }, toBuyWords('Counter'))).toBe(
      'The room as a whole stays at 40 of 100, with the counter still to be bought.',
    );
    expect(toBuyWords('TV wall')).toBe('with “TV wall” still to be bought');
    expect(withItWords({ card: at(0.4) }, { after: at(0.5) })).toMatch(
      /at 40 of 100; with the swap alone.* at 50\.$/,
    );
    expect(withItWords({ card: at(0.6) }, { after: at(0.5) })).toBe(
      'With these changes the room is at 60 of 100.',
    );
  });

  test('say what changes cost and when they come, or what is missing', () => {
    const { report } = asked(job());
    const repair = (over: Partial<Repair>): Repair => ({ ...report.repair, card: report.after, ...over });
    expect(repairCost(repair({ cost: -200 }), report.before)).toBe(
      'With the swap it costs 200 EUR less than now.',
    );
    expect(repairCost(repair({ cost: 0 }), report.before)).toBe('It costs the same as now.');
    expect(repairDays(repair({ days: 1 }), report.before)).toBe(
      'The last finish is here a day later than now.',
    );
    expect(repairDays(repair({ days: 0 }), report.before)).toBe('The last finish is here as soon as now.');
    const unknown = {
      ...report.after,
      parts: report.after.parts.map((part) =>
        part.surfaceId === 'counter' ? { ...part, cost: null, days: null } : part,
      ),
    };
    expect(repairCost(repair({ cost: null, card: unknown }), report.before)).toBe(
      'What it costs is not known: a price or a size is missing for “Counter”.',
    );
    expect(repairDays(repair({ days: null, card: unknown }), report.before)).toBe(
      'When it is all here is not known: a lead time is missing for “Counter”.',
    );
  });

  test('claim the least set only where it was proven', () => {
    const changes = asked(job()).report.repair.changes;
    expect(provenWords({ proven: false, whole: true, changes })).toMatch(/cut short/);
    expect(provenWords({ proven: true, whole: true, changes: [{} as (typeof changes)[0]] })).toMatch(
      /none is enough/,
    );
  });
});

describe('a swap made', () => {
  test('is one edit that can be undone: the finish changes, the old one stays a candidate', () => {
    const made = job();
    const { ground, report } = asked(made);
    const { label, values } = swapping(made, made.rooms.k, { report, input: ground.input });
    expect(label).toBe('swap to “Pale slab” on “Counter”');
    const edit = setting(made, label, values);
    const after = parseJob(applyEdit(made, edit));
    expect(after.surfaces.counter).toMatchObject({ state: 'chosen', swatchId: 'pale' });
    expect(after.surfaces.counter.candidateIds).toEqual({ pale: true, dark: true, granite: true });
    expect(after.surfaces.walls).toEqual(made.surfaces.walls);
    const step = undone(recorded(EMPTY_HISTORY, edit));
    expect(applyEdit(after, step!.edit)).toEqual(made);
  });

  test('leaves the budget what it was for: the rest', () => {
    const made = job();
    const { ground, report } = asked(made);
    const { values, notes } = swapping(made, made.rooms.k, { report, input: ground.input });
    const after = applyEdit(made, setting(made, 'swap', values));
    const granite = ground.input.places
      .find(({ surfaceId }) => surfaceId === 'counter')!
      .options.find(({ id }) => id === 'granite')!;
    // What is left for the rest once the granite, or what it cost, is paid stays the same.
    expect(after.rooms.k.scheme!.limits.budget! - granite.cost!).toBeCloseTo(500, 6);
    expect(notes.join(' ')).toContain('The budget of 500 EUR was for the rest');
    // What was chosen, not there, was in the budget already.
    const chosen = job(({ surfaces }) => void (surfaces.counter.state = 'chosen'));
    const its = asked(chosen);
    const second = swapping(chosen, chosen.rooms.k, { report: its.report, input: its.ground.input });
    expect(second.values.filter(([path]) => path.includes('budget'))).toEqual([]);
    expect(second.notes).toEqual([]);
  });

  test('keeps what is there in mind: a second swap lets the budget be, and what comes back is fixed', () => {
    const made = job();
    const put = (of: Job, to: string) => {
      const { input } = swapGround(of, 'k', { choices: CHOICES });
      const its = swapInput(input, 'counter');
      const report = swapReport(its, { surfaceId: 'counter', to });
      const { label, values, notes } = swapping(of, of.rooms.k, { report, input: its });
      return { of: parseJob(applyEdit(of, setting(of, label, values))), notes, report };
    };
    const first = put(made, 'pale');
    expect(first.of.surfaces.counter).toMatchObject({
      state: 'chosen',
      swatchId: 'pale',
      thereId: 'granite',
    });
    const second = put(first.of, 'dark');
    expect(second.of.rooms.k.scheme!.limits).toEqual(first.of.rooms.k.scheme!.limits);
    expect(second.notes).toEqual([]);
    // What was promised of the room is what is judged from now on.
    expect(second.report.before.desirability).toBeCloseTo(first.report.after.desirability, 9);
    const back = put(second.of, 'granite');
    expect(back.of.surfaces.counter).toMatchObject({ state: 'fixed', swatchId: 'granite' });
    expect(back.of.surfaces.counter).not.toHaveProperty('thereId');
    expect(back.notes).toEqual(['Heron granite is there still: nothing of it has to be bought.']);
  });

  test('takes other changes into the same edit, and no search undoes them', () => {
    const made = job();
    const { ground, report } = asked(made);
    const changes = [
      {
        surfaceId: 'walls',
        surfaceName: 'Walls',
        from: 'white',
        fromName: 'white',
        to: 'clay',
        toName: 'clay',
      },
      {
        surfaceId: 'cabinets',
        surfaceName: 'Cabinets',
        from: 'sage',
        fromName: 'sage',
        to: 'clay',
        toName: 'clay',
      },
    ];
    const swap = swapping(made, made.rooms.k, { report, input: ground.input, changes });
    const after = parseJob(applyEdit(made, setting(made, swap.label, swap.values)));
    expect(swap.label).toBe('swap to “Pale slab” on “Counter”, and 2 more');
    expect(after.surfaces.walls).toMatchObject({ state: 'chosen', swatchId: 'clay' });
    expect(after.surfaces.walls.candidateIds).toEqual({ clay: true, white: true });
    expect(after.surfaces.cabinets).toMatchObject({ state: 'chosen', swatchId: 'clay' });
    expect(after.rooms.k.scheme!.free).toEqual({});
    expect(swap.notes.join(' ')).toContain('leaves “Walls” alone');
  });
});
