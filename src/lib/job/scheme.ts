import { costOf } from '#lib/finish/index.ts';
import type { SchemeInput, SchemeMeeting, SchemeOption, SchemePlace } from '#lib/finish/index.ts';
import {
  DEFAULT_SCHEME,
  inOrder,
  type Job,
  type RoomScheme,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from './document.ts';
import type { Id } from './fields.ts';
import {
  contact,
  finishInput,
  leadingSample,
  lightInputs,
  swatchBusyness,
  targetEstimate,
} from './shortlist.ts';

/**
 * Visible area of a kind of surface in a furnished room, in parts of the walls'. Common practice, no published source; for
 * want of anything better, so that a handle does not count as much as a floor.
 */
const USUAL_AREA: Readonly<Record<SurfaceKind, number>> = {
  cabinets: 0.7,
  island: 0.25,
  walls: 1,
  ceiling: 0.7,
  trim: 0.1,
  doors: 0.2,
  counter: 0.3,
  backsplash: 0.2,
  floor: 0.7,
  hardware: 0.02,
  'wood accents': 0.1,
  textiles: 0.2,
};

/**
 * Kinds whose edge people with low vision must find: the end of the counter over the floor, handles on what they open.
 * Source: BS 8300-2:2018 asks for visual contrast of handles and of hazards with their background; that a counter is one
 * against the floor is common practice. Local codes decide.
 */
const MUST_BE_SEEN: readonly (readonly [SurfaceKind, SurfaceKind])[] = [
  ['counter', 'floor'],
  ['hardware', 'cabinets'],
  ['hardware', 'island'],
  ['hardware', 'doors'],
];

/** What the marked surfaces of a photo say about a room. */
export interface SurfaceEdges {
  /** Pixels that show each surface, by surface id. */
  readonly areas: Readonly<Record<Id, number>>;
  /** Common borders, pixels. */
  readonly borders: readonly { readonly a: Id; readonly b: Id; readonly length: number }[];
}

/** Where the areas of a room's surfaces come from. */
export type AreaSource = 'given' | 'photo' | 'usual';

/** What a search for schemes is asked about a room, and what could not take part. */
export interface RoomSchemeInput {
  readonly input: SchemeInput;
  /** Where the area of each surface comes from; areas of one room are brought to one scale. */
  readonly areaSources: Readonly<Record<Id, AreaSource>>;
  /** Swatches that cannot take part for want of a sample, and surfaces that have nothing to choose from. */
  readonly withoutSample: readonly Id[];
  readonly withoutOptions: readonly Id[];
}

/**
 * The plain values of a room's schemes: its surfaces in their order, their candidates (a fixed or chosen surface's are its
 * substitutes), targets, areas and where they meet. Fixed, chosen and locked surfaces are held, but for those that
 * `scheme.free` frees. What is on a surface costs nothing, be it fixed or still there under something chosen. `choices` (surface to swatch) says what open surfaces have at present, as a swap needs; without it a
 * lock does. Locks, choices and freed surfaces that name what is gone are passed over.
 * Areas: as given; else from the photo's masks; else usual ones, each brought to the scale of the given ones.
 * @throws RangeError for a room that is not in the job.
 */
export function schemeInput(
  job: Job,
  roomId: Id,
  { edges = null, choices = {} }: { edges?: SurfaceEdges | null; choices?: Readonly<Record<Id, Id>> } = {},
): RoomSchemeInput {
  const room = job.rooms[roomId];
  if (!room) throw new RangeError(`Expected a room of this job, got ${roomId}`);
  const asked = room.scheme ?? DEFAULT_SCHEME;
  const surfaces = inOrder(job.surfaces).filter((surface) => surface.roomId === roomId);
  const withoutSample = new Set<Id>();
  const withoutOptions: Id[] = [];
  const { areas, sources } = surfaceAreas(surfaces, edges);
  const places: SchemePlace[] = [];
  const taking: Surface[] = [];
  for (const surface of surfaces) {
    const options = schemeOptions(job, surface, withoutSample);
    if (options.length === 0) withoutOptions.push(surface.id);
    else {
      places.push(schemePlace(job, surface, { options, asked, area: areas[surface.id], choices }));
      taking.push(surface);
    }
  }
  return {
    input: {
      places,
      meetings: meetings(taking, edges),
      lights: lightInputs(job, roomId),
      weights: asked.weights,
      limits: asked.limits,
      currency: job.currency,
    },
    areaSources: sources,
    withoutSample: [...withoutSample],
    withoutOptions,
  };
}

function schemePlace(
  job: Job,
  surface: Surface,
  {
    options,
    asked,
    area,
    choices,
  }: { options: SchemeOption[]; asked: RoomScheme; area: number; choices: Readonly<Record<Id, Id>> },
): SchemePlace {
  const { id, name, state, swatchId, thereId, target, criteria } = surface;
  const among = (swatch: Id | null | undefined) =>
    swatch != null && options.some((option) => option.id === swatch) ? swatch : null;
  const decided = state === 'open' ? null : among(swatchId);
  const lock = state === 'open' ? among(asked.locks[id]) : null;
  const held = decided !== null && !asked.free[id] ? decided : lock;
  const picture = target?.kind === 'photo' ? job.photos[target.photoId] : null;
  return {
    surfaceId: id,
    surfaceName: name,
    // A surface said to be decided without a finish is open in all but name.
    state: decided === null ? 'open' : state,
    held,
    current: (held === null ? among(choices[id]) : null) ?? decided ?? lock,
    there: state === 'fixed' ? decided : among(thereId),
    options,
    target: targetEstimate(job, surface),
    inspiration:
      target?.kind === 'photo' && picture?.role === 'inspiration'
        ? { pictureId: picture.id, lab: target.estimate.lab }
        : null,
    area,
    limits: criteria.limits,
  };
}

/** What a surface may carry: what is on it or chosen for it, and its candidates, in the order of the swatches. */
function schemeOptions(job: Job, surface: Surface, withoutSample: Set<Id>): SchemeOption[] {
  const on = surface.state === 'open' ? [] : [surface.swatchId, surface.thereId];
  return inOrder(job.swatches).flatMap((swatch) => {
    if (!surface.candidateIds[swatch.id] && !on.includes(swatch.id)) return [];
    const finish = finishInput(swatch);
    if (!finish) {
      withoutSample.add(swatch.id);
      return [];
    }
    const { kind, price, leadTimeDays, publishedLrv } = swatch;
    const inCurrency = price && (price.currency === '' || price.currency === job.currency);
    const cost = inCurrency ? (costOf(price, surface.area ?? null)?.amount ?? null) : null;
    return [
      { ...finish, kind, price, leadTimeDays, lrv: publishedLrv, busyness: swatchBusyness(swatch), cost },
    ];
  });
}

function surfaceAreas(
  surfaces: readonly Surface[],
  edges: SurfaceEdges | null,
): { areas: Record<Id, number>; sources: Record<Id, AreaSource> } {
  const measures: Readonly<Record<AreaSource, (surface: Surface) => number | undefined>> = {
    given: ({ area }) => area,
    photo: ({ id }) => (edges && edges.areas[id] > 0 ? edges.areas[id] : undefined),
    usual: ({ kind }) => USUAL_AREA[kind],
  };
  const areas: Record<Id, number> = {};
  const sources: Record<Id, AreaSource> = {};
  for (const source of ['given', 'photo', 'usual'] as const) {
    const measure = measures[source];
    // The scale is that of the surfaces that have both measures.
    let [known, measured] = [0, 0];
    for (const surface of surfaces) {
      const value = measure(surface);
      if (value === undefined || areas[surface.id] === undefined) continue;
      known += areas[surface.id];
      measured += value;
    }
    const scale = measured > 0 ? known / measured : 1;
    const before = new Set(Object.keys(areas));
    for (const surface of surfaces) {
      const value = measure(surface);
      if (value === undefined || before.has(surface.id)) continue;
      areas[surface.id] = scale * value;
      sources[surface.id] = source;
    }
  }
  return { areas, sources };
}

/**
 * How much surfaces are seen together: the usual contact of their kinds, or more where both are marked in the photo and
 * have a longer border there, the longest counting 1; less where they do not touch in it.
 */
function meetings(surfaces: readonly Surface[], edges: SurfaceEdges | null): SchemeMeeting[] {
  const longest = edges ? Math.max(0, ...edges.borders.map(({ length }) => length)) : 0;
  const out: SchemeMeeting[] = [];
  surfaces.forEach((first, i) => {
    for (const second of surfaces.slice(i + 1)) {
      const [a, b] = [first.id, second.id];
      const usual = contact(first.kind, second.kind);
      const marked = edges !== null && longest > 0 && edges.areas[a] > 0 && edges.areas[b] > 0;
      const border = marked
        ? edges.borders.find((one) => (one.a === a && one.b === b) || (one.a === b && one.b === a))
        : undefined;
      const touching = (border?.length ?? 0) / longest;
      out.push({
        a,
        b,
        contact: !marked ? usual : touching < LEAST_BORDER ? NOT_TOUCHING * usual : Math.max(usual, touching),
        mustBeSeen: MUST_BE_SEEN.some(
          ([p, q]) => (p === first.kind && q === second.kind) || (p === second.kind && q === first.kind),
        ),
      });
    }
  });
  return out;
}

/** A border shorter than this part of the longest is a chance of the marks, not a place where surfaces touch. Common practice, no published source. */
const LEAST_BORDER = 0.01;

/**
 * Part of the usual contact left to surfaces that do not touch in the photo: they are seen together all the same, and may
 * touch outside of it. Common practice, no published source.
 */
const NOT_TOUCHING = 0.5;
