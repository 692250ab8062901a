import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import XLSX from '@e965/xlsx';
import { describe, expect, test } from 'vitest';
import { readCsv } from '#lib/finish/csv.ts';
import { finishSchedule, priceListReport, readPriceList, type PricedFinish } from '#lib/finish/index.ts';
import { inOrder, jobSchedule, parseJob, planOf, type Job } from '#lib/job/index.ts';
import * as jobs from '#lib/server/jobs.ts';
import { SCHEDULE_DOCUMENTS, attachment, scheduleDocument } from '#lib/server/schedule-documents.ts';
import { closeStore, store } from '#lib/server/store.ts';
import { GET } from '../../src/routes/api/jobs/[jobId]/documents/[document]/+server.ts';
import { TODAY, chosenKitchen } from '../job/sample-kitchen.ts';
import {
  NOW,
  bookOf,
  calendarOf,
  changedKitchen,
  listOf,
  pagesOf,
  wildKitchen,
  written,
} from './schedule-reading.ts';

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

  // ECMA-376 part 1, 18.3.1.96: `v` holds what a formula came to when the file was written.
  test.each(['EUR', 'JPY', 'KWD'])(
    'its sums in %s carry what they come to, for readers that do not reckon',
    async (currency) => {
      const job = chosenKitchen();
      job.currency = currency;
      for (const swatch of Object.values(job.swatches))
        if (swatch.price) swatch.price = { ...swatch.price, currency };
      const sheet = (await bookOf(job)).Sheets['Finish schedule'];
      const sums = Object.values(sheet).filter((one) => (one as XLSX.CellObject)?.f) as XLSX.CellObject[];
      expect(sums).toHaveLength(3);
      for (const { f, v, t } of sums) {
        const [, column, first, last] = /^SUM\(([A-Z])(\d+):[A-Z](\d+)\)$/.exec(f!)!;
        let sum = 0;
        for (let row = Number(first); row <= Number(last); row++)
          sum += ((sheet[`${column}${row}`] as XLSX.CellObject | undefined)?.v as number) ?? 0;
        expect(sum).toBeGreaterThan(0);
        expect(t).toBe('n');
        expect(v).toBeCloseTo(sum, 6);
      }
    },
  );

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

  test('what changed since it was agreed stands in it, with who said yes', async () => {
    const book = await bookOf(changedKitchen());
    const rows = XLSX.utils.sheet_to_json<Record<string, unknown>>(book.Sheets.Changes, { UTC: true });
    const finish = rows.filter(({ What }) => What === 'finish');
    expect(finish.map(({ Where }) => Where)).toEqual([
      'Kitchen, Cabinets, finish coat',
      'Kitchen, Handles, hardware',
    ]);
    expect(finish[0]).toMatchObject({
      'Who said yes': 'M. Aldous',
      Why: 'the lighter one looked thin by the window',
    });
    expect(finish[0].Was).toContain('Reed Hollow');
    expect(finish[0].Is).toContain('Deep Lock');
    expect((finish[0].On as Date).toISOString().slice(0, 10)).toBe('2026-11-24');
    expect(Object.values(finish[1])).toContain('not yet');
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

describe('whatever a job holds', () => {
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
  test('the route sends it as a file to be kept, and a refusal as one sentence', async () => {
    process.env.BRUSHOUT_DATA = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-documents-'));
    try {
      const { db } = await store();
      const jobId = await jobs.create(db, 'Küche', chosenKitchen());
      const ask = async (document: string, query = '', id = jobId) => {
        const url = new URL(`http://127.0.0.1/api/jobs/${id}/documents/${document}${query}`);
        return await GET({ params: { jobId: id, document }, url } as never);
      };
      const answer = await ask('shopping-list.pdf', `?size=Letter&on=${TODAY}`);
      expect(answer.status).toBe(200);
      expect(answer.headers.get('content-type')).toBe('application/pdf');
      expect(answer.headers.get('content-disposition')).toBe(
        `attachment; filename="Kuche shopping-list.pdf"; filename*=UTF-8''K%C3%BCche%20shopping-list.pdf`,
      );
      const bytes = new Uint8Array(await answer.arrayBuffer());
      expect(Buffer.from(bytes.subarray(0, 5)).toString()).toBe('%PDF-');
      expect(answer.headers.get('content-length')).toBe(String(bytes.length));
      const refusals = [
        [await ask('nothing.pdf'), 404],
        [await ask('labels.pdf', '?size=A5'), 400],
        [await ask('labels.pdf', '', 'no-such-job'), 404],
      ] as const;
      for (const [refusal, status] of refusals) {
        expect(refusal.status).toBe(status);
        expect(((await refusal.json()) as { error: string }).error).toMatch(/^[A-Z].*\.$/);
      }
      await jobs.remove(db, jobId);
      expect((await ask('order-dates.ics')).status).toBe(404);
    } finally {
      await closeStore();
      fs.rmSync(process.env.BRUSHOUT_DATA, { recursive: true, force: true });
      delete process.env.BRUSHOUT_DATA;
    }
  });

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
