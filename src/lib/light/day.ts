import { GRID, checkSpectrum } from '#lib/colour/index.ts';
import type { Spectrum } from '#lib/colour/index.ts';
import { luminous, perLux } from './daylight-colour.ts';
import { openAir } from './dome.ts';
import type { Sky } from './sky.ts';
import { sunPosition } from './sun.ts';
import type { Place } from './sun.ts';
import { checkSky, checkWindow, insideGlass } from './window-light.ts';
import type { Glass } from './window-light.ts';

/** A window of a room. */
export interface DayWindow {
  /** What it is called; without a name it is called after the way it looks. */
  readonly name?: string;
  /** Azimuth it looks to, degrees clockwise from north. */
  readonly facing: number;
  /** Of its glass, m2. */
  readonly area: number;
  readonly glass: Glass;
}

/** When a lamp burns: between two clock hours (past midnight where `until` is the smaller), or whenever it is dark. */
export type LampHours = { readonly from: number; readonly until: number } | 'when dark';

/** A lamp of a room, or several that burn together. */
export interface DayLamp {
  readonly name: string;
  readonly spectrum: Spectrum;
  /** What it gives on the room's surfaces, lx. */
  readonly illuminance: number;
  readonly on: LampHours;
}

/** A room on a date: where it is, what is overhead, its windows and lamps. */
export interface RoomDay {
  readonly place: Place;
  /** `YYYY-MM-DD`. */
  readonly date: string;
  readonly sky: Sky;
  readonly windows: readonly DayWindow[];
  readonly lamps: readonly DayLamp[];
  /** m2. */
  readonly floorArea: number;
  /** m. */
  readonly height: number;
  /** Mean luminous reflectance of all surfaces of the room by area, [0, 1). */
  readonly reflectance: number;
}

/** A window or lamp that gives light at a moment. */
export interface MomentPart {
  /** As the window or lamp is called; a window without a name by the way it looks, `north window`. */
  readonly name: string;
  /** On the room's surfaces, lx. */
  readonly illuminance: number;
  readonly spectrum: Spectrum;
}

/** The light of a room at a clock hour. */
export interface Moment {
  readonly hour: number;
  /** Apparent altitude of the sun, degrees. */
  readonly sunAltitude: number;
  /** Mean on the room's surfaces, lx. */
  readonly illuminance: number;
  /** Relative spectral power, sum of S times the 2° luminosity 100; null when it is dark. */
  readonly spectrum: Spectrum | null;
  /** What it is made of, windows first; those that give nothing are left out. */
  readonly parts: readonly MomentPart[];
}

/**
 * Lamps that burn `when dark` do so while the windows give less than this on the room's surfaces, lx: the least that
 * walls should have by EN 12464-1 (value read in a trade summary, the standard from memory). That people switch on there is
 * common practice.
 */
export const DARK = 50;

/** Below this a part gives no light worth a name, lx: less than a clear moonlit night (0.2 lx). */
const NO_LIGHT = 0.1;

const HALF_AN_HOUR = 0.5;
const COMPASS = [
  'north',
  'north-east',
  'east',
  'south-east',
  'south',
  'south-west',
  'west',
  'north-west',
] as const;

/**
 * The light of a room at a clock hour: windows and the lamps that burn then, mixed by illuminance.
 * What comes through the glass is spread over all surfaces and thrown to and fro between them, E = F / (A (1 - r)):
 * Sumpner's principle, the idea behind the average daylight factor of BS 8206-2. A is that of a square room. Walls far from
 * the window get less than this mean, sills several times more.
 * In: hour in [0, 24].
 * @throws RangeError for a part of the day that does not exist, a spectrum without light, or a reflectance of 1.
 */
export function lightAt(day: RoomDay, hour: number): Moment {
  checkDay(day);
  return momentOf(day, hour);
}

/**
 * The light of a room through a date, from midnight on in steps.
 * In: step in hours, (0, 24]; half an hour gives 48 moments.
 * @throws RangeError as `lightAt` does, or for a step outside its range.
 */
export function throughDay(day: RoomDay, stepHours = HALF_AN_HOUR): Moment[] {
  if (!(stepHours > 0 && stepHours <= 24)) {
    throw new RangeError(`Expected a step of (0, 24] hours, got ${stepHours}`);
  }
  checkDay(day);
  const count = Math.ceil(24 / stepHours - 1e-9);
  return Array.from({ length: count }, (_, i) => momentOf(day, i * stepHours));
}

function momentOf(day: RoomDay, hour: number): Moment {
  const windows = windowParts(day, hour);
  const daylight = windows.reduce((sum, { illuminance }) => sum + illuminance, 0);
  const burning = day.lamps.filter(
    ({ on, illuminance }) => illuminance > 0 && (on === 'when dark' ? daylight < DARK : isWithin(on, hour)),
  );
  const parts = [
    ...windows,
    ...burning.map(({ name, illuminance, spectrum }) => ({ name, illuminance, spectrum })),
  ].filter(({ illuminance }) => illuminance >= NO_LIGHT);
  const illuminance = parts.reduce((sum, part) => sum + part.illuminance, 0);
  return {
    hour,
    sunAltitude: sunPosition(day.place, day.date, hour).altitude,
    illuminance,
    spectrum: parts.length > 0 ? mixed(parts, illuminance) : null,
    parts,
  };
}

function windowParts(day: RoomDay, hour: number): MomentPart[] {
  const air = openAir(day.place, day.date, { hour, sky: day.sky });
  if (!air) return [];
  const room = surfaceArea(day) * (1 - day.reflectance);
  const names = windowNames(day.windows);
  return day.windows.map(({ facing, area, glass }, i) => {
    const inside = insideGlass(air, facing, glass);
    const spectrum = inside.light.map((value) => (100 * value) / inside.illuminance);
    return { name: names[i], illuminance: (inside.illuminance * area) / room, spectrum };
  });
}

/** Area of floor, ceiling and walls of a square room, m2. A room of 3 to 2 has 2 % more wall. */
function surfaceArea({ floorArea, height }: RoomDay): number {
  return 2 * floorArea + 4 * Math.sqrt(floorArea) * height;
}

/** What each window is called: by its name, else by the way it looks; several of one name are counted. */
export function windowNames(windows: readonly Pick<DayWindow, 'name' | 'facing'>[]): string[] {
  const names = windows.map(({ name, facing }) => {
    if (name?.trim()) return name.trim();
    const eighth = Math.round(facing / 45);
    return `${COMPASS[((eighth % 8) + 8) % 8]} window`;
  });
  return names.map((name, i) => {
    if (names.indexOf(name) === names.lastIndexOf(name)) return name;
    return `${name} ${names.slice(0, i + 1).filter((other) => other === name).length}`;
  });
}

function isWithin({ from, until }: { from: number; until: number }, hour: number): boolean {
  if (until >= from) return hour >= from && hour < until;
  return hour >= from || hour < until;
}

function mixed(parts: readonly MomentPart[], illuminance: number): Spectrum {
  const sum = new Float64Array(GRID.count);
  for (const part of parts) {
    const scale = (100 * part.illuminance) / illuminance;
    const spectrum = perLux(part.spectrum);
    for (let i = 0; i < GRID.count; i++) sum[i] += scale * spectrum[i];
  }
  return sum;
}

function checkDay(day: RoomDay): void {
  checkSky(day.sky);
  for (const { facing, glass, area } of day.windows) {
    checkWindow({ facing, glass });
    checkRange('a window area', area, { least: 0, most: 1000 });
  }
  for (const { name, spectrum, illuminance, on } of day.lamps) {
    checkSpectrum(spectrum, 'spectral power');
    if (!(luminous(spectrum) > 0)) throw new RangeError(`Expected a lamp that emits light, got ${name}`);
    checkRange(`the illuminance of ${name}`, illuminance, { least: 0, most: 200_000 });
    if (on !== 'when dark') {
      checkRange(`the hour ${name} is switched on`, on.from, { least: 0, most: 24 });
      checkRange(`the hour ${name} is switched off`, on.until, { least: 0, most: 24 });
    }
  }
  checkRange('a floor area above 0', day.floorArea, { least: Number.MIN_VALUE, most: 100_000 });
  checkRange('a height above 0', day.height, { least: Number.MIN_VALUE, most: 1000 });
  checkRange('a mean reflectance below 1', day.reflectance, { least: 0, most: 0.99 });
}

function checkRange(what: string, value: number, { least, most }: { least: number; most: number }): void {
  if (!(value >= least && value <= most)) {
    throw new RangeError(`Expected ${what} in [${least}, ${most}], got ${value}`);
  }
}
