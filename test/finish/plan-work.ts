/** Work to be planned, for tests: a kitchen of invented surfaces. */
import { USUAL_WEEK, dayNumber, workPlan } from '#lib/finish/index.ts';
import type { Moment, Plan, PlanRules, SurfaceWork } from '#lib/finish/index.ts';

export const kitchen = { id: 'k', name: 'Kitchen' };

export const surface = (given: Partial<SurfaceWork>): SurfaceWork => ({
  id: 'cab',
  room: kitchen,
  name: 'cabinets',
  kind: 'paint cabinets',
  area: 0,
  doors: { count: 0, sides: 2 },
  drawers: { count: 0, sides: 1 },
  pieces: null,
  newHoles: false,
  coats: 2,
  primer: true,
  application: 'brush and roller',
  twoPart: null,
  solventBased: null,
  fabricationDays: null,
  drying: { primer: null, recoat: null, handle: null },
  finishes: {},
  ...given,
});

/** 30 November 2026 is a Monday. */
export const plan = (surfaces: readonly SurfaceWork[], given: Partial<PlanRules> = {}): Plan =>
  workPlan({
    surfaces,
    finishes: [],
    start: null,
    finishBy: null,
    people: 1,
    hoursPerDay: 8,
    space: null,
    hours: {},
    moved: {},
    yearBuilt: null,
    today: '2026-11-30',
    calendar: USUAL_WEEK,
    leadTimeIn: 'calendar days',
    ...given,
  });

export const everything: readonly SurfaceWork[] = [
  surface({ id: 'h', name: 'handles', kind: 'fit hardware', pieces: 22, finishes: { hardware: 'brass' } }),
  surface({ id: 't', name: 'trim', kind: 'paint trim', area: 3 }),
  surface({ id: 'f', name: 'floor', kind: 'lay floor', area: 14 }),
  surface({ id: 'ti', name: 'splashback', kind: 'tile', area: 4, finishes: { tile: 'tiles' } }),
  surface({ id: 'co', name: 'counter', kind: 'fit counter', finishes: { slab: 'slab' } }),
  surface({
    area: 4,
    doors: { count: 16, sides: 2 },
    drawers: { count: 6, sides: 1 },
    newHoles: true,
    finishes: { primer: 'primer', 'finish coat': 'fern' },
  }),
  surface({ id: 'd', name: 'doors', kind: 'paint doors', doors: { count: 2, sides: 2 } }),
  surface({ id: 'w', name: 'walls', kind: 'paint walls', area: 30, primer: false }),
  surface({ id: 'c', name: 'ceiling', kind: 'paint ceiling', area: 14, primer: false }),
];

/** Quarter hours since 1970-01-01. */
export const quarters = ({ date, hour }: Moment): number => dayNumber(date)! * 96 + hour * 4;
