import type { IlluminantName } from '#lib/colour/index.ts';
import type { DayWindow, LampHours, RoomDay } from './day.ts';

/** Kinds of room with a usual day. */
export type RoomKind = 'kitchen' | 'living room' | 'bedroom' | 'bathroom' | 'other';

export const ROOM_KINDS: readonly RoomKind[] = ['kitchen', 'living room', 'bedroom', 'bathroom', 'other'];

/** A lamp by the CIE table that stands for its light; the caller reads the spectrum. */
export interface UsualLamp {
  readonly name: string;
  readonly source: { readonly kind: 'table'; readonly name: IlluminantName };
  /** On the room's surfaces, lx. */
  readonly illuminance: number;
  readonly on: LampHours;
}

/** What a room of a kind usually has; place and date are the job's. */
export interface UsualDay extends Pick<RoomDay, 'sky' | 'floorArea' | 'height' | 'reflectance'> {
  readonly windows: readonly DayWindow[];
  readonly lamps: readonly UsualLamp[];
}

/** A 2,700 K lamp of blue chip and phosphor, one of 3,000 K and one of 4,000 K (CIE 15:2018, LED-B1 to LED-B3). */
const WARM = { kind: 'table', name: 'LED-B1' } as const;
const SOFT = { kind: 'table', name: 'LED-B2' } as const;
const NEUTRAL = { kind: 'table', name: 'LED-B3' } as const;

const north = (area: number): DayWindow => ({ facing: 0, area, glass: 'double glass' });

const USUAL: Record<RoomKind, UsualDay> = {
  kitchen: {
    sky: 'partly cloudy',
    windows: [north(1.8)],
    lamps: [
      { name: 'pendants', source: WARM, illuminance: 120, on: 'when dark' },
      { name: 'worktop lights', source: NEUTRAL, illuminance: 80, on: { from: 17, until: 21 } },
    ],
    ...{ floorArea: 12, height: 2.5, reflectance: 0.5 },
  },
  'living room': {
    sky: 'partly cloudy',
    windows: [north(3.5)],
    lamps: [
      { name: 'ceiling light', source: WARM, illuminance: 60, on: 'when dark' },
      { name: 'standing lamps', source: WARM, illuminance: 40, on: { from: 18, until: 23 } },
    ],
    ...{ floorArea: 22, height: 2.5, reflectance: 0.5 },
  },
  bedroom: {
    sky: 'partly cloudy',
    windows: [north(2)],
    lamps: [
      { name: 'ceiling light', source: WARM, illuminance: 60, on: 'when dark' },
      { name: 'bedside lamps', source: WARM, illuminance: 20, on: { from: 21, until: 23 } },
    ],
    ...{ floorArea: 14, height: 2.5, reflectance: 0.55 },
  },
  bathroom: {
    sky: 'partly cloudy',
    windows: [north(0.6)],
    lamps: [
      { name: 'ceiling light', source: SOFT, illuminance: 120, on: 'when dark' },
      { name: 'mirror light', source: NEUTRAL, illuminance: 80, on: { from: 6, until: 9 } },
    ],
    ...{ floorArea: 6, height: 2.4, reflectance: 0.6 },
  },
  other: {
    sky: 'partly cloudy',
    windows: [north(1.5)],
    lamps: [{ name: 'ceiling light', source: WARM, illuminance: 100, on: 'when dark' }],
    ...{ floorArea: 12, height: 2.5, reflectance: 0.5 },
  },
};

/**
 * A usual day of a kind of room, to begin with: one window to the north under a sky of sun and cloud, warm lamps.
 * Sizes, reflectances, illuminances and hours are common practice, no published source; homes are lit to 50-300 lx, and the
 * mean on all surfaces is about half of what falls on a table.
 * A fresh object at each call.
 */
export function defaultDay(kind: RoomKind): UsualDay {
  const { windows, lamps, ...room } = USUAL[kind];
  return {
    ...room,
    windows: windows.map((window) => ({ ...window })),
    lamps: lamps.map((lamp) => ({ ...lamp, source: { ...lamp.source } })),
  };
}
