import { FieldCheck } from './field-check.ts';
import { frontSteps } from './front-steps.ts';
import { FABRICATION, GUESSED_SIZE, IN_PLACE_LABOUR, OTHER_LABOUR, USUAL_DRYING } from './labour.ts';
import type { FieldProblem } from './parts.ts';
import { WORK_KINDS, frontCount, isPainted, soundSurfaces } from './surface-work.ts';
import type { PaintKind, SurfaceWork, WorkKind } from './surface-work.ts';
import { RoomSteps, coatWords, coatsOf, dryingOf, idsOf, prepared } from './work-step.ts';
import type { Draft, WorkStep } from './work-step.ts';

export interface StepList {
  readonly steps: readonly WorkStep[];
  /** Doors and drawer fronts that can lie drying at once. */
  readonly space: number;
  readonly problems: readonly FieldProblem[];
  /** What was guessed because it is not known, a sentence each. */
  readonly guessed: readonly string[];
}

/** What must be done in a room before a kind of work begins: its painting, laying or fitting, not its cleaning and sanding. */
const FOLLOWS: Readonly<Record<WorkKind, readonly WorkKind[]>> = {
  'paint ceiling': [],
  'paint walls': ['paint ceiling'],
  'paint cabinets': ['paint ceiling', 'paint walls'],
  'paint doors': ['paint ceiling', 'paint walls'],
  'fit counter': ['paint cabinets'],
  tile: ['paint ceiling', 'paint walls', 'fit counter'],
  'lay floor': ['paint ceiling', 'paint walls', 'paint cabinets', 'fit counter', 'tile'],
  'paint trim': ['paint ceiling', 'paint walls', 'lay floor'],
  'fit hardware': WORK_KINDS.filter((kind) => kind !== 'fit hardware'),
};
/** Doors and drawer fronts are hung once these are done. */
const HUNG_AFTER: readonly WorkKind[] = [
  'paint ceiling',
  'paint walls',
  'paint cabinets',
  'fit counter',
  'tile',
  'lay floor',
];

/** What the order of a room hangs on, of one surface. */
interface Run {
  readonly surface: SurfaceWork;
  /** Last step that raises dust in the room. */
  readonly dusty: Draft | null;
  /** First step that makes, lays or fits something, and the last. */
  readonly begin: Draft | null;
  readonly done: Draft | null;
  readonly hang: Draft | null;
}

/**
 * The steps of the work in order, with what each follows. In each room: floor covered first; ceiling before walls before
 * cabinets on the wall; no coat while something is still sanded there; counter measured when the base cabinets stand, tile
 * after the counter, floor, trim, hardware last. Cabinet boxes are painted in place, doors and drawer fronts off site in
 * batches the drying space holds: one side with all its coats, dry, turned, the other. Light sanding and dusting off
 * belong to the coat they come before. A room's doors are painted hanging.
 * Common practice, no published source. Faulty fields are named and replaced by the usual; nothing throws.
 */
export function planSteps(
  surfaces: readonly SurfaceWork[],
  { space, hours }: { readonly space: number | null; readonly hours: Readonly<Record<string, number>> },
): StepList {
  const check = new FieldCheck('metric');
  const sound = soundSurfaces(surfaces, check);
  const fronts = sound.reduce((sum, one) => sum + (one.kind === 'paint cabinets' ? frontCount(one) : 0), 0);
  const given =
    space !== null && check.count(space, 'space', { what: 'number of doors the drying space holds' });
  const room = given ? space! : Math.max(1, Math.ceil(fronts / 2));
  const drafts: Draft[] = [];
  for (const id of new Set(sound.map((one) => one.room.id))) {
    const own = sound.filter((one) => one.room.id === id);
    const steps = new RoomSteps(own[0].room);
    const covered = own.some(({ kind }) => kind !== 'fit hardware') ? steps.cover() : null;
    inOrder(own.map((surface) => surfaceRun(surface, { steps, covered, space: room })));
    drafts.push(...steps.drafts);
  }
  for (const [id, value] of Object.entries(hours)) {
    const path = `hours.${id}`;
    const draft = drafts.find((one) => one.id === id);
    if (!draft)
      check.warn(path, 'The step these hours were set for is no longer in the plan; they are kept.');
    else if (check.within(value, path, { least: 0.25, most: 400, what: 'number of hours' }))
      Object.assign(draft, { hours: value, hoursFrom: 'yours' });
  }
  const guessed: string[] = [];
  for (const { id, name, kind, room: of } of sound) {
    const own = drafts.filter(({ surfaceId }) => surfaceId === id);
    if (own.length === 0) guessed.push(`${of.name}, ${name}: nothing is planned, as there is nothing of it.`);
    if (own.some(({ hoursFrom }) => hoursFrom === 'guess'))
      guessed.push(`${of.name}, ${name}: its size is not known; ${guessedSize(kind)} counted with.`);
  }
  return { steps: drafts, space: room, problems: check.problems, guessed };
}

function guessedSize(kind: WorkKind): string {
  const { size } = sizeOf(kind, null);
  return kind === 'fit hardware' ? `${size} pieces are` : `${size} m² are`;
}

/** m², pieces of hardware or doors of a room. */
function sizeOf(
  kind: WorkKind,
  known: number | null,
): { readonly size: number; readonly hoursFrom: 'usual' | 'guess' } {
  if (known !== null) return { size: known, hoursFrom: 'usual' };
  return { size: GUESSED_SIZE[kind] ?? 0, hoursFrom: 'guess' };
}

interface RunContext {
  readonly steps: RoomSteps;
  readonly covered: Draft | null;
  readonly space: number;
}

function surfaceRun(surface: SurfaceWork, context: RunContext): Run {
  const { steps, covered } = context;
  const { kind, finishes } = surface;
  const { size, hoursFrom } = sizeOf(kind, kind === 'fit hardware' ? surface.pieces : surface.area);
  const only = (draft: Draft, done = draft): Run => ({
    surface,
    dusty: null,
    begin: draft,
    done,
    hang: null,
  });
  switch (kind) {
    case 'fit counter': {
      const template = steps.add(surface, 'template', {
        task: 'template',
        words: 'Measure for the counter; the base cabinets stand and move no more',
        hours: OTHER_LABOUR.template,
        waits: surface.fabricationDays === null ? FABRICATION : surface.fabricationDays * 24,
        waitsFrom: surface.fabricationDays === null ? 'usual' : 'given',
        trade: 'stonemason',
        after: idsOf(covered),
      });
      return only(
        steps.add(surface, 'fit', {
          task: 'fit counter',
          words: 'Fit the counter',
          hours: OTHER_LABOUR.fitCounter,
          trade: 'stonemason',
          after: idsOf(template),
          finishId: finishes.slab ?? null,
        }),
      );
    }
    case 'tile': {
      const lay = steps.add(surface, 'lay', {
        task: 'lay tiles',
        words: 'Lay the tiles',
        hours: size * OTHER_LABOUR.tile,
        hoursFrom,
        waits: USUAL_DRYING.tile,
        after: idsOf(covered),
        finishId: finishes.tile ?? null,
      });
      const grout = steps.add(surface, 'grout', {
        task: 'grout',
        words: 'Grout the tiles',
        hours: size * OTHER_LABOUR.grout,
        hoursFrom,
        waits: USUAL_DRYING.grout,
        after: idsOf(lay),
      });
      return only(lay, grout);
    }
    case 'lay floor':
      return only(
        steps.add(surface, 'lay', {
          task: 'lay floor',
          words: 'Lay the floor, and cover it again',
          hours: size * OTHER_LABOUR.floor,
          hoursFrom,
          after: idsOf(covered),
          finishId: finishes.other ?? null,
        }),
      );
    case 'fit hardware':
      return only(
        steps.add(surface, 'fit', {
          task: 'fit hardware',
          words: 'Fit the hardware',
          hours: size * OTHER_LABOUR.hardware,
          hoursFrom,
          after: idsOf(covered),
          finishId: finishes.hardware ?? null,
        }),
      );
    default:
      return paintRun(surface, { ...context, kind });
  }
}

function paintRun(surface: SurfaceWork, context: RunContext & { readonly kind: PaintKind }): Run {
  const { steps, covered, kind } = context;
  const leaves = surface.doors.count;
  const { size, hoursFrom } = sizeOf(kind, kind === 'paint doors' ? leaves : surface.area);
  const fronts = kind === 'paint cabinets' ? frontCount(surface) : 0;
  const labour = IN_PLACE_LABOUR[kind];
  const what = {
    'paint ceiling': 'the ceiling',
    'paint walls': 'the walls',
    'paint cabinets': 'the boxes',
    'paint trim': 'the trim',
    'paint doors': leaves === 1 ? 'the door' : `the ${leaves} doors`,
  }[kind];
  const wall = kind === 'paint ceiling' || kind === 'paint walls';
  let dusty: Draft | null = null;
  let begin: Draft | null = null;
  let done: Draft | null = null;
  if (size !== 0) {
    dusty = prepared(surface, {
      steps,
      covered,
      what,
      suffix: '',
      per: (task) => size * labour[task],
      hoursFrom,
    });
    done = dusty;
    for (const coat of coatsOf(surface)) {
      const light = coat.first || wall ? 0 : OTHER_LABOUR.sandLightly;
      done = steps.add(surface, coat.id, {
        ...coat.step,
        words: coatWords(coat, what, wall),
        hours: size * ((coat.step.task === 'prime' ? labour.prime : labour.coat) + light),
        hoursFrom,
        ...dryingOf(surface, { coat, wall }),
        after: idsOf(done),
      });
      begin ??= done;
    }
  }
  const hang = fronts > 0 ? frontSteps(surface, context) : null;
  return { surface, dusty, begin, done, hang };
}

/** Puts the surfaces of a room in order. */
function inOrder(runs: readonly Run[]): void {
  const doneOf = (kinds: readonly WorkKind[], but: Run) =>
    runs.filter((run) => run !== but && kinds.includes(run.surface.kind)).map(({ done }) => done);
  for (const run of runs) {
    const { begin, hang, surface } = run;
    const painted = isPainted(surface.kind);
    if (begin) {
      const dusty = painted ? runs.map((one) => one.dusty) : [];
      const hung = surface.kind === 'fit hardware' ? runs.map((one) => one.hang) : [];
      const before = idsOf(...dusty, ...doneOf(FOLLOWS[surface.kind], run), ...hung);
      begin.after = [...new Set([...begin.after, ...before])];
    }
    if (hang) hang.after = [...new Set([...hang.after, ...idsOf(run.done, ...doneOf(HUNG_AFTER, run))])];
  }
}
