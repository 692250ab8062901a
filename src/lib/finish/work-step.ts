import type { Application } from './coats.ts';
import { OTHER_LABOUR, USUAL_DRYING } from './labour.ts';
import type { SurfaceWork, WorkKind } from './surface-work.ts';

export const STEP_TASKS = [
  'cover',
  'take off',
  'clean',
  'holes',
  'sand',
  'dust off',
  'prime',
  'coat',
  'hang',
  'template',
  'fit counter',
  'lay tiles',
  'grout',
  'lay floor',
  'fit hardware',
] as const;
export type StepTask = (typeof STEP_TASKS)[number];

/** One step of a plan, before it has a date. */
export interface WorkStep {
  /** Stays the same as long as the work does: 'surface/coat-2', 'surface/coat-1/side-2/batch-1'. */
  readonly id: string;
  /** Null where it is for the whole room. */
  readonly surfaceId: string | null;
  readonly room: { readonly id: string; readonly name: string };
  readonly surface: string;
  readonly kind: WorkKind | null;
  readonly task: StepTask;
  /** 'Prime the first side of doors 1-8'. */
  readonly words: string;
  /** Working hours of one person. */
  readonly hours: number;
  readonly hoursFrom: 'usual' | 'guess' | 'yours';
  /** Elapsed hours after the work before what follows may begin; 0 where nothing dries. */
  readonly waits: number;
  readonly waitsFrom: 'given' | 'usual' | null;
  /** Who does it instead of us; null where we do. */
  readonly trade: string | null;
  /** Ids of the steps it follows. */
  readonly after: readonly string[];
  readonly finishId: string | null;
  /** Which doors lie in the drying space from the first of these steps until the last is dry. */
  readonly batch: { readonly id: string; readonly pieces: number } | null;
  readonly application: Application;
  readonly twoPart: boolean | null;
  readonly solventBased: boolean | null;
}

/** A step whose place among the others is still being found. */
export type Draft = { -readonly [Key in keyof WorkStep]: WorkStep[Key] } & { after: string[] };

/** Ids of those steps that there are. */
export const idsOf = (...drafts: (Draft | null)[]) => drafts.flatMap((draft) => (draft ? [draft.id] : []));

/** The steps of a room as they are thought of, in order. */
export class RoomSteps {
  readonly drafts: Draft[] = [];
  readonly #room: SurfaceWork['room'];

  constructor(room: SurfaceWork['room']) {
    this.#room = room;
  }

  cover(): Draft {
    const words = 'Cover the floor and what stays in the room';
    return this.#push(`room:${this.#room.id}/cover`, null, {
      task: 'cover',
      words,
      hours: OTHER_LABOUR.coverRoom,
    });
  }

  add(
    surface: SurfaceWork,
    id: string,
    given: Partial<Draft> & { task: StepTask; words: string; hours: number },
  ): Draft {
    return this.#push(`${surface.id}/${id}`, surface, given);
  }

  #push(
    id: string,
    surface: SurfaceWork | null,
    given: Partial<Draft> & { task: StepTask; words: string; hours: number },
  ): Draft {
    const draft: Draft = {
      surfaceId: surface?.id ?? null,
      room: this.#room,
      surface: surface?.name ?? '',
      kind: surface?.kind ?? null,
      hoursFrom: 'usual',
      waits: 0,
      waitsFrom: given.waits ? 'usual' : null,
      trade: null,
      after: [],
      finishId: null,
      batch: null,
      application: surface?.application ?? 'brush and roller',
      twoPart: surface ? surface.twoPart : false,
      solventBased: surface ? surface.solventBased : false,
      ...given,
      id,
    };
    this.drafts.push(draft);
    return draft;
  }
}

/** Cleaned, filled, sanded and dusted off; the last of these steps. */
export function prepared(
  surface: SurfaceWork,
  {
    steps,
    covered,
    what,
    suffix,
    per,
    hoursFrom = 'usual',
    holes = null,
  }: {
    steps: RoomSteps;
    covered: Draft | null;
    what: string;
    suffix: string;
    per: (task: 'clean' | 'sand' | 'dustOff') => number;
    hoursFrom?: 'usual' | 'guess';
    holes?: number | null;
  },
): Draft {
  const washed = steps.add(surface, `clean${suffix}`, {
    task: 'clean',
    words: `Clean and degrease ${what}`,
    hours: per('clean'),
    hoursFrom,
    waits: USUAL_DRYING.washed,
    after: idsOf(covered),
  });
  const drilled =
    holes === null
      ? null
      : steps.add(surface, `holes${suffix}`, {
          task: 'holes',
          words: `Fill old handle holes and drill the new ones in ${what}`,
          hours: holes,
          after: idsOf(washed),
        });
  const sanded = steps.add(surface, `sand${suffix}`, {
    task: 'sand',
    words: `Fill and sand ${what}`,
    hours: per('sand'),
    hoursFrom,
    after: idsOf(drilled ?? washed),
  });
  return steps.add(surface, `dust-off${suffix}`, {
    task: 'dust off',
    words: `Dust off ${what}`,
    hours: per('dustOff'),
    hoursFrom,
    after: idsOf(sanded),
  });
}

export interface Coat {
  readonly id: string;
  readonly name: string;
  readonly first: boolean;
  readonly last: boolean;
  readonly step: { task: 'prime' | 'coat'; finishId: string | null };
}

export function coatsOf({ primer, coats, finishes }: SurfaceWork): Coat[] {
  const paint = Array.from({ length: coats }, (_, k): Coat => ({
    id: `coat-${k + 1}`,
    name: coats === 1 ? '' : `coat ${k + 1} of ${coats}`,
    first: k === 0 && !primer,
    last: k === coats - 1,
    step: { task: 'coat', finishId: finishes['finish coat'] ?? null },
  }));
  const step = { task: 'prime', finishId: finishes.primer ?? null } as const;
  return primer ? [{ id: 'prime', name: '', first: true, last: false, step }, ...paint] : paint;
}

export function coatWords({ name, first, step }: Coat, what: string, wall: boolean): string {
  const verb = step.task === 'prime' ? 'Prime' : first || wall ? 'Paint' : 'Sand lightly and paint';
  return `${verb} ${what}${name && `, ${name}`}`;
}

export function dryingOf(
  { drying }: SurfaceWork,
  { coat, wall }: { coat: Coat; wall: boolean },
): { waits: number; waitsFrom: 'given' | 'usual' } {
  const between = wall ? USUAL_DRYING.wallCoat : USUAL_DRYING.enamelCoat;
  const [said, usual] =
    coat.step.task === 'prime'
      ? [drying.primer, USUAL_DRYING.primer]
      : coat.last && !wall
        ? [drying.handle, USUAL_DRYING.handling]
        : [drying.recoat, between];
  return said === null ? { waits: usual, waitsFrom: 'usual' } : { waits: said, waitsFrom: 'given' };
}
