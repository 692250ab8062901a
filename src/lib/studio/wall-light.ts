import {
  closedRoom,
  deltaE2000,
  describeDifference,
  type Lab,
  type RoomLight,
  type Spectrum,
} from '#lib/colour/index.ts';
import {
  inOrder,
  leadingSample,
  swatchTitle,
  type Id,
  type Job,
  type Room,
  type RoomDayRecord,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import { paintsOf } from './day.ts';
import { lightColour, tintWords } from './light-words.ts';

/** A room for want of its own size: floor in m², height in m, and mean reflectance of what bounds it. Common practice, no published source. */
const USUAL_ROOM = { floorArea: 14, height: 2.5, reflectance: 0.5 } as const;

/** Grey that stands for a ceiling or floor of unknown finish: in the middle of the bands of EN 12464-1 (from memory). */
const USUAL_REFLECTANCE = { ceiling: 0.8, floor: 0.3 } as const;

export type LargeArea = 'walls' | 'ceiling' | 'floor';
export const LARGE_AREAS: readonly LargeArea[] = ['walls', 'ceiling', 'floor'];

/** A large area of a room with what is on it. */
export interface PaintedArea {
  area: LargeArea;
  /** Part of everything that closes the room in, 0-1; windows are openings. */
  share: number;
  reflectance: ArrayLike<number>;
  /** What it is, in words. */
  finish: string;
}

/** Sizes of a room and whether they are its own. */
export interface RoomSize {
  floorArea: number;
  height: number;
  windowArea: number;
  reflectance: number;
  known: boolean;
}

export function roomSize({ day }: { day?: RoomDayRecord }): RoomSize {
  if (!day) return { ...USUAL_ROOM, windowArea: 0, known: false };
  const { floorArea, height, reflectance } = day;
  const windowArea = inOrder(day.windows).reduce((sum, { area }) => sum + area, 0);
  return { floorArea, height, windowArea, reflectance, known: true };
}

/** Shares of walls, ceiling and floor of a square room by area; windows are taken from its walls, of which a tenth stays at least. */
export function sharesOf({ floorArea, height, windowArea }: RoomSize): Record<LargeArea, number> {
  const round = 4 * Math.sqrt(floorArea) * height;
  const whole = round + 2 * floorArea;
  return {
    walls: Math.max(0.1 * round, round - windowArea) / whole,
    ceiling: floorArea / whole,
    floor: floorArea / whole,
  };
}

/** Reflectance of a swatch, its colours mixed by area; null while it has no colour. */
export function reflectanceOf(swatch: Swatch): Float64Array | null {
  const sample = leadingSample(swatch);
  if (!sample) return null;
  const paints = paintsOf(sample);
  const whole = paints.reduce((sum, { share }) => sum + share, 0) || 1;
  const mixed = new Float64Array(81);
  for (const { reflectance, share } of paints)
    for (let i = 0; i < mixed.length; i += 1) mixed[i] += (share / whole) * reflectance[i];
  return mixed.map((value) => Math.min(1, value));
}

/** Swatches that can be tried on a large area: those considered for it or on it first, then the paints. */
export function triable(job: Job, room: Room, area: LargeArea): { meant: Swatch[]; others: Swatch[] } {
  const surfaces = surfacesOf(job, room, area);
  const coloured = inOrder(job.swatches).filter((swatch) => leadingSample(swatch) !== null);
  const isMeant = ({ id }: Swatch) =>
    surfaces.some(({ state, swatchId, candidateIds }) =>
      state === 'open' ? candidateIds[id] : swatchId === id,
    );
  return {
    meant: coloured.filter(isMeant),
    others: coloured.filter((swatch) => swatch.kind === 'paint' && !isMeant(swatch)),
  };
}

function surfacesOf(job: Job, room: Room, area: LargeArea): Surface[] {
  return inOrder(job.surfaces).filter((surface) => surface.roomId === room.id && surface.kind === area);
}

/** The large areas of a room, the walls with the swatch that is tried on them. Null while that has no colour. */
export function paintedAreas(job: Job, room: Room, tried: Id | null): PaintedArea[] | null {
  const shares = sharesOf(roomSize(room));
  const areas: PaintedArea[] = [];
  for (const area of LARGE_AREAS) {
    const share = shares[area];
    const settled = surfacesOf(job, room, area).find(({ state }) => state !== 'open')?.swatchId;
    const swatch = job.swatches[(area === 'walls' ? tried : settled) ?? ''];
    const reflectance = swatch && reflectanceOf(swatch);
    if (reflectance) areas.push({ area, share, reflectance, finish: swatchTitle(swatch) });
    else if (area === 'walls') return null;
    else {
      const value = USUAL_REFLECTANCE[area];
      const finish = `a grey of LRV ${Math.round(100 * value)}, as its finish is not known`;
      areas.push({ area, share, reflectance: new Float64Array(81).fill(value), finish });
    }
  }
  return areas;
}

/** What a painted room does to a light and to the look of its own walls. */
export interface WallLight {
  /** Mean light on the surfaces. */
  light: RoomLight;
  /** `The light turns from 6,500 K to 6,100 K, a little greenish.` */
  lightWords: string;
  /** How light the room comes out beside what was taken for it, in words. */
  levelWords: string;
  /** The walls, ceiling and floor in this order: chip in the light as it comes, and the area itself. */
  areas: {
    area: LargeArea;
    finish: string;
    share: number;
    chip: Lab;
    wall: Lab;
    words: string;
    least: number;
    most: number;
  }[];
}

/**
 * What `closedRoom` says of a room's large areas in a light. The level of the light counts as that of a grey room of the
 * room's mean reflectance, as its day is worked out: less light comes in than falls on the surfaces in the end.
 */
export function wallLight(areas: readonly PaintedArea[], light: RoomLight, size: RoomSize): WallLight {
  const { spectrum } = light;
  const direct = { spectrum, illuminance: light.illuminance * (1 - size.reflectance) };
  const room = closedRoom(areas, direct);
  const ratio = room.light.illuminance / light.illuminance;
  return {
    light: room.light,
    lightWords: turnWords(spectrum, room.light.spectrum),
    levelWords: levelWords(ratio, size.reflectance),
    areas: room.surfaces.map(({ chip, wall, settled }, i) => {
      const [seen, after] = [deltaE2000(chip, wall), deltaE2000(chip, settled)];
      const { area, finish, share } = areas[i];
      const words = describeDifference(chip, wall);
      return {
        area,
        finish,
        share,
        chip,
        wall,
        words,
        least: Math.min(seen, after),
        most: Math.max(seen, after),
      };
    }),
  };
}

/** Steps to which a temperature is said, K: to 100 as lamps are sold. */
const kelvin = (cct: number) => `${(Math.round(cct / 100) * 100).toLocaleString('en')} K`;

function turnWords(before: Spectrum, after: Spectrum): string {
  const [from, to] = [lightColour(before), lightColour(after)];
  if (!to) return 'The light takes so much of the paint’s colour that it is no kind of white any more.';
  const tint = tintWords(to.tint);
  const known = from ? tintWords(from.tint) : '';
  const cast = tint && tint !== known ? `, ${tint}` : '';
  if (!from) return `The light comes to ${kelvin(to.cct)}${cast}.`;
  if (kelvin(from.cct) === kelvin(to.cct)) return `The light stays at ${kelvin(to.cct)}${cast}.`;
  const way = to.cct < from.cct ? 'warmer' : 'cooler';
  return `The light turns ${way}, from ${kelvin(from.cct)} to ${kelvin(to.cct)}${cast}.`;
}

function levelWords(ratio: number, taken: number): string {
  const percent = Math.round(100 * Math.abs(ratio - 1));
  const usual = `for this room (surfaces of ${Math.round(100 * taken)} % reflectance)`;
  if (percent < 5) return `There is as much of it as is worked out ${usual}.`;
  return `There is ${percent} % ${ratio > 1 ? 'more' : 'less'} of it than is worked out ${usual}.`;
}
