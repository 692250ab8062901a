import {
  USUAL_COATS,
  paintNeed,
  sheenLevel,
  takeOff,
  type NamedFinish,
  type PaintNeed,
  type PaintRole,
  type Part,
  type Quantity,
  type ScheduleItem,
  type ScheduleRole,
  type ScheduleRules,
  type Substitute,
  type TakeOff,
} from '#lib/finish/index.ts';
import { inOrder, type Job, type Surface, type Swatch } from './document.ts';
import type { Id } from './fields.ts';
import { swatchTitle } from './shortlist.ts';
import { namedApart } from './surface-names.ts';
import { DEFAULT_SUPPLY, DEFAULT_TRADE, DEFAULT_WORK, type Trade } from './trade.ts';

/** Standard deviation over an area that somebody gave as one number. Common practice, no published source. */
const SAID_SD = 0.05;

/** What is to be done to one surface, as the schedule and the plan of the work need it. */
export interface ScheduledSurface {
  /** Under the name that tells it apart in its room, as `roomName` does the room: see `namedApart`. */
  readonly surface: Surface;
  readonly roomName: string;
  /** What goes on it, or is on it; null while it is open. */
  readonly swatch: Swatch | null;
  readonly primer: Swatch | null;
  /** Null where nothing of it was measured and no area is given. */
  readonly takeOff: TakeOff | null;
  /** Finish coats, where they are the same everywhere. */
  readonly coats: number;
  readonly paint: PaintNeed | null;
  readonly primed: PaintNeed | null;
  /** Lines of the schedule that belong to it. */
  readonly itemIds: readonly string[];
}

export interface JobSchedule {
  readonly rules: Omit<ScheduleRules, 'today'>;
  /** Surfaces in their order, room by room: those that stay too. */
  readonly surfaces: readonly ScheduledSurface[];
}

/** The trade's side of a job, where nobody touched it the usual one. */
export function tradeOf(job: Pick<Job, 'trade'>): Trade {
  return job.trade ?? DEFAULT_TRADE;
}

/** Id of a line of the schedule. */
export function lineId(surfaceId: Id, role: 'finish' | 'primer'): string {
  return `${surfaceId} ${role}`;
}

/** A swatch by what tells it from others when it is ordered. */
export function namedFinish(swatch: Swatch): NamedFinish {
  const { maker, code, sheen } = swatch;
  return { maker, code, name: swatchTitle(swatch), sheen: sheen ? sheenLevel(sheen).name : '' };
}

/**
 * The job as the finish schedule is asked for it: a line for every surface that gets a finish, and one for its primer. What
 * is fixed stays and has no line. Surfaces and rooms have the names that tell them apart. `ranked` names the candidates of surfaces, best first, for substitutes; `neededOn` the days
 * on which the plan needs each line.
 */
export function jobSchedule(
  job: Job,
  {
    ranked = {},
    neededOn = {},
  }: {
    ranked?: Readonly<Record<Id, readonly Id[]>>;
    neededOn?: Readonly<Record<string, string>>;
  } = {},
): JobSchedule {
  const trade = tradeOf(job);
  const items: ScheduleItem[] = [];
  const surfaces: ScheduledSurface[] = [];
  const named = namedApart(job);
  for (const room of inOrder(named.rooms)) {
    for (const surface of inOrder(named.surfaces).filter(({ roomId }) => roomId === room.id)) {
      const swatch = surface.swatchId ? (job.swatches[surface.swatchId] ?? null) : null;
      const work = surface.work ?? DEFAULT_WORK;
      const primer = work.primerId ? (job.swatches[work.primerId] ?? null) : null;
      const measured = surfaceTakeOff(surface, trade);
      const painted = swatch?.kind === 'paint' && surface.state !== 'fixed';
      const need = (role: PaintRole, of: Swatch): PaintNeed =>
        paintNeed({
          role,
          spreadRate: of.supply?.spreadRate ?? null,
          parts: (measured?.parts ?? []).map((part) => ({
            name: part.name || surface.name,
            area: part.area,
            relativeSd: part.relativeSd,
            coats:
              role === 'primer'
                ? (work.primerCoats ?? USUAL_COATS.primer)
                : (part.coats ?? work.coats ?? USUAL_COATS['finish coat']),
            application: work.application,
            landed: work.landed,
          })),
          system: trade.units,
          path: `surfaces.${surface.id}`,
        });
      const paint = painted && measured ? need('finish coat', swatch) : null;
      const primed = painted && primer && measured ? need('primer', primer) : null;
      const own: ScheduleItem[] = [];
      if (surface.state !== 'fixed') {
        const add = (
          role: 'finish' | 'primer',
          of: Swatch | null,
          fields: Pick<ScheduleItem, 'role' | 'needs' | 'substitutes'>,
        ) => {
          const id = lineId(surface.id, role);
          const supply = of?.supply ?? DEFAULT_SUPPLY;
          own.push({
            id,
            room: room.name,
            surface: surface.name,
            finish: of && namedFinish(of),
            packs: inOrder(supply.packs).map(({ name, size, unit, price, discounts }) => ({
              name,
              size,
              unit,
              price,
              discounts,
            })),
            price: of?.price ?? null,
            supplier: supply.supplier || of?.maker || '',
            leadTimeDays: of?.leadTimeDays ?? null,
            neededOn: neededOn[id] ?? null,
            orderedOn: trade.ordered[id] ?? null,
            ...fields,
          });
        };
        if (painted && primer)
          add('primer', primer, { role: 'primer', needs: litres(primed), substitutes: [] });
        add('finish', swatch, {
          role: roleOf(swatch),
          needs: painted ? litres(paint) : quantities(measured, tileArea(surface)),
          substitutes: substitutesOf(job, surface, ranked[surface.id] ?? []),
        });
      }
      items.push(...own);
      surfaces.push({
        surface,
        roomName: room.name,
        swatch,
        primer: painted ? primer : null,
        takeOff: measured,
        coats: work.coats ?? USUAL_COATS['finish coat'],
        paint,
        primed,
        itemIds: own.map(({ id }) => id),
      });
    }
  }
  const { tax, units, leadTimeIn, weekdays, holidays } = trade;
  return {
    rules: {
      items,
      currency: job.currency,
      tax,
      budget: trade.budget,
      finishBy: job.finishBy,
      system: units,
      leadTimeIn,
      // A week without working days is no week: it is read as the usual one.
      calendar: { weekdays: weekdays.length > 0 ? weekdays : DEFAULT_TRADE.weekdays, holidays },
    },
    surfaces,
  };
}

/** The take-off of a surface; of its area alone where nothing was measured; null where that is not known either. */
export function surfaceTakeOff(surface: Surface, { units }: Pick<Trade, 'units'>): TakeOff | null {
  const measured = inOrder(surface.parts ?? {});
  const parts: readonly Part[] =
    measured.length === 0 && surface.area !== undefined
      ? [
          {
            kind: 'estimate',
            name: surface.name,
            coats: null,
            area: surface.area,
            relativeSd: SAID_SD,
            from: 'the visible area as it was given',
          },
        ]
      : measured;
  return parts.length === 0 ? null : takeOff(parts, { system: units, path: `surfaces.${surface.id}.parts` });
}

function litres(need: PaintNeed | null): Quantity[] {
  return need?.litres ? [{ amount: need.litres, unit: 'l' }] : [];
}

/** m² of one tile, where the surface is measured as one tile's; else null. */
function tileArea(surface: Surface): number | null {
  const sizes = inOrder(surface.parts ?? {}).map((part) =>
    part.kind === 'tile' ? (part.tile.width * part.tile.height) / 1e6 : null,
  );
  return sizes.length > 0 && sizes.every((size) => size !== null && size > 0 && size === sizes[0])
    ? sizes[0]
    : null;
}

/** `each`: m² of one piece; tile that is sold by area is bought with its cuts. */
function quantities(measured: TakeOff | null, each: number | null): Quantity[] {
  if (!measured) return [];
  const { slabs, boxes, pieces, length } = measured;
  const area = each !== null && pieces ? pieces * each : measured.area;
  const known: [number | null, Quantity['unit']][] = [
    [slabs, 'slab'],
    [boxes, 'box'],
    [pieces, 'piece'],
    [area, 'm²'],
    [length, 'm'],
  ];
  return known.flatMap(([amount, unit]) => (amount ? [{ amount, unit }] : []));
}

function roleOf(swatch: Swatch | null): ScheduleRole {
  const roles: Partial<Record<Swatch['kind'], ScheduleRole>> = {
    paint: 'finish coat',
    stone: 'slab',
    tile: 'tile',
    metal: 'hardware',
  };
  return (swatch && roles[swatch.kind]) ?? 'other';
}

/** Candidates that could come instead: in order of rank, then of the job. */
function substitutesOf(job: Job, surface: Surface, ranked: readonly Id[]): Substitute[] {
  const rest = inOrder(job.swatches).filter(({ id }) => surface.candidateIds[id] && !ranked.includes(id));
  return [...ranked.flatMap((id) => job.swatches[id] ?? []), ...rest]
    .filter(({ id }) => id !== surface.swatchId)
    .map((swatch) => ({ id: swatch.id, finish: namedFinish(swatch), leadTimeDays: swatch.leadTimeDays }));
}
