import { pairingReport, type FinishInput, type PairingReport } from '#lib/finish/index.ts';
import { schemeInput } from '#lib/job/index.ts';
import { describe, expect, test } from 'vitest';
import {
  cellBeside,
  covered,
  KnownPairs,
  pairGist,
  pairQuestion,
  tableFinishes,
  tablePairs,
  tableWords,
  worstFirst,
  type JudgedPair,
  type PairQuestion,
  type TableFinish,
} from '../../src/lib/studio/pair-table.ts';
import { kitchen } from '../job/kitchen.ts';

type Colour = readonly [L: number, a: number, b: number];

/** Known well enough that nothing could also be otherwise. */
const SURE = [0.001, 0, 0, 0, 0.001, 0, 0, 0, 0.001];

function plain(id: string, [L, a, b]: Colour): FinishInput {
  return { id, name: id, colours: [{ estimate: { lab: { L, a, b }, covariance: SURE }, share: 1 }] };
}

function on(surfaceId: string, colour: Colour | null, busyness: number | null = 0): TableFinish {
  const finish = colour && plain(`${surfaceId} finish`, colour);
  return { surfaceId, surfaceName: surfaceId, state: 'fixed', finish, busyness, title: finish?.name ?? '' };
}

const GREYS = ['floor', 'walls', 'trim', 'counter'].map((id, i) => on(id, [30 + 20 * i, 0, 0]));

function judgedOf(
  finishes: readonly TableFinish[],
  meetings: Parameters<typeof tablePairs>[1],
): JudgedPair[] {
  return tablePairs(finishes, meetings).map((pair) => {
    const report = answer(pairQuestion([pair], []))[0];
    return { pair, report, gist: pairGist(report) };
  });
}

function answer({ finishes, pairs, lights }: PairQuestion): PairingReport[] {
  return pairs.map(([first, second, mustBeSeen]) =>
    pairingReport(finishes[first], finishes[second], { lights, mustBeSeen }),
  );
}

const gistOf = (first: TableFinish, second: TableFinish, mustBeSeen = false) =>
  judgedOf([first, second], [{ a: first.surfaceId, b: second.surfaceId, contact: 1, mustBeSeen }])[0].gist;

describe('what is on the surfaces of a room', () => {
  test('a scheme’s choice comes before what is decided; an open surface without one has nothing', () => {
    const job = kitchen();
    const { input } = schemeInput(job, 'k');
    const before = tableFinishes(job, input, { roomId: 'k', choices: {} });
    expect(before.map(({ surfaceId, finish }) => [surfaceId, finish?.id ?? null])).toEqual([
      ['cabinets', null],
      ['counter', 'granite'],
    ]);
    const [cabinets] = tableFinishes(job, input, { roomId: 'k', choices: { cabinets: 'sage' } });
    expect(cabinets).toMatchObject({ finish: { id: 'sage' }, title: 'sage', state: 'open', busyness: 0 });
  });

  test('a finish in the place of one that is fixed is a change', () => {
    const job = kitchen();
    const { input } = schemeInput(job, 'k');
    const state = (counter: string) =>
      tableFinishes(job, input, { roomId: 'k', choices: { counter } }).at(1)?.state;
    expect(state('granite')).toBe('fixed');
    expect(state('clay')).toBe('changed');
  });

  test('a swatch without a colour, or one that is gone, leaves the surface without a finish', () => {
    const job = kitchen();
    const { input } = schemeInput(job, 'k');
    for (const cabinets of ['bare', 'sold']) {
      const finishes = tableFinishes(job, input, { roomId: 'k', choices: { cabinets } });
      expect(covered(finishes).map(({ surfaceId }) => surfaceId)).toEqual(['counter']);
    }
  });
});

describe('pairs of a table', () => {
  test('are every two surfaces with a finish, once, row by row', () => {
    const pairs = tablePairs([...GREYS, on('bare', null)], []);
    expect(pairs.map(({ column, row }) => [column.surfaceId, row.surfaceId])).toEqual([
      ['floor', 'walls'],
      ['floor', 'trim'],
      ['walls', 'trim'],
      ['floor', 'counter'],
      ['walls', 'counter'],
      ['trim', 'counter'],
    ]);
    expect(new Set(pairs.map(({ key }) => key)).size).toBe(6);
  });

  test('meet where they touch, or where their edge must be seen; any other is only seen together', () => {
    const pairs = tablePairs(GREYS, [
      { a: 'walls', b: 'trim', contact: 1, mustBeSeen: false },
      { a: 'trim', b: 'counter', contact: 0.2, mustBeSeen: false },
      { a: 'counter', b: 'floor', contact: 0.4, mustBeSeen: true },
    ]);
    const meeting = pairs
      .filter(({ meets }) => meets)
      .map(({ column, row }) => [column.surfaceId, row.surfaceId]);
    expect(meeting).toEqual([
      ['walls', 'trim'],
      ['floor', 'counter'],
    ]);
  });

  test('are asked with each finish once, the earlier surface first', () => {
    const { finishes, pairs } = pairQuestion(tablePairs(GREYS.slice(0, 3), []), []);
    expect(finishes.map(({ surfaceName }) => surfaceName)).toEqual(['floor', 'walls', 'trim']);
    expect(pairs).toEqual([
      [0, 1, false],
      [0, 2, false],
      [1, 2, false],
    ]);
  });
});

describe('reports that are known', () => {
  const LAMP = { id: 'lamp', name: 'Lamp', spectrum: new Array<number>(81).fill(1), illuminance: 100 };

  test('are not asked again: another finish on one surface asks for its pairs alone', async () => {
    const asked: number[] = [];
    const known = new KnownPairs((question) => {
      asked.push(question.pairs.length);
      return Promise.resolve(answer(question));
    });
    const first = await known.reports(tablePairs(GREYS, []), []);
    expect([...first.keys()]).toHaveLength(6);
    await known.reports(tablePairs(GREYS, []), []);
    const changed = GREYS.map((one) => (one.surfaceId === 'trim' ? on('trim', [92, 0, 4]) : one));
    const second = await known.reports(tablePairs(changed, []), []);
    expect(asked).toEqual([6, 3]);
    const key = 'floor walls';
    expect(second.get(key)).toEqual(first.get(key));
    expect(second.get('floor trim')?.identity).not.toBe(first.get('floor trim')?.identity);
  });

  test('are forgotten with other lights', async () => {
    const asked: number[] = [];
    const known = new KnownPairs((question) => {
      asked.push(question.pairs.length);
      return Promise.resolve(answer(question));
    });
    const pairs = tablePairs(GREYS, []);
    await known.reports(pairs, []);
    const under = await known.reports(pairs, [LAMP]);
    expect(asked).toEqual([6, 6]);
    for (const { report } of under.values())
      expect(report.perLight.map(({ lightId }) => lightId)).toEqual(['lamp']);
  });
});

describe('the words of a cell', () => {
  test('a near miss is its own fault and is said once', () => {
    const gist = gistOf(on('a', [60, 0, 0]), on('b', [63.5, 0, 0]));
    expect(gist).toEqual({ kind: 'near miss', severity: 'fault', kindIsFault: true, said: [], edge: null });
  });

  // Y of a grey from its L*, CIE 15:2018: 100 ((L* + 16) / 116)³; 18.42 for 50, 28.12 for 60, 76.30 for 90.
  test('an edge that must be seen has its points of light reflectance, faint or not', () => {
    expect(gistOf(on('a', [50, 0, 0]), on('b', [60, 0, 0]), true).said).toEqual(['faint edge, 9.7 points']);
    const clear = gistOf(on('a', [50, 0, 0]), on('b', [90, 0, 0]), true);
    expect(clear).toMatchObject({ severity: 'good', said: [], edge: 'edge 57.9 points' });
    expect(gistOf(on('a', [50, 0, 0]), on('b', [60, 0, 0]))).toMatchObject({ said: [], edge: null });
  });

  test('what is wrong besides the kind is named', () => {
    const two = gistOf(on('a', [30, 0, 0], 25), on('b', [80, 0, 0], 25));
    expect(two).toMatchObject({ severity: 'fault', kindIsFault: false, said: ['both busy'] });
    // A pinkish beside a greenish beige.
    const tinted = gistOf(on('a', [75, 6, 3]), on('b', [62, -5, 5]));
    expect(tinted.said).toContain('undertones clash');
  });
});

describe('the order of a list', () => {
  const meetings = [
    { a: 'floor', b: 'walls', contact: 1, mustBeSeen: false },
    { a: 'walls', b: 'trim', contact: 1, mustBeSeen: false },
    { a: 'trim', b: 'counter', contact: 1, mustBeSeen: false },
  ];
  const finishes = [
    on('floor', [40, 0, 0]),
    on('walls', [43, 0, 0]),
    on('trim', [80, 0, 0]),
    on('counter', [30, 0, 0]),
  ];

  test('is by severity, and within it by how bad the pairing is', () => {
    const ordered = worstFirst(judgedOf(finishes, meetings));
    const weights = ordered.map(({ gist }) => ['fault', 'note', 'good'].indexOf(gist.severity));
    expect(weights).toEqual(weights.toSorted());
    expect(ordered[0].pair.key).toBe('floor walls');
    for (const [i, { gist, report }] of ordered.slice(1).entries())
      if (gist.severity === ordered[i].gist.severity)
        expect(report.worst.desirability).toBeGreaterThanOrEqual(ordered[i].report.worst.desirability);
  });

  test('and the sentence above it counts pairs that meet, and no others', () => {
    const all = judgedOf(finishes, meetings);
    expect(all).toHaveLength(6);
    expect(tableWords(all)).toBe('Of 3 pairs that meet, 1 has a fault and 2 sit well together.');
    expect(tableWords(judgedOf(finishes, []))).toBe('No two of these finishes meet.');
  });
});

describe('arrow keys in a triangle', () => {
  const ROWS = 7;
  const cells = Array.from({ length: ROWS }, (_, row) => row).flatMap((row) =>
    Array.from({ length: row }, (_, column) => ({ row, column })),
  );
  const KEYS = ['ArrowUp', 'ArrowDown', 'ArrowLeft', 'ArrowRight', 'Home', 'End'];

  test('never leave it, and reach every cell from the first', () => {
    const reached = new Set(['1 0']);
    const open = [{ row: 1, column: 0 }];
    for (let cell = open.pop(); cell; cell = open.pop()) {
      for (const key of KEYS) {
        const next = cellBeside(cell, key, ROWS)!;
        expect(next.row).toBeLessThan(ROWS);
        expect(next.column).toBeGreaterThanOrEqual(0);
        expect(next.column).toBeLessThan(next.row);
        const name = `${next.row} ${next.column}`;
        if (!reached.has(name)) open.push(next);
        reached.add(name);
      }
    }
    expect(reached.size).toBe(cells.length);
  });

  test('stand still at an edge, and other keys do nothing', () => {
    expect(cellBeside({ row: 3, column: 2 }, 'ArrowUp', ROWS)).toEqual({ row: 3, column: 2 });
    expect(cellBeside({ row: 3, column: 2 }, 'ArrowRight', ROWS)).toEqual({ row: 3, column: 2 });
    expect(cellBeside({ row: 3, column: 2 }, 'Tab', ROWS)).toBeNull();
  });
});
