import {
  isEnoughForAnEdge,
  pairings,
  VISIBLE_EDGE_LRV,
  type LightInput,
  type Pairing,
} from '#lib/finish/index.ts';
import { finishInput, type Id, type Job, type SurfaceKind, type Swatch } from '#lib/job/index.ts';
import type { Viewing } from './look.ts';
import { finishOf, percent, type Place } from './see.ts';

/** A border between two marked surfaces: `length` in pixels of the photo. */
export interface Border {
  readonly a: Id;
  readonly b: Id;
  readonly length: number;
}

/** Which surface each pixel of a photo shows. */
export interface Owners {
  readonly width: number;
  readonly height: number;
  /** Ids of the surfaces that could be read. */
  readonly ids: readonly Id[];
  /** For each pixel, row by row, 1 more than the place of its surface in `ids`; 0 where nothing is marked. */
  readonly owner: Uint8Array;
}

/** The surface at a place of the photo, pixels; null where nothing is marked and beyond the photo. */
export function surfaceAt(
  { width, height, ids, owner }: Owners,
  { x, y }: { x: number; y: number },
): Id | null {
  if (!(x >= 0 && y >= 0 && x < width && y < height)) return null;
  return ids[owner[Math.floor(y) * width + Math.floor(x)] - 1] ?? null;
}

/** A surface that another one touches in the photo, and how their finishes sit together. */
export interface Neighbour {
  readonly place: Place;
  /** Part of all the borders of the surface in question, 0-1. */
  readonly share: number;
  /** Null where one of the two finishes has no known colour. */
  readonly pairing: Pairing | null;
  /** Whether people must see this edge and the two differ by less than guidance asks for. */
  readonly faintEdge: boolean;
}

/**
 * How far apart the two are in lightness, and what that makes of an edge that must be seen. What the colours make of it is the
 * verdict: an edge that is clear by them is faint for low vision only.
 */
export function lightnessWords({ lrvDifference, kind }: Pairing, faintEdge: boolean): string {
  const points = Math.abs(lrvDifference);
  const rounded = points.toFixed(0);
  // Less than is asked for must not read as that much.
  const said = faintEdge && Number(rounded) >= VISIBLE_EDGE_LRV ? points.toFixed(1) : rounded;
  const apart = `LRV ${said} ${said === '1' ? 'point' : 'points'} apart`;
  if (!faintEdge) return apart;
  return kind === 'related' || kind === 'separate'
    ? `${apart}: most people see this edge, with low vision it is faint`
    : `${apart}: a faint edge`;
}

/** Surfaces whose edges people find their way by. Common practice, no published source. */
const EDGES_TO_SEE: readonly SurfaceKind[] = ['counter', 'floor', 'doors', 'hardware'];

/**
 * What a surface touches, longest border first, under the light given or under plain daylight. Places of other photos and
 * surfaces that are not marked touch nothing.
 */
export function neighboursOf(
  job: Job,
  id: Id,
  { places, borders, light }: { places: readonly Place[]; borders: readonly Border[]; light: Viewing | null },
): Neighbour[] {
  const here = places.find(({ surface }) => surface.id === id);
  if (!here) return [];
  const touching = borders
    .filter(({ a, b }) => a === id || b === id)
    .flatMap(({ a, b, length }) => {
      const place = places.find(({ surface }) => surface.id === (a === id ? b : a));
      return place ? [{ place, length }] : [];
    })
    .sort((p, q) => q.length - p.length);
  const whole = touching.reduce((sum, { length }) => sum + length, 0);
  const finish = finishOf(job, here);
  return touching.map(({ place, length }): Neighbour => {
    const pairing = pairingBetween(finish, finishOf(job, place), { name: place.name, light });
    const seen = [here, place].some(({ surface }) => EDGES_TO_SEE.includes(surface.kind));
    const faintEdge = seen && pairing !== null && !isEnoughForAnEdge(pairing.lrvDifference);
    return { place, share: length / whole, pairing, faintEdge };
  });
}

function pairingBetween(
  finish: Swatch | null,
  there: Swatch | null,
  { name, light }: { name: string; light: Viewing | null },
): Pairing | null {
  const [tried, standing] = [finish && finishInput(finish), there && finishInput(there)];
  if (!tried || !standing) return null;
  const [pairing] = pairings({ finish: standing, surfaceName: name }, tried, { lights: lightInput(light) });
  return pairing;
}

function lightInput(light: Viewing | null): LightInput[] {
  if (!light) return [];
  const { name, spectrum, illuminance } = light;
  return [{ id: 'shown', name, spectrum: Array.from(spectrum), illuminance }];
}

/** How a surface sits with all it touches, by length of border, in a sentence; null where nothing can be compared. */
export function bordersInWords(neighbours: readonly Neighbour[]): string | null {
  const known = neighbours.filter(({ pairing }) => pairing !== null);
  const whole = known.reduce((sum, { share }) => sum + share, 0);
  if (whole === 0) return null;
  const missed = known.filter(({ pairing }) => pairing?.kind === 'near miss');
  const part = missed.reduce((sum, { share }) => sum + share, 0) / whole;
  if (part === 0) return 'No near miss along any of its edges.';
  const names = missed.map(({ place }) => `“${place.name}”`).join(' and ');
  return `A near miss along ${percent(part)} of its edges: with ${names}.`;
}
