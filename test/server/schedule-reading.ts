import XLSX from '@e965/xlsx';
import ICAL from 'ical.js';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import { agreedLines } from '#lib/finish/index.ts';
import { parseJob, planOf, type Job } from '#lib/job/index.ts';
import { scheduleDocument } from '#lib/server/schedule-documents.ts';
import { TODAY, chosenKitchen } from '../job/sample-kitchen.ts';

// Documents of a schedule read back by pdf.js, SheetJS and ical.js, which share nothing with the libraries that write.

export const NOW = new Date(Date.UTC(2026, 10, 26, 9));

export const written = async (job: Job, name: string, size: string | null = null) =>
  await scheduleDocument(job, { jobId: 'job1', name, size, on: TODAY, now: NOW });

export async function pagesOf(job: Job, name: string, size = 'A4'): Promise<string[]> {
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

export async function bookOf(job: Job): Promise<XLSX.WorkBook> {
  const { bytes } = await written(job, 'finish-schedule.xlsx');
  return XLSX.read(bytes, { cellDates: true, cellFormula: true, sheetStubs: true });
}

export async function calendarOf(job: Job) {
  const { bytes } = await written(job, 'order-dates.ics');
  const root = new ICAL.Component(ICAL.parse(Buffer.from(bytes).toString('utf8')));
  return { root, events: root.getAllSubcomponents('vevent').map((one) => new ICAL.Event(one)) };
}

export const listOf = async (job: Job) =>
  Buffer.from((await written(job, 'finish-schedule.csv')).bytes).toString('utf8');

/** Agreed as it stood with the other paint, changed since with a yes, and a line nobody has said yes to. */
export function changedKitchen(): Job {
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

/** Surfaces whose text is of many scripts, runs the other way, never breaks or holds what no file may. */
export function wildKitchen(surfaces: number): Job {
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
