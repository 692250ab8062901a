/** Surfaces and rooms of one name in the documents that are handed on: every reader knows which one a line means. */
import XLSX from '@e965/xlsx';
import { beforeAll, describe, expect, test } from 'vitest';
import { parseJob, planOf, type Job } from '#lib/job/index.ts';
import { chosenKitchen, TODAY } from '../job/sample-kitchen.ts';
import { bookOf, calendarOf, listOf, pagesOf } from './schedule-reading.ts';

/** Two kitchens of one name: in one the walls and the cabinets twice, walls in the other, and its own floor. */
function alike(): Job {
  const job = chosenKitchen();
  job.rooms.second = { ...job.rooms.kitchen, id: 'second', order: 2 };
  const copy = (id: string, of: string, fields: Partial<Job['surfaces'][string]>) => {
    const order = Object.keys(job.surfaces).length + 1;
    job.surfaces[id] = { ...structuredClone(job.surfaces[of]), id, order, ...fields };
  };
  copy('walls-2', 'walls', {});
  copy('cabinets-2', 'cabinets', {});
  copy('walls-3', 'walls', { roomId: 'second' });
  copy('floor-2', 'floor', { roomId: 'second', name: 'Floor' });
  return parseJob(job);
}

const PLACES = ['Kitchen 1, Walls 1', 'Kitchen 1, Walls 2', 'Kitchen 2, Walls'];
const CABINETS = ['Kitchen 1, Cabinets 1', 'Kitchen 1, Cabinets 2'];
const job = alike();
let book: XLSX.WorkBook;
const rowsOf = (sheet: string) => XLSX.utils.sheet_to_json<Record<string, unknown>>(book.Sheets[sheet]);
const placesOf = (rows: readonly Record<string, unknown>[]) =>
  rows.flatMap(({ Room, Surface }) => (Surface ? [`${Room}, ${Surface}`] : []));

beforeAll(async () => {
  book = await bookOf(job);
});

describe('surfaces of one name', () => {
  test('have rows of their own in every sheet of the workbook', () => {
    const lines = placesOf(rowsOf('Finish schedule'));
    for (const place of PLACES) expect(lines.filter((one) => one === place)).toHaveLength(1);
    // A line of primer and one of paint.
    for (const place of CABINETS) expect(lines.filter((one) => one === place)).toHaveLength(2);
    expect(lines).not.toContain('Kitchen, Walls');
    const others = ['Kitchen 1, Counter', 'Kitchen 1, Backsplash', 'Kitchen 1, Floor', 'Kitchen 1, Handles'];
    expect(new Set(lines)).toEqual(new Set([...PLACES, ...CABINETS, ...others, 'Kitchen 2, Floor']));
    expect(new Set(placesOf(rowsOf('Take-off')))).toEqual(new Set(lines));
    const bought = rowsOf('Orders').map((row) => String(row.For));
    for (const place of [...PLACES, ...CABINETS])
      expect(bought.filter((words) => words.includes(place)).length).toBeGreaterThan(0);
  });

  test('are told apart on paper: schedule, orders, take-off, steps, shopping list and labels', async () => {
    const papers = ['finish-schedule.pdf', 'shopping-list.pdf', 'labels.pdf'];
    for (const name of papers) {
      const all = (await pagesOf(job, name)).join(' ');
      expect([name, /\bKitchen, /.test(all)]).toEqual([name, false]);
      for (const place of [...PLACES, ...CABINETS])
        expect([name, all]).toEqual([name, expect.stringContaining(place)]);
    }
  });

  test('have orders and steps of their own in the calendar and lines of their own in the list', async () => {
    const { events } = await calendarOf(job);
    const told = events.map(({ summary, description }) => `${summary}\n${description}`).join('\n');
    for (const place of [...PLACES, ...CABINETS]) expect(told).toContain(place);
    expect(told).not.toContain('Kitchen, ');
    const { plan } = planOf(job, { today: TODAY });
    const steps = events.map(({ summary }) => summary).filter((words) => words.startsWith('Kitchen'));
    expect(steps).toHaveLength(plan.steps.length);
    expect(new Set(steps).size).toBe(steps.length);
    const list = await listOf(job);
    for (const place of PLACES) expect(list).toContain(`line,${place.replace(', ', ',')},`);
  });
});

test('names that stand alone are those of the job', async () => {
  const all = (await pagesOf(chosenKitchen(), 'finish-schedule.pdf')).join(' ');
  expect(all).toContain('Kitchen, Walls');
  expect(all).not.toMatch(/(Kitchen|Walls|Cabinets|Counter|Handles|Floor) \d,/);
});
