import { dayNumber } from '#lib/finish/index.ts';
import type { Job } from '#lib/job/index.ts';
import { labelPaper } from './label-sheet.ts';
import { PAPER_SIZES, type PaperSize } from './paper.ts';
import { Refusal } from './refusal.ts';
import { scheduleCalendar } from './schedule-calendar.ts';
import { scheduleContents, type ScheduleContents } from './schedule-contents.ts';
import { scheduleList } from './schedule-list.ts';
import { schedulePaper } from './schedule-paper.ts';
import { scheduleSheet } from './schedule-sheet.ts';
import { shoppingPaper } from './shopping-paper.ts';

/** A document as it is sent. */
export interface ScheduleDocument {
  readonly bytes: Uint8Array;
  readonly type: string;
  readonly fileName: string;
}

const PDF = 'application/pdf';
type Written = Buffer | string | Promise<Buffer>;

const DOCUMENTS: Readonly<
  Record<string, { type: string; write: (contents: ScheduleContents, size: PaperSize) => Written }>
> = {
  'finish-schedule.pdf': { type: PDF, write: schedulePaper },
  'shopping-list.pdf': { type: PDF, write: shoppingPaper },
  'labels.pdf': { type: PDF, write: labelPaper },
  'finish-schedule.xlsx': {
    type: 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet',
    write: scheduleSheet,
  },
  'finish-schedule.csv': { type: 'text/csv; charset=utf-8; header=present', write: scheduleList },
  'order-dates.ics': { type: 'text/calendar; charset=utf-8; method=PUBLISH', write: scheduleCalendar },
};

export const SCHEDULE_DOCUMENTS: readonly string[] = Object.keys(DOCUMENTS);

/** Years a document can speak of. */
const YEARS = ['1980-01-01', '2199-12-31'] as const;

/**
 * A document of a job's finish schedule. `on` is the day it speaks of, today where it is null; then it is made at the
 * start of that day, so that the same job gives the same document.
 * @throws Refusal 404 for a document there is not, 400 for a size of paper or a day that is none.
 */
export async function scheduleDocument(
  job: Job,
  {
    jobId,
    name,
    size,
    on,
    now,
  }: { jobId: string; name: string; size: string | null; on: string | null; now: Date },
): Promise<ScheduleDocument> {
  if (!Object.hasOwn(DOCUMENTS, name))
    throw new Refusal(404, `There is no such document; there are ${SCHEDULE_DOCUMENTS.join(', ')}.`);
  const paper = PAPER_SIZES.find((one) => one === (size ?? 'A4'));
  if (!paper) throw new Refusal(400, `Expected ${PAPER_SIZES.join(' or ')} as the size of the paper.`);
  if (on !== null && (dayNumber(on) === null || on < YEARS[0] || on > YEARS[1]))
    throw new Refusal(400, `Expected a day such as 2027-03-01, from ${YEARS[0]} to ${YEARS[1]}.`);
  const made = on === null ? now : new Date(`${on}T00:00:00Z`);
  const contents = scheduleContents(job, { jobId, today: on ?? dayOf(now), made });
  const { type, write } = DOCUMENTS[name];
  const written = await write(contents, paper);
  const bytes = typeof written === 'string' ? Buffer.from(written, 'utf8') : written;
  return { bytes, type, fileName: `${job.name.trim() || 'job'} ${name}` };
}

/** The day it is where the server stands. */
function dayOf(now: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/**
 * The header that names a file to be kept: in plain letters, and in full beside it (RFC 6266, RFC 8187). What could end the
 * header or leave the folder is gone from both.
 */
export function attachment(fileName: string): string {
  const safe = fileName
    .toWellFormed()
    .replace(/[\u0000-\u001f\u007f-\u009f\u200e\u200f\u202a-\u202e\u2066-\u2069\ufffd/\\:*?"<>|]/g, ' ')
    .replace(/\s+/g, ' ')
    .replace(/^[. ]+/, '');
  const plain = safe
    .normalize('NFKD')
    .replace(/[^\u0020-\u007e]/g, '')
    .replace(/[%;'"]/g, '')
    .replace(/\s+/g, ' ')
    .trim();
  const full = encodeURIComponent(safe).replace(
    /['()*]/g,
    (mark) => `%${mark.charCodeAt(0).toString(16).toUpperCase()}`,
  );
  return `attachment; filename="${plain}"; filename*=UTF-8''${full}`;
}
