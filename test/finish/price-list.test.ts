import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { priceListReport, readPriceList } from '#lib/finish/index.ts';
import type { PricedFinish } from '#lib/finish/index.ts';

const finish = (given: Partial<PricedFinish>): PricedFinish => ({
  id: 'f',
  maker: 'Ternhollow',
  code: 'T-214',
  name: 'Fern',
  price: { amount: 48.5, currency: 'EUR', unit: 'l' },
  packs: [],
  leadTimeDays: 5,
  ...given,
});
const report = (text: string, finishes: PricedFinish[]) =>
  priceListReport(readPriceList(text).rows, finishes, { currency: 'EUR' });

describe('a price list', () => {
  test('is read with any delimiter, decimal comma, and prices whose unit stands in the header', () => {
    const { rows, problems } = readPriceList(
      'Brand;Article number;Price (EUR/l);Lead time (weeks)\nTernhollow;T 214;52,00;2\nOddmoor;7;1.234,50 USD per m2;in stock\n',
    );
    expect(problems).toEqual([]);
    expect(rows).toEqual([
      {
        line: 2,
        maker: 'Ternhollow',
        code: 'T 214',
        name: '',
        price: { amount: 52, currency: 'EUR', unit: 'l' },
        leadTimeDays: 14,
      },
      {
        line: 3,
        maker: 'Oddmoor',
        code: '7',
        name: '',
        price: { amount: 1234.5, currency: 'USD', unit: 'm²' },
        leadTimeDays: 0,
      },
    ]);
  });

  test('bad rows and cells are named by their line, the rest is kept', () => {
    const { rows, problems } = readPriceList(
      'maker,code,price,lead time\nTernhollow,T1,ask us,5\nTernhollow,,12,\nTernhollow,T2,,\nTernhollow,T3,-4,soon\nTernhollow,T4,"12,5',
    );
    expect(rows).toEqual([
      { line: 2, maker: 'Ternhollow', code: 'T1', name: '', price: null, leadTimeDays: 5 },
    ]);
    expect(problems.map(({ line, kept }) => [line, kept])).toEqual([
      [2, true],
      [3, false],
      [4, false],
      [5, false],
      [5, false],
      [5, false],
      [6, false],
    ]);
  });

  test('says what it lacks', () => {
    expect(readPriceList('').problems[0].reason).toContain('empty');
    expect(readPriceList('colour,price\nred,5').problems[0].reason).toContain('code or a name');
    expect(readPriceList('code,name\nT1,Fern').problems[0].reason).toContain('price or a lead time');
  });
});

describe('what a price list changes', () => {
  test('a finish is found by maker and code however they are written, and told what was and what is', () => {
    const { changes, words } = report('maker,code,price,unit,lead time\nTERNHOLLOW,t 214,52,l,7', [
      finish({}),
    ]);
    expect(changes).toMatchObject([
      { finishId: 'f', line: 2, matchedBy: 'maker and code', leadTimeDays: { was: 5, is: 7 } },
    ]);
    expect(changes[0].price).toEqual({
      was: { amount: 48.5, currency: 'EUR', unit: 'l' },
      is: { amount: 52, currency: 'EUR', unit: 'l' },
    });
    expect(changes[0].words).toBe(
      'Ternhollow T-214 Fern: price was 48.50 EUR/l, is 52 EUR/l; lead time was 5 days, is 7 days (line 2, by maker and code).',
    );
    expect(words).toBe('1 changed.');
  });

  test('by name where there is no code; another maker’s code is another finish', () => {
    const found = report('name,price\nfern,60', [finish({})]);
    expect(found.changes).toMatchObject([{ matchedBy: 'name' }]);
    const other = report('maker,code,name,price\nOddmoor,T-214,Fern,60\nTernhollow,T-999,Fern,60', [
      finish({}),
    ]);
    expect(other.changes).toEqual([]);
    expect(other.notFound.map(({ row }) => row.line)).toEqual([2, 3]);
    expect(other.missing).toEqual(['f']);
  });

  test('what fits several, or stands twice, changes nothing by itself', () => {
    const two = [finish({ id: 'a' }), finish({ id: 'b', name: 'Fern in oil' })];
    const result = report('code,price\nT-214,50', two);
    expect(result.changes).toEqual([]);
    expect(result.unclear).toMatchObject([{ finishIds: ['a', 'b'] }]);
    expect(report('code,name,price\nT-214,Fern in oil,50', two).changes).toMatchObject([{ finishId: 'b' }]);
    const twice = report('code,price\nT-214,50\nT-214,55', [finish({})]);
    expect(twice.changes).toMatchObject([{ line: 2 }]);
    expect(twice.unclear[0].words).toBe('Line 3: T-214 stands on line 2 already; that line is used.');
  });

  test('several cans of one finish each have their row', () => {
    const pack = (size: number, price: number | null) => ({
      name: `can of ${size} l`,
      size,
      unit: 'l' as const,
      price,
      discounts: [],
    });
    const sold = finish({ price: null, packs: [pack(1, 30), pack(2.5, 60)] });
    const { changes, same, unclear } = report(
      'code,price,unit\nT-214,31,1 l\nT-214,60,2.5 l\nT-214,110,"5 l"',
      [sold],
    );
    expect(unclear).toEqual([]);
    expect(same).toEqual([{ finishId: 'f', line: 3 }]);
    expect(
      changes.map(({ pack: one, price }) => [one?.amount, price?.was?.amount ?? null, price?.is.amount]),
    ).toEqual([
      [1, 30, 31],
      [5, null, 110],
    ]);
  });

  test('every row ends in one place and every finish is spoken of', () => {
    const word = fc.constantFrom('', 'T1', 'T2', 't-1', 'X9');
    const maker = fc.constantFrom('', 'Ternhollow', 'Oddmoor');
    const rows = fc.array(fc.tuple(maker, word, word, fc.integer({ min: 0, max: 3 })), {
      minLength: 1,
      maxLength: 8,
    });
    const finishes = fc.array(fc.tuple(maker, word, word), { maxLength: 5 });
    fc.assert(
      fc.property(rows, finishes, (lines, things) => {
        const text = ['maker,code,name,price', ...lines.map((line) => line.join(','))].join('\n');
        const read = readPriceList(text);
        const known = things.map(([of, code, name], k) => finish({ id: `f${k}`, maker: of, code, name }));
        const result = priceListReport(read.rows, known, { currency: 'EUR' });
        const placed = [
          ...result.changes.map(({ line }) => line),
          ...result.same.map(({ line }) => line),
          ...result.notFound.map(({ row }) => row.line),
          ...result.unclear.map(({ row }) => row.line),
        ];
        expect(placed.sort((a, b) => a - b)).toEqual(read.rows.map(({ line }) => line));
        const told = new Set([
          ...result.changes.map(({ finishId }) => finishId),
          ...result.same.map(({ finishId }) => finishId),
          ...result.unclear.flatMap(({ finishIds }) => finishIds),
          ...result.missing,
        ]);
        expect(told.size).toBe(known.length);
        expect(read.rows.length + read.problems.filter(({ kept }) => !kept).length).toBe(lines.length);
      }),
    );
  });
});
