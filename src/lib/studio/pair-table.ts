import {
  PAIRING_RULE,
  type FinishInput,
  type LightInput,
  type MeetingFinish,
  type PairingKind,
  type PairingReport,
  type SchemeInput,
  type SchemeMeeting,
} from '#lib/finish/index.ts';
import { finishInput, inOrder, swatchTitle, type Id, type Job, type Surface } from '#lib/job/index.ts';

/** A surface of a room and what is on it, or would be in the scheme that is looked at. */
export interface TableFinish {
  readonly surfaceId: Id;
  readonly surfaceName: string;
  /** That of the surface; 'changed' where a scheme puts another finish in the place of one that is fixed or chosen. */
  readonly state: Surface['state'] | 'changed';
  /** Null while nothing is on it, or what is has no colour. */
  readonly finish: FinishInput | null;
  /** CIELAB units; null where nobody measured it. */
  readonly busyness: number | null;
  /** The finish as people call it; '' without one. */
  readonly title: string;
}

/**
 * What is on each surface of a room: what a scheme's `choices` (surface to swatch) say, else what is fixed, chosen, locked
 * or considered. `input` is that of `schemeInput` for the same room.
 */
export function tableFinishes(
  job: Job,
  input: Pick<SchemeInput, 'places'>,
  { roomId, choices }: { roomId: Id; choices: Readonly<Record<Id, Id>> },
): TableFinish[] {
  return inOrder(job.surfaces)
    .filter((surface) => surface.roomId === roomId)
    .map(({ id, name, state, swatchId }): TableFinish => {
      const place = input.places.find(({ surfaceId }) => surfaceId === id);
      const on = choices[id] ?? place?.held ?? place?.current ?? (state === 'open' ? null : swatchId);
      const swatch = on === null ? undefined : job.swatches[on];
      return {
        surfaceId: id,
        surfaceName: name,
        state: state !== 'open' && swatchId !== null && on !== swatchId ? 'changed' : state,
        finish: swatch ? finishInput(swatch) : null,
        busyness: place?.options.find((option) => option.id === on)?.busyness ?? null,
        title: swatch ? swatchTitle(swatch) : '',
      };
    });
}

/** Two rows of the table: the later one first, as it is the row and the earlier one the column. */
export interface TablePair {
  readonly key: string;
  readonly row: TableFinish & { readonly finish: FinishInput };
  readonly column: TableFinish & { readonly finish: FinishInput };
  /** How much the two are seen together, 0-1. */
  readonly contact: number;
  /** Whether they touch or lie side by side; two that do not are only seen together. */
  readonly meets: boolean;
  readonly mustBeSeen: boolean;
}

/**
 * Contact from which on two surfaces count as meeting: above what any two surfaces of a room have. Common practice, no
 * published source.
 */
const MEETS_FROM = 0.45;

const isCovered = (one: TableFinish): one is TablePair['row'] => one.finish !== null;

/** The finishes that take part, in their order. */
export function covered(finishes: readonly TableFinish[]): TablePair['row'][] {
  return finishes.filter(isCovered);
}

/** Every two surfaces with a finish, row by row of the lower triangle. A pair that no meeting names is only seen together. */
export function tablePairs(
  finishes: readonly TableFinish[],
  meetings: readonly SchemeMeeting[],
): TablePair[] {
  const found = new Map(meetings.map((meeting) => [pairKey(meeting.a, meeting.b), meeting]));
  const rows = covered(finishes);
  return rows.flatMap((row, i) =>
    rows.slice(0, i).map((column): TablePair => {
      const key = pairKey(row.surfaceId, column.surfaceId);
      const { contact = 0, mustBeSeen = false } = found.get(key) ?? {};
      return { key, row, column, contact, mustBeSeen, meets: mustBeSeen || contact >= MEETS_FROM };
    }),
  );
}

/** The same for two surfaces either way round. */
export function pairKey(a: Id, b: Id): string {
  return [a, b].toSorted().join(' ');
}

/** What is asked of the worker: pairs as places among the finishes, the earlier surface first. */
export interface PairQuestion {
  readonly finishes: readonly MeetingFinish[];
  readonly pairs: readonly (readonly [first: number, second: number, mustBeSeen: boolean])[];
  readonly lights: readonly LightInput[];
}

/**
 * Reports that are known already, so that looking through schemes asks only for pairs not met before. The light they are made
 * for goes with them: with other lights all is forgotten.
 */
export class KnownPairs {
  readonly #ask: (question: PairQuestion) => Promise<PairingReport[]>;
  readonly #known = new Map<string, PairingReport>();
  #lights = '';

  constructor(ask: (question: PairQuestion) => Promise<PairingReport[]>) {
    this.#ask = ask;
  }

  /** Reports on the pairs, by key; asks for those that are new. */
  async reports(
    pairs: readonly TablePair[],
    lights: readonly LightInput[],
  ): Promise<ReadonlyMap<string, AnsweredPair>> {
    const under = JSON.stringify(lights);
    if (under !== this.#lights || this.#known.size > MOST_KNOWN) this.#known.clear();
    this.#lights = under;
    const wanted = pairs.filter((pair) => !this.#known.has(identity(pair)));
    if (wanted.length > 0) {
      const answers = await this.#ask(pairQuestion(wanted, lights));
      wanted.forEach((pair, i) => this.#known.set(identity(pair), answers[i]));
    }
    return new Map(
      pairs.map((pair) => [pair.key, { identity: identity(pair), report: this.#known.get(identity(pair))! }]),
    );
  }
}

/** Reports kept: some hundred kilobytes. */
const MOST_KNOWN = 2000;

/** A report and what it is about, so that it is not shown for another pair while that is being worked out. */
export interface AnsweredPair {
  readonly identity: string;
  readonly report: PairingReport;
}

/** Everything a report on a pair depends on but the lights. */
export function identity({ row, column, mustBeSeen }: TablePair): string {
  return JSON.stringify([meeting(column), meeting(row), mustBeSeen]);
}

function meeting({ finish, surfaceName, busyness }: TablePair['row']): MeetingFinish {
  return { finish, surfaceName, busyness };
}

/** Pairs as the worker reads them, each finish once. */
export function pairQuestion(pairs: readonly TablePair[], lights: readonly LightInput[]): PairQuestion {
  const rows = [...new Set(pairs.flatMap(({ row, column }) => [column, row]))];
  return {
    finishes: rows.map(meeting),
    pairs: pairs.map(({ row, column, mustBeSeen }) => [rows.indexOf(column), rows.indexOf(row), mustBeSeen]),
    lights,
  };
}

/** What a cell shows of a report. */
export interface PairGist {
  readonly kind: PairingKind;
  readonly severity: 'good' | 'note' | 'fault';
  /** Whether the kind itself is what is wrong. */
  readonly kindIsFault: boolean;
  /** Other faults, and without any the first note, in two or three words each. */
  readonly said: readonly string[];
  /** How the edge stands that must be seen: 'edge 41 points'; null where none must, or where it is among the faults. */
  readonly edge: string | null;
}

/** A report in the words of a cell. */
export function pairGist(report: PairingReport): PairGist {
  const { findings, edge } = report;
  const { kind } = report.worst;
  const faults = findings.filter(({ severity }) => severity === 'fault');
  const kindIsFault =
    kind === 'near miss' &&
    faults.some(({ rule }) => rule === PAIRING_RULE.step || rule === PAIRING_RULE.whites);
  const others = faults.filter(
    ({ rule }) => !kindIsFault || (rule !== PAIRING_RULE.step && rule !== PAIRING_RULE.whites),
  );
  const notes = findings.filter(({ severity }) => severity === 'note');
  const said = faults.length > 0 ? others : notes.slice(0, 1);
  const edgeSaid = said.some(({ rule }) => rule === PAIRING_RULE.edge);
  return {
    kind,
    severity: findings[0].severity,
    kindIsFault,
    said: said.map(({ rule }) => shortWords(rule, report)),
    edge: edge && !edgeSaid ? `edge ${points(edge.points)}` : null,
  };
}

/** To a tenth, as what is 30.0 is enough and 29.9 is not. */
const points = (value: number) => `${value.toFixed(1)} points`;

/** What a rule found, in two or three words. */
function shortWords(rule: string, { worst, edge, undertone }: PairingReport): string {
  switch (rule) {
    case PAIRING_RULE.step:
    case PAIRING_RULE.whites:
      if (worst.kind === 'near miss') return 'nearly alike';
      return worst.couldAlsoBe.includes('near miss') ? 'may be a near miss' : 'a small step';
    case PAIRING_RULE.lights:
      return 'lights disagree';
    case PAIRING_RULE.undertone:
      if (undertone.relation === 'clash') return 'undertones clash';
      return undertone.relation === 'differ' ? 'undertones differ' : 'undertones may clash';
    case PAIRING_RULE.busyness:
      return 'both busy';
    case PAIRING_RULE.edge:
      return edge && !edge.enough ? `faint edge, ${points(edge.points)}` : 'edge may be faint';
    default:
      return rule.toLowerCase();
  }
}

/** A pair with its report and its gist. */
export interface JudgedPair {
  readonly pair: TablePair;
  readonly report: PairingReport;
  readonly gist: PairGist;
}

const SEVERITIES: readonly PairGist['severity'][] = ['fault', 'note', 'good'];

/** The worst first: by severity, then by how good the pairing is, then by how much the two are seen together. */
export function worstFirst(judged: readonly JudgedPair[]): JudgedPair[] {
  const rank = ({ gist }: JudgedPair) => SEVERITIES.indexOf(gist.severity);
  return judged.toSorted(
    (p, q) =>
      rank(p) - rank(q) ||
      p.report.worst.desirability - q.report.worst.desirability ||
      q.pair.contact - p.pair.contact,
  );
}

/** How all pairs stand, in a sentence: 'Of 10 pairs that meet 2 are at fault and 3 need a look; 5 are well.' */
export function tableWords(judged: readonly JudgedPair[]): string {
  const meeting = judged.filter(({ pair }) => pair.meets);
  if (meeting.length === 0) return 'No two of these finishes meet.';
  const count = (severity: PairGist['severity']) =>
    meeting.filter(({ gist }) => gist.severity === severity).length;
  const [faults, notes, good] = SEVERITIES.map(count);
  const of = meeting.length === 1 ? 'Of the one pair that meets' : `Of ${meeting.length} pairs that meet`;
  const parts = [
    ...(faults > 0 ? [`${faults} ${faults === 1 ? 'has' : 'have'} a fault`] : []),
    ...(notes > 0 ? [`${notes} ${notes === 1 ? 'needs' : 'need'} a look`] : []),
    ...(good > 0 ? [`${good} ${good === 1 ? 'sits' : 'sit'} well together`] : []),
  ];
  const listed = parts.length > 1 ? `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}` : parts[0];
  return `${of}, ${listed}.`;
}

/** A cell of the lower triangle: row 1 and up, column 0 to row less 1. */
export interface Cell {
  readonly row: number;
  readonly column: number;
}

/** The cell an arrow key, Home or End leads to in a triangle of `rows` finishes; null for any other key. */
export function cellBeside({ row, column }: Cell, key: string, rows: number): Cell | null {
  switch (key) {
    case 'ArrowUp':
      return { row: Math.max(column + 1, row - 1), column };
    case 'ArrowDown':
      return { row: Math.min(rows - 1, row + 1), column };
    case 'ArrowLeft':
      return { row, column: Math.max(0, column - 1) };
    case 'ArrowRight':
      return { row, column: Math.min(row - 1, column + 1) };
    case 'Home':
      return { row, column: 0 };
    case 'End':
      return { row, column: row - 1 };
    default:
      return null;
  }
}
