import { USUAL_COATS } from './coats.ts';
import type { Application } from './coats.ts';
import type { FieldCheck } from './field-check.ts';
import { IN_PLACE_LABOUR } from './labour.ts';
import type { ScheduleRole } from './schedule.ts';

/** What can be done to a surface, in the order in which a room is done. */
export const WORK_KINDS = [
  'paint ceiling',
  'paint walls',
  'paint cabinets',
  'paint doors',
  'fit counter',
  'tile',
  'lay floor',
  'paint trim',
  'fit hardware',
] as const;
export type WorkKind = (typeof WORK_KINDS)[number];

/** Cabinet doors or drawer fronts that are painted lying down. */
export interface Fronts {
  readonly count: number;
  readonly sides: 1 | 2;
}

/** What is to be done to one surface of a room. Sizes as the take-off gives them. */
export interface SurfaceWork {
  /** Of the surface; steps are called after it. */
  readonly id: string;
  readonly room: { readonly id: string; readonly name: string };
  readonly name: string;
  readonly kind: WorkKind;
  /** m² worked in place; of cabinets the boxes without doors and drawer fronts, 0 where only these are painted. Null: not known. */
  readonly area: number | null;
  /** Of cabinets; of a room's doors the leaves, painted hanging. */
  readonly doors: Fronts;
  readonly drawers: Fronts;
  /** Handles, hooks; null where not known. */
  readonly pieces: number | null;
  /** Whether handle holes are filled and drilled anew. */
  readonly newHoles: boolean;
  /** Finish coats, from 1. */
  readonly coats: number;
  readonly primer: boolean;
  readonly application: Application;
  /** Null where nobody said. */
  readonly twoPart: boolean | null;
  readonly solventBased: boolean | null;
  /** Of a counter: calendar days from measuring to fitting; null: usual. */
  readonly fabricationDays: number | null;
  /** Elapsed hours as the products say: primer before a coat, coat before a coat, last coat before it is handled. Null: usual. */
  readonly drying: {
    readonly primer: number | null;
    readonly recoat: number | null;
    readonly handle: number | null;
  };
  /** Finishes its steps need, by id. */
  readonly finishes: Readonly<Partial<Record<ScheduleRole, string>>>;
}

/** Kinds of work that clean, sand and paint. */
export type PaintKind = keyof typeof IN_PLACE_LABOUR;

export function isPainted(kind: WorkKind): kind is PaintKind {
  return kind in IN_PLACE_LABOUR;
}

export const frontCount = ({ doors, drawers }: SurfaceWork) => doors.count + drawers.count;

const MOST_FRONTS = 500;
const MOST_COATS = 12;

/** The surfaces with every faulty field replaced by the usual, or by 'not known'; problems go to `check`. */
export function soundSurfaces(surfaces: readonly SurfaceWork[], check: FieldCheck): SurfaceWork[] {
  const seen = new Set<string>();
  return surfaces.flatMap((surface, index) => {
    const path = `surfaces[${index}]`;
    if (seen.has(surface.id)) {
      check.error(`${path}.id`, `${surface.name} is in the list twice; it is planned once.`);
      return [];
    }
    seen.add(surface.id);
    const count = (value: number, field: string, what: string) =>
      check.count(value, `${path}.${field}`, { least: 0, most: MOST_FRONTS, what }) ? value : 0;
    const { area, pieces, coats, drying, doors, drawers } = surface;
    const hours = (field: keyof SurfaceWork['drying']) => {
      const value = drying[field];
      const within = { least: 0, most: 2000, what: 'number of hours' };
      return value !== null && check.within(value, `${path}.drying.${field}`, within) ? value : null;
    };
    const areaKnown =
      area !== null && check.within(area, `${path}.area`, { least: 0, most: 10_000, what: 'area' });
    const { fabricationDays: days } = surface;
    const daysKnown =
      days !== null &&
      check.within(days, `${path}.fabricationDays`, { least: 0, most: 400, what: 'number of days' });
    const piecesKnown =
      pieces !== null && check.count(pieces, `${path}.pieces`, { what: 'number of pieces' });
    const coatsKnown =
      !isPainted(surface.kind) ||
      check.count(coats, `${path}.coats`, { most: MOST_COATS, what: 'number of coats' });
    return [
      {
        ...surface,
        area: areaKnown ? area : null,
        pieces: piecesKnown ? pieces : null,
        fabricationDays: daysKnown ? days : null,
        coats: coatsKnown ? coats : USUAL_COATS['finish coat'],
        doors: { ...doors, count: count(doors.count, 'doors.count', 'number of doors') },
        drawers: { ...drawers, count: count(drawers.count, 'drawers.count', 'number of drawer fronts') },
        drying: { primer: hours('primer'), recoat: hours('recoat'), handle: hours('handle') },
      },
    ];
  });
}
