import { describe, expect, test } from 'vitest';
import {
  PART_KINDS,
  finishSchedule,
  priceListReport,
  readPriceList,
  scheduleChanges,
  agreedLines,
  takeOff,
} from '#lib/finish/index.ts';
import {
  DEFAULT_CRITERIA,
  DEFAULT_SUPPLY,
  DEFAULT_TRADE,
  DEFAULT_WORK,
  applyEdit,
  emptyJob,
  leftOutWords,
  lineId,
  parseJob,
  planOf,
  setting,
  type Job,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import { PART_FORMS, newPart, usualPart } from '#lib/studio/part-forms.ts';
import {
  boughtWords,
  budgetWords,
  changesByLine,
  dayProblem,
  keptLines,
  lateSurfaces,
  latestRound,
  lineProblems,
  markedPhotos,
  nextOrders,
  orderDays,
  ordersBySupplier,
  partValues,
  priceListValues,
  pricedFinishes,
  supplyValues,
  withHoliday,
  workProblems,
  workValues,
} from '#lib/studio/schedule.ts';
import {
  PERCENT,
  PLAIN,
  areaMeasure,
  lengthMeasure,
  spreadMeasure,
  typedIn,
  volumeMeasure,
} from '#lib/studio/typed-measure.ts';

// A Thursday.
const TODAY = '2026-11-26';

function swatch(id: string, fields: Partial<Swatch> = {}): Swatch {
  return {
    ...{ id, order: 1, kind: 'paint', maker: 'Ternhollow', code: id.toUpperCase(), name: `Paint ${id}` },
    ...{ sheen: null, price: null, leadTimeDays: 2, publishedLrv: null, samples: {}, note: '' },
    ...fields,
  };
}

function surface(id: string, fields: Partial<Surface> = {}): Surface {
  return {
    ...{ id, order: 1, roomId: 'r', name: id, kind: 'walls', state: 'chosen', swatchId: 'a' },
    ...{ candidateIds: {}, target: null, criteria: DEFAULT_CRITERIA },
    ...fields,
  } as Surface;
}

const can = (id: string, size: number, price: number | null) => ({
  ...{ id, order: size, name: `can of ${size} l`, size, unit: 'l' as const, price, discounts: [] },
});

function jobWith(surfaces: Surface[], swatches: Swatch[], trade = DEFAULT_TRADE): Job {
  const byId = <T extends { id: string }>(list: T[]) => Object.fromEntries(list.map((one) => [one.id, one]));
  const room = { id: 'r', order: 1, name: 'Kitchen', note: '' };
  return parseJob({
    ...emptyJob('Test'),
    finishBy: '2027-02-26',
    rooms: { r: room },
    surfaces: byId(surfaces),
    swatches: byId(swatches),
    trade,
  });
}

const walls = (width: number) => ({
  ...newPart('walls', { id: 'p', order: 1 }),
  walls: [{ width, height: 2500, count: 1 }],
});

describe('sizes as they are typed', () => {
  const metres = lengthMeasure('metric', 'm');
  const inches = lengthMeasure('us', 'in');

  // NIST SP 811 (2008), Appendix B: 1 ft = 304.8 mm, 1 in = 25.4 mm, exactly.
  test.each([
    ['3.2 m', 3200],
    ['3,2', 3200],
    ['320 cm', 3200],
    [`10' 6"`, 10 * 304.8 + 6 * 25.4],
    ['10 ft 6 1/2 in', 10 * 304.8 + 6.5 * 25.4],
  ])('%s in a field of metres', (text, mm) => {
    const read = metres.read(text);
    expect('value' in read && read.value).toBeCloseTo(mm, 6);
  });

  test('a bare number is in the field’s own unit', () => {
    expect(lengthMeasure('metric', 'mm').read('450')).toEqual({ value: 450 });
    expect(inches.read('12')).toEqual({ value: 304.8 });
  });

  test('negative and zero sizes are kept as they were typed, unreadable ones are said', () => {
    expect(metres.read('-2 m')).toEqual({ value: -2000 });
    expect(metres.read('0')).toEqual({ value: 0 });
    expect(metres.read('0 m')).toEqual({ value: 0 });
    expect(metres.read('about three')).toHaveProperty('error');
    expect(PLAIN.read('-2')).toEqual({ value: -2 });
    expect(PLAIN.read('two')).toHaveProperty('error');
  });

  test('a typed 0 takes no size away: it is refused with its reason where nothing means “still to be measured”', () => {
    for (const text of ['0', '0 m', '0,0', '-0'])
      expect(typedIn(text, metres, undefined)).toEqual({
        error: `“${text}” is not taken: it has to be more than zero.`,
      });
    expect(typedIn('0', PLAIN, undefined)).toHaveProperty('error');
    expect(typedIn('3.2 m', metres, undefined)).toEqual({ value: 3200 });
    // A joint of 0 mm is one; a price of 0 too.
    expect(typedIn('0', lengthMeasure('metric', 'mm'), 'zero')).toEqual({ value: 0 });
    expect(typedIn('0', PLAIN, 'null')).toEqual({ value: 0 });
    expect(typedIn(' ', metres, undefined)).toEqual({ value: 0 });
    expect(typedIn('', PLAIN, 'null')).toEqual({ value: null });
  });

  test('what is written is read back', () => {
    for (const mm of [7, 596, 999.5, 1000, 3205, 12_340.5, 152_400]) {
      expect(metres.read(metres.write(mm))).toEqual({ value: mm });
      // To a sixteenth of an inch, as drawings have it.
      const read = inches.read(inches.write(mm));
      expect(Math.abs(('value' in read ? read.value : Infinity) - mm)).toBeLessThanOrEqual(25.4 / 32 + 1e-9);
    }
    for (const measure of [areaMeasure('metric'), areaMeasure('us'), volumeMeasure('us'), PERCENT, PLAIN]) {
      const read = measure.read(measure.write(0.25));
      expect('value' in read && read.value).toBeCloseTo(0.25, 3);
    }
    expect(metres.write(-2000)).toBe('-2.00 m');
  });

  test('350 square feet to the US gallon', () => {
    // 350 x 0.092 903 04 m² / 3.785 411 784 l (NIST SP 811).
    const read = spreadMeasure('us').read('350');
    expect('value' in read && read.value).toBeCloseTo((350 * 0.09290304) / 3.785411784, 9);
    expect(spreadMeasure('us').write((350 * 0.09290304) / 3.785411784)).toBe('350');
  });
});

describe('forms of parts', () => {
  test.each(PART_KINDS)('a new part of %s fits the document and is asked for in full', (kind) => {
    const part = newPart(kind, { id: 'p', order: 1 });
    expect(() => jobWith([surface('s', { parts: { p: part } })], [swatch('a')])).not.toThrow();
    const asked = PART_FORMS[kind].fields.map(({ key }) => key);
    const own = Object.keys(part).filter((key) => !['id', 'order', 'kind', 'name', 'coats'].includes(key));
    expect(asked.toSorted()).toEqual(own.toSorted());
    // Nothing is measured yet, so nothing is counted but things.
    expect(takeOff([part], { system: 'metric' }).area ?? 0).toBe(0);
  });

  test('two parts share nothing', () => {
    const [a, b] = [1, 2].map((order) => newPart('flat', { id: `p${order}`, order }));
    expect(a).not.toBe(b);
    expect(a.kind === 'flat' && b.kind === 'flat' && a.rectangles !== b.rectangles).toBe(true);
  });

  test('the first kind offered goes by surface and finish', () => {
    expect(usualPart('walls', 'paint')).toBe('walls');
    expect(usualPart('island', null)).toBe('cabinets');
    expect(usualPart('walls', 'tile')).toBe('tile');
    expect(usualPart('backsplash', 'paint')).toBe('flat');
    expect(usualPart('backsplash', null)).toBe('tile');
    expect(usualPart('counter', 'stone')).toBe('counter');
    expect(usualPart('hardware', 'metal')).toBe('pieces');
  });
});

describe('edits', () => {
  test('work, supply and parts are put there first where nobody touched them', () => {
    const job = jobWith([surface('s')], [swatch('a')]);
    const after = applyEdit(
      job,
      setting(job, 'x', [
        ...workValues(job.surfaces.s, [[['coats'], 3]]),
        ...supplyValues(job.swatches.a, [[['supplier'], 'Lock Street']]),
        ...partValues(job.surfaces.s, walls(4000)),
      ]),
    );
    const read = parseJob(JSON.parse(JSON.stringify(after)));
    expect(read.surfaces.s.work).toEqual({ ...DEFAULT_WORK, coats: 3 });
    expect(read.swatches.a.supply).toEqual({ ...DEFAULT_SUPPLY, supplier: 'Lock Street' });
    expect(Object.keys(read.surfaces.s.parts ?? {})).toEqual(['p']);
    const gone = applyEdit(read, setting(read, 'x', partValues(read.surfaces.s, walls(4000), false)));
    expect(gone.surfaces.s.parts).toEqual({});
  });

  test('days off stand once and in order', () => {
    expect(withHoliday(['2027-01-01', '2026-12-25'], '2026-12-25')).toEqual(['2026-12-25', '2027-01-01']);
  });
});

describe('prices that come back', () => {
  const job = jobWith(
    [surface('s')],
    [
      swatch('a', { supply: { ...DEFAULT_SUPPLY, packs: { c: can('c', 2.5, 40) } } }),
      swatch('b', { price: { amount: 9, currency: 'EUR', unit: 'piece' } }),
    ],
  );
  const take = (rows: string) => {
    const reading = readPriceList(`maker,code,price,lead time\n${rows}`);
    const report = priceListReport(reading.rows, pricedFinishes(job), { currency: job.currency });
    let n = 0;
    const { values, refused } = priceListValues(job, report, () => `new${n++}`);
    return { after: parseJob(applyEdit(job, setting(job, 'x', values))), refused, report };
  };

  test('the price of a can goes to that can, another can is added, the rest stays', () => {
    const { after, refused } = take(
      'Ternhollow,A,44 EUR per 2.5 l,\nTernhollow,A,21 EUR per 1 l,6 days\nTernhollow,B,9,',
    );
    expect(refused).toEqual([]);
    const packs = Object.values(after.swatches.a.supply?.packs ?? {});
    expect(packs.map(({ size, price }) => [size, price])).toEqual([
      [2.5, 44],
      [1, 21],
    ]);
    expect(after.swatches.a.leadTimeDays).toBe(6);
    expect(after.swatches.b).toEqual(job.swatches.b);
  });

  test('a finish without cans takes the price with what it is for', () => {
    const { after } = take('Ternhollow,B,11.20 EUR per piece,');
    expect(after.swatches.b.price).toEqual({ amount: 11.2, currency: 'EUR', unit: 'piece' });
  });

  test('cans have no currency of their own: another one is refused and said with its line', () => {
    const { after, refused } = take('Ternhollow,A,50 USD per 2.5 l,');
    expect(refused).toHaveLength(1);
    expect(refused[0]).toMatch(/^Line 2: .*EUR.*USD/);
    expect(after).toEqual(job);
  });
});

describe('what is told of the schedule', () => {
  const packs = { c: can('c', 2.5, 40) };
  const paint = swatch('a', { supply: { ...DEFAULT_SUPPLY, supplier: 'Lock Street', packs } });
  const first = surface('first', { parts: { p: walls(4000) } });
  const second = surface('second', { order: 2, parts: { p: walls(2000) } });
  const slow = swatch('slow', {
    order: 2,
    leadTimeDays: 300,
    price: { amount: 20, currency: 'EUR', unit: 'l' },
  });

  test('late orders come first, then by the last day to order', () => {
    const job = jobWith(
      [
        surface('ceiling', { order: 3, kind: 'ceiling', swatchId: 'a', parts: { p: walls(4000) } }),
        { ...first, swatchId: 'slow', candidateIds: { slow: true, a: true } },
      ],
      [paint, slow],
    );
    const reckoned = planOf(job, { today: TODAY });
    const orders = nextOrders(reckoned.schedule.orders);
    expect(orders.map(({ finish }) => finish.code)).toEqual(['SLOW', 'A']);
    const days = orderDays(reckoned.schedule.orders);
    expect(days.map(({ late }) => late)).toEqual([true, false]);
    expect(days[1].words).toMatch(/^Paint a from Lock Street: order by /);
    expect(lateSurfaces(reckoned)).toEqual(['first']);
    expect(reckoned.schedule.orders.find(({ id }) => id === lineId('first', 'finish'))?.substitute?.id).toBe(
      'a',
    );
  });

  test('what is bought together says so, and is one order of its supplier', () => {
    const { schedule } = planOf(jobWith([first, second], [paint]), { today: TODAY });
    expect(schedule.orders).toHaveLength(1);
    const words = boughtWords(schedule.lines[0], {
      ...{ order: schedule.orders[0], lines: schedule.lines, system: 'metric' },
    });
    expect(words).toMatch(/bought, for second too$/);
    const [supplier, ...others] = ordersBySupplier(schedule.orders);
    expect(others).toEqual([]);
    expect(supplier).toMatchObject({ supplier: 'Lock Street', gross: schedule.total.gross });
  });

  test('what is bought for another of the same name says which, with the room where it is in another', () => {
    const words = (rooms: readonly string[]) => {
      const walls = rooms.map((_, i) => ({ ...first, id: `s${i}`, order: i, name: 'Walls' }));
      const job = jobWith(walls, [paint]);
      const [room] = Object.values(job.rooms);
      job.rooms.hall = { ...room, id: 'hall', name: 'Hall', order: 9 };
      for (const [i, roomId] of rooms.entries()) job.surfaces[`s${i}`].roomId = roomId;
      const { lines, orders } = planOf(job, { today: TODAY }).schedule;
      return lines.map((line) => boughtWords(line, { order: orders[0], lines, system: 'metric' }));
    };
    const { roomId } = first;
    expect(words([roomId, roomId])).toEqual([
      expect.stringMatching(/bought, for Walls 2 too$/),
      expect.stringMatching(/bought, for Walls 1 too$/),
    ]);
    expect(words([roomId, 'hall'])).toEqual([
      expect.stringMatching(/bought, for Walls, Hall too$/),
      expect.stringMatching(/bought, for Walls, Kitchen too$/),
    ]);
    expect(words([roomId, roomId, 'hall'])[0]).toMatch(/for Walls 2, Kitchen and Walls, Hall too$/);
  });

  test('the budget is left or over, in words', () => {
    const over = (budget: number) =>
      budgetWords(
        planOf(jobWith([first], [paint], { ...DEFAULT_TRADE, budget }), { today: TODAY }).schedule,
        'EUR',
      );
    // 4.00 x 2.50 m, two coats, need between one and four cans of 40 EUR.
    expect(over(1000)).toMatch(/of the budget of 1000\.00 EUR are left\.$/);
    expect(over(1)).toMatch(/^That is .* over the budget of 1\.00 EUR\.$/);
    expect(budgetWords(planOf(jobWith([first], [paint]), { today: TODAY }).schedule, 'EUR')).toBeNull();
  });

  test('a price that cannot be stands at its can, hours that cannot be at their product', () => {
    const wrong = swatch('a', {
      supply: { ...DEFAULT_SUPPLY, recoatHours: -4, packs: { c: can('c', 2.5, -40) } },
    });
    const reckoned = planOf(jobWith([first], [wrong]), { today: TODAY });
    const paths = (list: readonly { path: string }[]) => list.map(({ path }) => path);
    expect(paths(lineProblems(reckoned.schedule, lineId('first', 'finish')))).toContain('packs[0].price');
    expect(paths(workProblems(reckoned, 'first'))).toEqual(['drying.recoat']);
    expect(reckoned.schedule.leftOut.length).toBeGreaterThan(0);
  });

  test('a size or a number of coats that cannot be is told with the totals', () => {
    const parts = {
      p: walls(-4000),
      q: { ...walls(3000), id: 'q', order: 2, name: 'hob wall', coats: 0 },
      s: { ...walls(3000), id: 's', order: 3, name: 'door wall' },
    };
    const reckoned = planOf(jobWith([{ ...first, parts }], [paint]), { today: TODAY });
    expect(reckoned.schedule.total.gross).toBeGreaterThan(0);
    expect(leftOutWords(reckoned)).toEqual([
      expect.stringMatching(/^Kitchen, first: .*wall.*line 1$/),
      expect.stringMatching(/^Kitchen, first: the finish coats of first$/),
      'Kitchen, first: the finish coats of hob wall',
    ]);
    expect(leftOutWords(planOf(jobWith([first], [paint]), { today: TODAY }))).toEqual([]);
  });

  test('changes since the yes, line by line', () => {
    const before = planOf(jobWith([first, second], [paint]), { today: TODAY }).schedule;
    const agreed = { round: 2, on: TODAY, lines: agreedLines(before) };
    const job = jobWith([{ ...first, parts: { p: walls(6000) } }], [paint], {
      ...DEFAULT_TRADE,
      agreed: structuredClone(agreed) as never,
      notes: { [lineId('first', 'finish')]: { why: 'wider wall', who: 'Mara', on: TODAY } },
    });
    expect(keptLines(job.trade!.agreed!)).toEqual(agreed.lines);
    const changes = changesByLine(
      scheduleChanges(keptLines(job.trade!.agreed!), agreedLines(planOf(job, { today: TODAY }).schedule), {
        ...{ notes: job.trade!.notes, currency: 'EUR', system: 'metric' },
      }),
    );
    expect(changes.map(({ place, agreed }) => [place, agreed])).toEqual([
      ['Kitchen, first, finish coat', true],
      ['Kitchen, second, finish coat', false],
    ]);
    expect(changes[0].fields.map(({ field }) => field)).toContain('quantity');
    expect(changes[1].fields).toMatchObject([{ field: 'line', is: '' }]);
  });

  test('nothing in the job is nothing to order', () => {
    const { schedule } = planOf(emptyJob('Empty'), { today: TODAY });
    expect(orderDays(schedule.orders)).toEqual([]);
    expect(
      finishSchedule({ ...planOf(emptyJob('Empty'), { today: TODAY }).scheduled.rules, today: TODAY }).lines,
    ).toEqual([]);
  });
});

test('a day that is past or none is said', () => {
  expect(dayProblem(null, TODAY, 'past')).toBeNull();
  expect(dayProblem('2026-11-25', TODAY, 'past')).toBe('past');
  expect(dayProblem(TODAY, TODAY, 'past')).toBeNull();
  expect(dayProblem('2026-02-30', TODAY, 'past')).toContain('2026-02-30');
});

test('the latest round of the boards as listed', () => {
  expect(latestRound([{ round: 1 }, { round: 3 }, { round: 2 }])).toBe(3);
  expect(latestRound([])).toBeNull();
  expect(latestRound({ error: 'none' })).toBeNull();
});

test('marks on a picture that was replaced are not reckoned with', () => {
  const job = jobWith([surface('s')], [swatch('a')]);
  const mask = { kind: 'mask', version: 1, width: 4, height: 4, sum: 0, code: '' };
  const photo = (id: string, on: string) => ({
    ...{ id, order: 1, roomId: 'r', name: id, role: 'room', fileId: 'f', width: 4, height: 4, space: 'srgb' },
    ...{ references: {}, regions: {}, masks: { s: { id: 's', fileId: on, mask, plane: null } } },
  });
  const photos = { now: photo('now', 'f'), old: photo('old', 'g') } as unknown as Job['photos'];
  expect(markedPhotos({ ...job, photos }, 's').map(({ photo }) => photo.id)).toEqual(['now']);
});
