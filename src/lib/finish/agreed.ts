import { moneyWords } from './money.ts';
import { quantityWords } from './purchase.ts';
import type { Quantity } from './purchase.ts';
import { finishWords } from './schedule.ts';
import type { FinishSchedule, NamedFinish } from './schedule.ts';
import type { UnitSystem } from './units.ts';
import { dateWords } from './working-days.ts';
import type { IsoDate } from './working-days.ts';

/** A line of the schedule as it stood when it was agreed: plain JSON, to be kept with the agreed round. */
export interface AgreedLine {
  readonly id: string;
  readonly room: string;
  readonly surface: string;
  readonly role: string;
  readonly finish: NamedFinish | null;
  readonly need: Quantity | null;
  /** Smallest units of the currency, tax included. */
  readonly gross: number | null;
  readonly neededOn: IsoDate | null;
}

/** Why a line was changed after it was agreed, and who said yes to it. */
export interface ChangeNote {
  readonly why: string;
  readonly who: string;
  readonly on: IsoDate | null;
}

export const CHANGED_FIELDS = ['line', 'finish', 'quantity', 'cost', 'date'] as const;
export type ChangedField = (typeof CHANGED_FIELDS)[number];

/** One difference between what was agreed and what is. */
export interface ScheduleChange {
  readonly lineId: string;
  readonly room: string;
  readonly surface: string;
  readonly role: string;
  readonly field: ChangedField;
  /** In words; '' where there was, or is, nothing. */
  readonly was: string;
  readonly is: string;
  readonly why: string;
  readonly who: string;
  readonly on: IsoDate | null;
  /** Whether somebody said yes to it. */
  readonly agreed: boolean;
  /** 'Kitchen, walls: finish was …, is … . Why: … . Yes from … .' */
  readonly words: string;
}

/** Quantities closer than this are the same; a take-off that was rounded and read back differs by less. */
const SAME_QUANTITY = 0.001;

/** The lines of a schedule as they are to be kept when it is agreed. */
export function agreedLines(schedule: FinishSchedule): AgreedLine[] {
  return schedule.lines.map(({ item, need, cost, neededOn }) => ({
    id: item.id,
    room: item.room,
    surface: item.surface,
    role: item.role,
    finish: item.finish,
    need,
    gross: cost?.gross ?? null,
    neededOn,
  }));
}

/**
 * What differs between the agreed lines and those of now, line by line in the order of now, lines that are gone last. Each
 * says what was, what is, why and who said yes, from the notes filed under the line's id; without a name in `who` nobody has
 * said yes yet.
 */
export function scheduleChanges(
  agreed: readonly AgreedLine[],
  now: readonly AgreedLine[],
  {
    notes,
    currency,
    system,
  }: {
    readonly notes: Readonly<Record<string, ChangeNote>>;
    readonly currency: string;
    readonly system: UnitSystem;
  },
): ScheduleChange[] {
  const before = new Map(agreed.map((line) => [line.id, line]));
  const after = new Set(now.map(({ id }) => id));
  const finish = (line: AgreedLine) => (line.finish ? finishWords(line.finish) : 'no finish');
  const quantity = ({ need }: AgreedLine) =>
    need ? quantityWords(need.amount, need.unit, system) : 'not known';
  const money = ({ gross }: AgreedLine) => (gross === null ? 'no price' : moneyWords(gross, currency));
  const date = ({ neededOn }: AgreedLine) => (neededOn === null ? 'no date' : dateWords(neededOn));
  const change = (
    line: AgreedLine,
    field: ChangedField,
    [was, is]: readonly [string, string],
  ): ScheduleChange => {
    const note = Object.hasOwn(notes, line.id) ? notes[line.id] : { why: '', who: '', on: null };
    const place = [line.room, line.surface, line.role].filter(Boolean).join(', ');
    const said =
      field === 'line'
        ? is === ''
          ? `taken out; was ${was}`
          : `new: ${is}`
        : `${field} was ${was}, is ${is}`;
    const yes = note.who
      ? `Yes from ${note.who}${note.on ? `, ${dateWords(note.on)}` : ''}.`
      : 'Nobody has said yes to it yet.';
    return {
      lineId: line.id,
      room: line.room,
      surface: line.surface,
      role: line.role,
      field,
      was,
      is,
      ...note,
      agreed: note.who !== '',
      words: `${place}: ${said}. ${note.why ? `Why: ${note.why.replace(/\.$/, '')}. ` : ''}${yes}`,
    };
  };
  const changed = now.flatMap((line) => {
    const old = before.get(line.id);
    if (!old) return [change(line, 'line', ['', `${finish(line)}, ${quantity(line)}, ${money(line)}`])];
    const fields: ScheduleChange[] = [];
    if (finish(old) !== finish(line)) fields.push(change(line, 'finish', [finish(old), finish(line)]));
    if (!sameQuantity(old.need, line.need))
      fields.push(change(line, 'quantity', [quantity(old), quantity(line)]));
    if (old.gross !== line.gross) fields.push(change(line, 'cost', [money(old), money(line)]));
    if (old.neededOn !== line.neededOn) fields.push(change(line, 'date', [date(old), date(line)]));
    return fields;
  });
  const gone = agreed
    .filter(({ id }) => !after.has(id))
    .map((line) => change(line, 'line', [`${finish(line)}, ${quantity(line)}, ${money(line)}`, '']));
  return [...changed, ...gone];
}

function sameQuantity(a: Quantity | null, b: Quantity | null): boolean {
  if (!a || !b) return a === b;
  return a.unit === b.unit && Math.abs(a.amount - b.amount) <= SAME_QUANTITY * Math.max(a.amount, b.amount);
}
