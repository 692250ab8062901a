import XLSX from '@e965/xlsx';
import ICAL from 'ical.js';
import { OPS, getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import { describe, expect, test } from 'vitest';
import { labToScreen } from '#lib/colour/index.ts';
import {
  agreedLines,
  finishSchedule,
  priceListReport,
  readPriceList,
  type PricedFinish,
} from '#lib/finish/index.ts';
import { readCsv } from '#lib/finish/csv.ts';
import { inOrder, jobSchedule, parseJob, planOf, type Job } from '#lib/job/index.ts';
import { SCHEDULE_DOCUMENTS, attachment, scheduleDocument } from '#lib/server/schedule-documents.ts';
import { TODAY, chosenKitchen, sampleKitchen } from '../job/sample-kitchen.ts';

// Read back by pdf.js, SheetJS and ical.js, which share nothing with the libraries that write.

const NOW = new Date(Date.UTC(2026, 10, 26, 9));

const written = async (job: Job, name: string, size: string | null = null) =>
  await scheduleDocument(job, { jobId: 'job1', name, size, on: TODAY, now: NOW });

async function pagesOf(job: Job, name: string, size = 'A4'): Promise<string[]> {
  const { bytes } = await written(job, name, size);
  const document = await getDocument({ data: new Uint8Array(bytes), useSystemFonts: false, verbosity: 0 })
    .promise;
  const pages: string[] = [];
  for (let i = 1; i <= document.numPages; i++) {
    const { items } = await (await document.getPage(i)).getTextContent();
    pages.push(
      items
        .map((item) => ('str' in item ? item.str : ''))
        .join(' ')
        .replace(/\s+/g, ' '),
    );
  }
  return pages;
}

async function bookOf(job: Job): Promise<XLSX.WorkBook> {
  const { bytes } = await written(job, 'finish-schedule.xlsx');
  return XLSX.read(bytes, { cellDates: true, cellFormula: true, sheetStubs: true });
}

async function calendarOf(job: Job) {
  const { bytes } = await written(job, 'order-dates.ics');
  const root = new ICAL.Component(ICAL.parse(Buffer.from(bytes).toString('utf8')));
  return { root, events: root.getAllSubcomponents('vevent').map((one) => new ICAL.Event(one)) };
}

const listOf = async (job: Job) =>
  Buffer.from((await written(job, 'finish-schedule.csv')).bytes).toString('utf8');

/** Agreed as it stood with the other paint, changed since with a yes, and a line nobody has said yes to. */
function changedKitchen(): Job {
  const before = chosenKitchen();
  before.surfaces.cabinets.swatchId = 'th-12';
  before.surfaces.hardware.swatchId = 'tg-i';
  const lines = agreedLines(planOf(before, { today: TODAY }).schedule);
  const job = chosenKitchen();
  job.trade = {
    ...job.trade!,
    agreed: { round: 2, on: '2026-11-20', lines: structuredClone(lines) as never },
    notes: {
      'cabinets finish': {
        why: 'the lighter one looked thin by the window',
        who: 'M. Aldous',
        on: '2026-11-24',
      },
    },
  };
  return parseJob(job);
}

describe('the finish schedule on paper', () => {
  test.each(['A4', 'Letter'])(
    'in %s it holds every line, its order, its take-off and its steps',
    async (size) => {
      const job = chosenKitchen();
      const pages = await pagesOf(job, 'finish-schedule.pdf', size);
      const all = pages.join(' ');
      const { plan, schedule } = planOf(job, { today: TODAY });
      for (const { item } of schedule.lines) expect(all).toContain(`${item.finish!.maker}`);
      for (const words of ['79.00 EUR', '208.00 EUR', '88.00 EUR', '1280.48 EUR', '218.50 EUR'])
        expect(all).toContain(words);
      expect(all).toContain('Total 1873.98 EUR, of which 299.21 EUR VAT.');
      expect(all).toContain('726.02 EUR of it is left');
      expect(all).toContain('stays as it is');
      expect(all).toContain('2 × can of 5 l');
      expect(all).toContain('face frame: 1 front 3.30 × 0.72 m');
      // A step's sentence may be broken over lines; its words all stand there.
      const loose = all.replaceAll(' ', '');
      for (const { words } of plan.steps) expect(loose).toContain(words.replaceAll(' ', ''));
      expect(all).toContain('Printed colour is no sample');
      for (const page of pages) expect(page).toContain('Finish schedule · Thu 26 Nov 2026');
    },
  );

  test('every caution of every step stands in it, and the letter of each at its step', async () => {
    const job = chosenKitchen();
    const all = (await pagesOf(job, 'finish-schedule.pdf')).join(' ').replaceAll(' ', '');
    const { plan } = planOf(job, { today: TODAY });
    const cautions = new Set(plan.steps.flatMap((step) => step.cautions.map(({ words }) => words)));
    expect(cautions.size).toBeGreaterThan(5);
    for (const words of cautions)
      if (!words.startsWith('Local codes')) expect(all).toContain(words.replaceAll(' ', ''));
    expect(all).toContain('Localcodes,theproducts’safetydatasheetsandlicensedtradesdecide');
    // The house is of 1964: lead at the head, and beside the sanding.
    expect(all).toContain('havetheoldpainttestedforlead');
    expect(all).toMatch(/Fillandsandtheboxes[\d.]+–[A-Z]leadinoldpaint,[A-Z]sandingdust/);
  });

  test('what changed since it was agreed says was, is, why and who said yes', async () => {
    const all = (await pagesOf(changedKitchen(), 'finish-schedule.pdf')).join(' ');
    expect(all).toContain('Agreed with round 2 on 2026-11-20');
    expect(all).toContain('Reed Hollow');
    expect(all).toContain('M. Aldous');
    expect(all).toContain('the lighter one looked');
    expect(all).toContain('nobody yet');
    expect((await pagesOf(chosenKitchen(), 'finish-schedule.pdf')).join(' ')).toContain(
      'has been agreed yet',
    );
  });

  test('what is open, without a price or without a size is said', async () => {
    const job = sampleKitchen();
    Object.assign(job.surfaces.walls, { state: 'chosen', swatchId: 'om-104', parts: {}, area: undefined });
    const all = (await pagesOf(job, 'finish-schedule.pdf')).join(' ');
    expect(all).toContain('Kitchen, Cabinets: no finish is chosen');
    expect(all).toContain('open: choose');
    expect(all).toContain('Kitchen, Walls: nothing of it was measured.');
    expect(all).toContain('comes is not known');
  });
});

describe('the workbook', () => {
  test('has its sheets, each with its head frozen', async () => {
    const { bytes } = await written(chosenKitchen(), 'finish-schedule.xlsx');
    const book = XLSX.read(bytes);
    expect(book.SheetNames).toEqual(['Finish schedule', 'Orders', 'Take-off', 'Steps', 'Changes', 'Notes']);
    const files = XLSX.CFB.read(bytes as never, { type: 'buffer' });
    for (let i = 1; i <= 6; i++) {
      const { content } = XLSX.CFB.find(files, `/xl/worksheets/sheet${i}.xml`)!;
      expect(Buffer.from(content as Uint8Array).toString('utf8')).toMatch(
        /<pane[^>]*ySplit="1"[^>]*state="frozen"/,
      );
    }
  });

  test('holds money, quantities and days as numbers and days', async () => {
    const sheet = (await bookOf(chosenKitchen())).Sheets['Finish schedule'];
    const rows = XLSX.utils.sheet_to_json<Record<string, unknown>>(sheet, { raw: true, UTC: true });
    const paint = rows.find(({ Code, Surface }) => Code === 'TH-19' && Surface === 'Cabinets')!;
    // Worked by hand in the job's test of the schedule.
    expect(paint.Needed).toBeCloseTo(9.02363, 4);
    expect(paint).toMatchObject({ Unit: 'l', Cost: 208, VAT: 33.21, Net: 174.79, Coats: 2 });
    expect(paint['Needed on']).toBeInstanceOf(Date);
    const { schedule } = planOf(chosenKitchen(), { today: TODAY });
    const line = schedule.lines.find(({ item }) => item.id === 'cabinets finish')!;
    expect((paint['Needed on'] as Date).toISOString()).toBe(`${line.neededOn}T00:00:00.000Z`);
    const total = rows.find(({ Room }) => Room === 'Total')!;
    expect(total).toMatchObject({ Cost: 1873.98, VAT: 299.21 });
    expect(rows.find(({ Room }) => Room === 'Left of the budget')).toMatchObject({ Cost: 726.02 });
    const costs = rows.filter(({ Room }) => Room === 'Kitchen').map(({ Cost }) => (Cost as number) ?? 0);
    expect(costs.reduce((sum, cost) => sum + Math.round(cost * 100), 0)).toBe(187398);
    const cell = Object.values(sheet).find((one) => (one as XLSX.CellObject)?.v === 208) as XLSX.CellObject;
    expect(cell).toMatchObject({ t: 'n', w: '208.00 EUR' });
    const formulas = Object.values(sheet).flatMap((one) => (one as XLSX.CellObject)?.f ?? []);
    expect(formulas).toEqual(['SUM(L2:L8)', 'SUM(M2:M8)', 'SUM(N2:N8)']);
  });

  test('text that begins like a formula stays text', async () => {
    const job = chosenKitchen();
    const wild = ['=HYPERLINK("http://x","y")', '+1+1', '-1', '@SUM(A1)', '\t=1'];
    job.swatches['th-19'].name = wild[0];
    job.swatches['om-104'].name = wild[1];
    job.surfaces.cabinets.name = wild[3];
    job.surfaces.walls.name = wild[2];
    job.rooms.kitchen.name = wild[4];
    const book = await bookOf(job);
    const cells = book.SheetNames.flatMap((name) => Object.values(book.Sheets[name]) as XLSX.CellObject[]);
    for (const words of wild) {
      const found = cells.filter(({ v }) => v === words);
      expect(found.length, words).toBeGreaterThan(0);
      for (const { t, f } of found) expect([t, f]).toEqual(['s', undefined]);
    }
    const { records } = readCsv(await listOf(job));
    const texts = records.flatMap(({ cells }) => cells);
    for (const words of wild) {
      expect(texts).toContain(`'${words}`);
      expect(texts).not.toContain(words);
    }
  });

  test('steps have their cautions in full, take-off its lines', async () => {
    const job = chosenKitchen();
    const book = await bookOf(job);
    const { plan, scheduled } = planOf(job, { today: TODAY });
    const steps = XLSX.utils.sheet_to_json<Record<string, unknown>>(book.Sheets.Steps, { UTC: true });
    expect(steps).toHaveLength(plan.steps.length);
    for (const [i, { start, cautions }] of plan.steps.entries()) {
      expect((steps[i].Begin as Date).toISOString().slice(0, 10)).toBe(start.date);
      for (const { words } of cautions) expect(steps[i]['Take care']).toContain(words);
    }
    const lines = XLSX.utils.sheet_to_json<Record<string, unknown>>(book.Sheets['Take-off']);
    const sum = lines
      .filter((line) => line.Surface === 'Cabinets')
      .reduce((total, line) => total + ((line['m²'] as number) ?? 0), 0);
    expect(sum).toBeCloseTo(19.839657, 6);
    expect(scheduled.surfaces.length).toBe(6);
  });
});

describe('the list of lines', () => {
  const priced = (job: Job): PricedFinish[] =>
    inOrder(job.swatches)
      .filter(({ id }) =>
        Object.values(job.surfaces).some((s) => s.swatchId === id || s.work?.primerId === id),
      )
      .map(({ id, maker, code, name, price, supply, leadTimeDays }) => ({
        id,
        maker,
        code,
        name,
        price,
        packs: inOrder(supply?.packs ?? {}),
        leadTimeDays,
      }));

  test('reads back as a price list that changes nothing', async () => {
    const job = chosenKitchen();
    const reading = readPriceList(await listOf(job));
    expect(reading.problems).toEqual([]);
    const { changes, notFound, unclear, missing } = priceListReport(reading.rows, priced(job), {
      currency: 'EUR',
    });
    expect({ changes, notFound, unclear }).toEqual({ changes: [], notFound: [], unclear: [] });
    // What stays is bought nowhere and has no line.
    expect(missing).toEqual(['tile', 'oak']);
  });

  test('a price and a lead time changed in it come back as changes', async () => {
    const job = chosenKitchen();
    const text = (await listOf(job))
      .split('\r\n')
      .map((line) =>
        line.startsWith('price') && line.includes('TH-19') && line.includes(',5 l,')
          ? line.replace(',104,', ',111.5,')
          : line.replace(/,9\.5,piece,5,/, ',9.5,piece,21,'),
      )
      .join('\r\n');
    const { rows } = readPriceList(text);
    const { changes } = priceListReport(rows, priced(job), { currency: 'EUR' });
    expect(changes).toHaveLength(2);
    expect(changes.find(({ finishId }) => finishId === 'th-19')).toMatchObject({
      pack: { amount: 5, unit: 'l' },
      price: { was: { amount: 104 }, is: { amount: 111.5, currency: 'EUR' } },
      leadTimeDays: null,
    });
    expect(changes.find(({ finishId }) => finishId === 'tg-b')).toMatchObject({
      price: null,
      leadTimeDays: { was: 5, is: 21 },
    });
  });

  test('is RFC 4180 with a mark only where it holds more than ASCII', async () => {
    const job = chosenKitchen();
    job.rooms.kitchen.name = 'Kitchen, "old"\nwing';
    const text = await listOf(job);
    expect(text.startsWith('\ufeff')).toBe(true);
    const { records, problems } = readCsv(text, ',');
    expect(problems).toEqual([]);
    expect(new Set(records.map(({ cells }) => cells.length))).toEqual(new Set([20]));
    expect(records[1].cells[1]).toBe('Kitchen, "old"\nwing');
    for (const surface of Object.values(job.surfaces)) if (surface.state !== 'fixed') surface.state = 'fixed';
    expect((await listOf(job)).startsWith('Row,')).toBe(true);
  });
});

describe('the calendar', () => {
  test('holds each order on its last day and each step from begin to end, whole days', async () => {
    const job = chosenKitchen();
    const { plan, schedule } = planOf(job, { today: TODAY });
    const { root, events } = await calendarOf(job);
    expect(root.getFirstPropertyValue('version')).toBe('2.0');
    expect(events).toHaveLength(schedule.orders.length + plan.steps.length + 1);
    for (const event of events) {
      expect(event.startDate.isDate, event.summary).toBe(true);
      expect(event.endDate.isDate, event.summary).toBe(true);
    }
    for (const { id, finish, delivery } of schedule.orders) {
      const event = events.find(({ uid }) => uid === `order%20${encodeURIComponent(id)}@job1.brushout`)!;
      expect(event.startDate.toString()).toBe(delivery.orderBy);
      expect(event.summary).toContain(finish.name);
    }
    for (const { id, start, end, cautions, summary } of plan.steps) {
      const event = events.find(({ uid }) => uid === `step%20${encodeURIComponent(id)}@job1.brushout`)!;
      expect(event.summary).toBe(summary);
      expect(event.startDate.toString()).toBe(start.date);
      // RFC 5545, 3.6.1: the end of a whole-day event is the day after.
      const after = event.endDate.clone();
      after.adjust(-1, 0, 0, 0);
      expect(after.toString()).toBe(end.date);
      for (const { words } of cautions) expect(event.description).toContain(words);
    }
    expect(events.at(-1)!.startDate.toString()).toBe('2027-01-21');
  });

  test('the ids are all different and stay when dates move', async () => {
    const ids = async (job: Job) => (await calendarOf(job)).events.map(({ uid }) => uid).sort();
    const job = chosenKitchen();
    const first = await ids(job);
    expect(new Set(first).size).toBe(first.length);
    job.finishBy = '2027-03-01';
    expect(await ids(job)).toEqual(first);
  });

  test('what is too late is to be ordered today, what is ordered stands on the day it comes', async () => {
    const job = chosenKitchen();
    job.swatches['th-19'].leadTimeDays = 90;
    job.trade = { ...job.trade!, ordered: { 'hardware finish': '2026-11-24' } };
    const { events } = await calendarOf(job);
    const late = events.find(({ uid }) => uid.startsWith('order%20cabinets%20finish'))!;
    expect(late.startDate.toString()).toBe(TODAY);
    expect(late.summary).toContain('too late');
    // Tuesday 24 November and five calendar days is a Sunday: the Monday.
    const ordered = events.find(({ uid }) => uid.startsWith('order%20hardware%20finish'))!;
    expect(ordered.startDate.toString()).toBe('2026-11-30');
  });

  test('lines are no longer than 75 octets', async () => {
    const { bytes } = await written(chosenKitchen(), 'order-dates.ics');
    const lines = Buffer.from(bytes).toString('utf8').split('\r\n');
    // RFC 5545, 3.1.
    for (const line of lines) expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75);
  });
});

test('patches in schedule, shopping list and labels have the colour of their finish', async () => {
  const job = chosenKitchen();
  // sRGB of Lab 40, -8, 4 (D65), from the formulas of IEC 61966-2-1 and CIE 15 as the colour area is tested with.
  const { r, g, b } = labToScreen({ L: 40, a: -8, b: 4 }, 'srgb').rgb;
  const wanted = [r, g, b].map((value) => Math.round(value * 255));
  for (const name of ['finish-schedule.pdf', 'shopping-list.pdf', 'labels.pdf']) {
    const { bytes } = await written(job, name);
    const document = await getDocument({ data: new Uint8Array(bytes), verbosity: 0 }).promise;
    let found = 0;
    for (let i = 1; i <= document.numPages; i++) {
      const { fnArray, argsArray } = await (await document.getPage(i)).getOperatorList();
      const hex = `#${wanted.map((value) => value.toString(16).padStart(2, '0')).join('')}`;
      found += fnArray.filter((fn, k) => fn === OPS.setFillRGBColor && argsArray[k][0] === hex).length;
    }
    expect(found, name).toBeGreaterThan(0);
  }
});

describe('labels', () => {
  test('every finish has one, every door one for each side, and the plan names every door once', async () => {
    for (const size of ['A4', 'Letter']) {
      const pages = await pagesOf(chosenKitchen(), 'labels.pdf', size);
      const plan = pages[0];
      for (let i = 1; i <= 15; i++) expect(plan.match(new RegExp(`\\bD${i} `, 'g')), `D${i}`).toHaveLength(1);
      for (let i = 1; i <= 8; i++) expect(plan.match(new RegExp(`\\bF${i} `, 'g')), `F${i}`).toHaveLength(1);
      const labels = pages.slice(1).join(' ');
      for (let i = 1; i <= 15; i++) for (const side of ['A', 'B']) expect(labels).toContain(`D${i} ${side} `);
      expect(labels).toContain('F8 A');
      expect(labels).not.toContain('F8 B');
      for (const words of [
        'Deep Lock',
        'Grip primer',
        'Paper Skiff',
        'Still Water',
        'door, face, 450 × 690 mm',
      ])
        expect(labels).toContain(words);
      // 3 x 8 a page: 15 x 2 + 8 fronts, 7 finishes.
      expect(pages).toHaveLength(1 + Math.ceil((38 + 7) / 24));
    }
  });
});

/** Surfaces whose text is of many scripts, runs the other way, never breaks or holds what no file may. */
function wildKitchen(surfaces: number): Job {
  const job = chosenKitchen();
  const texts = [
    'مطبخ الجدران',
    'חדר מטבח',
    '台所の壁と天井',
    'रसोई',
    'Küchenwände Żółć Κουζίνα Кухня',
    'W'.repeat(80),
    '👩‍🎨🏠 \u0000\u0007\u001b[31m',
    '=cmd|x!A1',
    '</w:t><script>&amp;',
    '\u202egnp.exe',
    '',
  ];
  const [, ...models] = Object.values(job.surfaces);
  for (let i = 0; i < surfaces - 6; i++) {
    const model = models[i % models.length];
    const id = `s${i}`;
    job.surfaces[id] = { ...structuredClone(model), id, order: 10 + i, name: texts[i % texts.length] };
  }
  for (const [i, swatch] of Object.values(job.swatches).entries()) {
    swatch.name = `${texts[i % texts.length]} ${'x'.repeat(90)}`.slice(0, 120);
    swatch.maker = texts[(i + 3) % texts.length];
  }
  job.name = texts[0] + texts[5];
  job.rooms.kitchen.name = texts[2];
  return parseJob(job);
}

describe('whatever a job holds', () => {
  test('surfaces named in many scripts come out on paper, and what has no shape is said', async () => {
    const job = wildKitchen(40);
    for (const name of SCHEDULE_DOCUMENTS.filter((one) => one.endsWith('.pdf'))) {
      const pages = await pagesOf(job, name, 'Letter');
      expect(pages.length, name).toBeGreaterThan(1);
      expect(pages.join(' '), name).toContain('no shape in this document');
    }
  });

  test('200 surfaces come out as workbook, list and calendar', async () => {
    const job = wildKitchen(200);
    expect(Object.keys(job.surfaces)).toHaveLength(200);
    const book = await bookOf(job);
    expect(XLSX.utils.sheet_to_json(book.Sheets['Finish schedule']).length).toBeGreaterThan(200);
    const { events } = await calendarOf(job);
    expect(events.length).toBeGreaterThan(200);
    const { records, problems } = readCsv(await listOf(job), ',');
    expect(problems).toEqual([]);
    expect(records.length).toBeGreaterThan(100);
  });

  test('faulty sizes, prices, taxes and days break no document and are said', async () => {
    const job = chosenKitchen();
    job.trade = {
      ...job.trade!,
      tax: { name: '', rate: 500, included: false },
      budget: -5,
      startOn: '2026-99-99',
      ordered: { 'walls finish': 'tomorrow', 'counter finish': '9999-12-31' },
      moved: { 'walls/clean': '9999-12-31' },
      hands: 0,
      hoursPerDay: -8,
      weekdays: [],
      agreed: {
        round: null,
        on: '',
        lines: [
          {
            id: 'gone',
            room: '',
            surface: '',
            role: 'other',
            finish: null,
            need: { amount: -1, unit: 'hogsheads' },
            gross: 0.5,
            neededOn: 'never',
          },
        ],
      },
      notes: { gone: { why: '', who: 'nobody', on: 'never' } },
    };
    job.swatches['th-19'].supply!.packs.c5.size = 0;
    job.swatches['om-104'].supply = undefined;
    job.swatches['tg-b'].price = { amount: 3, currency: 'JPY', unit: 'bucket' };
    job.swatches.quiet.price = null;
    job.surfaces.walls.parts = {
      p1: {
        id: 'p1',
        order: 1,
        name: '',
        coats: -2,
        kind: 'walls',
        by: 'walls',
        walls: [{ width: -1, height: 1e300, count: 0.5 }],
        openings: [],
      },
    };
    job.finishBy = '9999-12-31';
    const sound = parseJob(job);
    for (const name of SCHEDULE_DOCUMENTS)
      expect((await written(sound, name)).bytes.length, name).toBeGreaterThan(0);
    const all = (await pagesOf(sound, 'finish-schedule.pdf')).join(' ');
    for (const words of [
      '9999-12-31',
      'tomorrow',
      'its price is in JPY, not EUR',
      'A tax lies from 0 to 100 %',
    ])
      expect(all).toContain(words);
    const notes = XLSX.utils.sheet_to_csv((await bookOf(sound)).Sheets.Notes);
    for (const words of ['9999-12-31', 'tomorrow', 'its price is in JPY', 'A tax lies from 0 to 100 %'])
      expect(notes).toContain(words);
  });

  test('a job with nothing in it has every document', async () => {
    const job = chosenKitchen();
    Object.assign(job, { rooms: {}, surfaces: {}, swatches: {}, finishBy: null, currency: '', name: '' });
    delete job.trade;
    for (const name of SCHEDULE_DOCUMENTS)
      expect((await written(parseJob(job), name)).bytes.length, name).toBeGreaterThan(0);
  });

  test('a currency without cents has none', async () => {
    const job = chosenKitchen();
    job.currency = 'JPY';
    for (const swatch of Object.values(job.swatches))
      if (swatch.price) swatch.price = { ...swatch.price, currency: 'JPY' };
    const { schedule } = planOf(job, { today: TODAY });
    const sheet = (await bookOf(job)).Sheets['Finish schedule'];
    const rows = XLSX.utils.sheet_to_json<Record<string, unknown>>(sheet);
    // ISO 4217: the yen has no smaller unit.
    expect(rows.find(({ Room }) => Room === 'Total')!.Cost).toBe(schedule.total.gross);
    const lines = finishSchedule({ ...jobSchedule(job).rules, today: TODAY });
    expect(lines.total.gross).toBe(schedule.total.gross);
  });
});

describe('asking for one', () => {
  test('the same job and day give the same bytes', async () => {
    for (const name of ['finish-schedule.csv', 'order-dates.ics', 'finish-schedule.pdf']) {
      const [first, second] = [await written(chosenKitchen(), name), await written(chosenKitchen(), name)];
      expect(Buffer.from(first.bytes).equals(Buffer.from(second.bytes)), name).toBe(true);
    }
  });

  test('an unknown name, size or day is refused in one sentence', async () => {
    const ask = (given: object) =>
      scheduleDocument(chosenKitchen(), {
        jobId: 'j',
        name: 'labels.pdf',
        size: null,
        on: null,
        now: NOW,
        ...given,
      });
    await expect(ask({ name: 'toString' })).rejects.toMatchObject({ status: 404 });
    await expect(ask({ name: '../labels.pdf' })).rejects.toMatchObject({ status: 404 });
    await expect(ask({ size: 'A3' })).rejects.toThrow('Expected A4 or Letter as the size of the paper.');
    for (const on of ['tomorrow', '2026-02-30', '9999-01-01', '1970-01-01'])
      await expect(ask({ on })).rejects.toMatchObject({ status: 400 });
  });

  test('the file name can neither end its header nor leave its folder', () => {
    const header = attachment('../Küche\r\nSet-Cookie: x="1"; 台所/..\\ finish-schedule.pdf');
    expect(header).toMatch(/^attachment; filename="[\u0020-\u007e]*"; filename\*=UTF-8''[A-Za-z0-9%._~!-]+$/);
    const [, plain, full] = /filename="([^"]*)"; filename\*=UTF-8''(.*)$/.exec(header)!;
    for (const name of [plain, decodeURIComponent(full)]) expect(name).not.toMatch(/[\r\n/\\:*?"<>|]|^\./);
    expect(decodeURIComponent(full)).toContain('Küche');
    expect(decodeURIComponent(full)).toContain('台所');
  });
});
