import {
  appearanceInRoom,
  daylight,
  deltaE2000,
  describeDifference,
  plausibleSurfaces,
  roomView,
  type Lab,
  type RoomView,
} from '#lib/colour/index.ts';
import { joined, type OwnChange } from '#lib/finish/index.ts';
import {
  inOrder,
  leadingSample,
  roomDay,
  swatchTitle,
  type FinishColour,
  type Job,
  type Room,
  type Sample,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import { sunTimes, throughDay, type Moment, type RoomDay, type SunTimes } from '#lib/light/index.ts';
import { lightFacts, viewingAt } from './look.ts';
import { clock } from './light-words.ts';
import { ownReading } from './readings.ts';

/** Hours between two moments of a day as it is drawn, and the step of its cursor. */
export const STEP = 0.25;

/** Below this a moment counts as dark, lx; `momentAsLight` makes no light of it either. */
const DARK_ROOM = 1;

/** Whether a moment has too little light to see or keep. */
export function isDark({ illuminance }: Moment): boolean {
  return illuminance < DARK_ROOM;
}

/** A room's day worked out: moments from midnight on in steps of `STEP`, each standing for the time until the next. */
export interface DayThrough {
  day: RoomDay;
  moments: readonly Moment[];
  /** What the eye is adapted to at each moment; by night that of the faint light that is left. */
  views: readonly RoomView[];
  sun: SunTimes;
  /** Whole hours worth drawing: from one before the first light to one after the last. */
  span: { from: number; until: number };
}

const days = new WeakMap<NonNullable<Room['day']>, DayThrough>();

/** The day of a room, worked out once for as long as it is not changed; null for a room of which it is not known. */
export function dayThrough(room: Room): DayThrough | null {
  if (!room.day) return null;
  const known = days.get(room.day);
  if (known) return known;
  const day = roomDay(room);
  if (!day) return null;
  const moments = throughDay(day, STEP);
  const dark = moments.find(({ spectrum }) => !spectrum);
  const night = dark ? viewingAt(room, dark.hour)?.view : undefined;
  const views = moments.map(({ spectrum, illuminance }) =>
    spectrum || !night ? roomView({ spectrum: spectrum ?? daylight(6500), illuminance }) : night,
  );
  const through = { day, moments, views, sun: sunTimes(day.place, day.date), span: spanOf(moments) };
  days.set(room.day, through);
  return through;
}

function spanOf(moments: readonly Moment[]): DayThrough['span'] {
  const lit = moments.filter((moment) => !isDark(moment));
  const [first, last] = [lit.at(0), lit.at(-1)];
  if (!first || !last) return { from: 0, until: 24 };
  return {
    from: Math.max(0, Math.floor(first.hour) - 1),
    until: Math.min(24, Math.ceil(last.hour + STEP) + 1),
  };
}

/** An hour brought onto the drawn part of a day, to a quarter. */
export function withinSpan({ from, until }: DayThrough['span'], hour: number): number {
  return Math.min(until, Math.max(from, Math.round(hour / STEP) * STEP));
}

/** Which lamps burn at a moment, in the day's order. */
export function burning({ lamps }: RoomDay, { parts }: Moment): boolean[] {
  let next = 0;
  return lamps.map(({ name, spectrum }) => {
    const found = parts.findIndex((part, i) => i >= next && part.name === name && part.spectrum === spectrum);
    if (found < 0) return false;
    next = found + 1;
    return true;
  });
}

/** What all lamps together give at a moment, lx. */
export function lampLight({ lamps }: RoomDay, { parts }: Moment): number {
  return parts
    .filter((part) => lamps.some(({ spectrum }) => spectrum === part.spectrum))
    .reduce((sum, { illuminance }) => sum + illuminance, 0);
}

/** Hours in which a lamp burns, as drawn. */
export function lampHours({ day, moments }: DayThrough, lamp: number): { from: number; until: number }[] {
  const runs: { from: number; until: number }[] = [];
  for (const moment of moments) {
    if (!burning(day, moment)[lamp]) continue;
    const last = runs.at(-1);
    if (last && last.until === moment.hour) last.until += STEP;
    else runs.push({ from: moment.hour, until: moment.hour + STEP });
  }
  return runs;
}

/** What a moment's light is and where it comes from: `4,400 K, 199 lx: north window 40 %, pendants 60 %`. */
export function momentWords(moment: Moment): string {
  const { spectrum, illuminance, parts } = moment;
  if (!spectrum || isDark(moment)) return 'dark';
  const shares = parts
    .map(({ name, illuminance: lux }) => ({
      name: withinSentence(name),
      percent: Math.round((100 * lux) / illuminance),
    }))
    .filter(({ percent }) => percent >= 1);
  const from =
    shares.length === 1
      ? `${shares[0].name} alone`
      : shares.map(({ name, percent }) => `${name} ${percent}\u00a0%`).join(', ');
  return `${lightFacts({ spectrum, illuminance })}: ${from}`;
}

/** A name as it stands within a sentence: `Pendants` becomes `pendants`, `LED strip` stays. */
function withinSentence(name: string): string {
  return /^\p{Lu}\p{Ll}/u.test(name) ? name.charAt(0).toLowerCase() + name.slice(1) : name;
}

/** A part below this share of the light does not enter a name. */
const NAMED_SHARE = 0.1;
/** Sun below this altitude makes dawn or dusk, degrees. Common practice, no published source. */
const LOW_SUN = 4;

/** A name for a moment kept as a light: `Dusk with pendants, 17:30`. */
export function momentName(day: RoomDay, { hour, sunAltitude, illuminance, parts }: Moment): string {
  const named = parts.filter((part) => part.illuminance >= NAMED_SHARE * illuminance);
  const isLamp = (part: Moment['parts'][number]) =>
    day.lamps.some(({ spectrum }) => spectrum === part.spectrum);
  const lamps = named.filter(isLamp).map(({ name }) => withinSentence(name));
  const lampWords = lamps.length > 2 ? 'lamps' : lamps.join(' and ');
  const time = clock(hour);
  if (named.every(isLamp)) return `${lampWords.charAt(0).toUpperCase()}${lampWords.slice(1, 60)}, ${time}`;
  const low = sunAltitude < LOW_SUN;
  const when = hour < 12 ? (low ? 'Dawn' : hour < 11 ? 'Morning' : 'Noon') : low ? 'Dusk' : null;
  const words = when ?? (hour < 14 ? 'Noon' : 'Afternoon');
  return `${words}${lampWords ? ` with ${lampWords.slice(0, 50)}` : ''}, ${time}`;
}

/** Hours worth looking at first, in their order: by day, at dusk, under the lamps alone. None outside what is drawn. */
export function landmarks({ day, moments, sun, span }: DayThrough): { hour: number; words: string }[] {
  const found: { hour: number; words: string }[] = [];
  const mark = (hour: number, words: string) => {
    if (hour >= span.from && hour <= span.until) found.push({ hour: withinSpan(span, hour), words });
  };
  if (sun.rise !== null) mark(sun.rise + 1, 'Morning');
  mark(12, 'Noon');
  if (sun.set !== null) mark(sun.set - 0.25, 'Dusk');
  const evening = moments.filter(
    (moment) => moment.hour > 12 && moment.parts.length > 0 && isAllLamps(day, moment),
  );
  if (evening.length > 0) mark(evening[Math.floor(evening.length / 2)].hour, 'Evening');
  return found.filter(({ hour }, i) => i === 0 || hour > found[i - 1].hour);
}

function isAllLamps(day: RoomDay, moment: Moment): boolean {
  return lampLight(day, moment) > 0.99 * moment.illuminance;
}

/** One colour of a finish made ready: how it looks in any light is then a few sums. */
export interface Paint {
  /** As measured: its look by plain daylight. */
  readonly plain: Lab;
  /** Of the area, 0-1. */
  readonly share: number;
  readonly reflectance: ArrayLike<number>;
  /** What no surface can have of the colour; it is kept in every light, dimmed with it. */
  beyond: Lab;
}

const paints = new WeakMap<Sample, Paint[]>();

/** The colours of a sample made ready, through their measured or else their most plausible reflectance. */
export function paintsOf(sample: Sample): Paint[] {
  const known = paints.get(sample);
  if (known) return known;
  const measured = sample.colours.length === 1 ? sample.reflectance : null;
  const made = sample.colours.map((colour) =>
    measured ? measuredPaint(colour, measured) : likelyPaint(colour),
  );
  paints.set(sample, made);
  return made;
}

function measuredPaint({ lab, share }: FinishColour, reflectance: readonly number[]): Paint {
  // Optical brighteners lift a measured curve above 1; they do so by daylight alone.
  const bounded = reflectance.map((value) => Math.min(1, value));
  return { plain: lab, share, reflectance: bounded, beyond: { L: 0, a: 0, b: 0 } };
}

function likelyPaint({ lab, share }: FinishColour): Paint {
  const { reflectances, beyond } = plausibleSurfaces(Float32Array.of(lab.L, lab.a, lab.b));
  const [L, a, b] = beyond;
  return { plain: lab, share, reflectance: reflectances, beyond: { L, a, b } };
}

/** What the screen must show so that a colour looks as it does in a room, CIELAB D65/10. */
export function lookOf({ reflectance, beyond }: Paint, view: RoomView): Lab {
  const { lab } = appearanceInRoom(reflectance, view);
  const { level } = view;
  return { L: lab.L + level * beyond.L, a: lab.a + level * beyond.a, b: lab.b + level * beyond.b };
}

/** A finish of a room that is followed through the day. */
export interface DayRow {
  id: string;
  swatch: Swatch;
  /** The finish, and on what it is where that is not said by its group. */
  name: string;
  paints: Paint[];
}

/** Finishes that are looked at together: the candidates of one open surface, or what stays. */
export interface DayGroup {
  id: string;
  title: string;
  /** Whether these are choices for one surface. */
  open: boolean;
  rows: DayRow[];
  /** Names of those that have no colour yet. */
  without: string[];
}

/** The finishes of a room: the candidates of each open surface, then what stays or is decided. */
export function dayGroups(job: Job, roomId: string): DayGroup[] {
  const surfaces = inOrder(job.surfaces).filter((surface) => surface.roomId === roomId);
  const open = surfaces
    .filter(({ state }) => state === 'open')
    .map((surface) => {
      const swatches = inOrder(job.swatches).filter(({ id }) => surface.candidateIds[id]);
      const entries = swatches.map((swatch) => ({ surface, swatch, name: swatchTitle(swatch) }));
      return groupOf(`open-${surface.id}`, surface.name, entries);
    });
  const stays = surfaces.flatMap((surface) => {
    const swatch = surface.swatchId ? job.swatches[surface.swatchId] : undefined;
    if (surface.state === 'open' || !swatch) return [];
    return [{ surface, swatch, name: `${surface.name}: ${swatchTitle(swatch)}` }];
  });
  const rest = { ...groupOf('stays', 'What stays', stays), open: false };
  return [...open, rest].filter(({ rows, without }) => rows.length + without.length > 0);
}

function groupOf(
  id: string,
  title: string,
  entries: readonly { surface: Surface; swatch: Swatch; name: string }[],
): DayGroup {
  const rows: DayRow[] = [];
  const without: string[] = [];
  for (const { surface, swatch, name } of entries) {
    const sample = leadingSample(swatch);
    if (sample) rows.push({ id: `${surface.id}-${swatch.id}`, swatch, name, paints: paintsOf(sample) });
    else without.push(name);
  }
  return { id, title, open: true, rows, without };
}

/** The colours of a finish by area as one: in a room, or as measured. */
export function meanLook(colours: readonly Paint[], look: (paint: Paint) => Lab): Lab {
  const whole = colours.reduce((sum, { share }) => sum + share, 0) || 1;
  const mean = { L: 0, a: 0, b: 0 };
  for (const paint of colours) {
    const lab = look(paint);
    const part = paint.share / whole;
    mean.L += part * lab.L;
    mean.a += part * lab.a;
    mean.b += part * lab.b;
  }
  return mean;
}

/** What has become of a finish at an hour. */
export interface RowReading {
  looks: Lab[];
  /** As the room is lit, against plain daylight: level and colour of the light, and what the finish does of its own. */
  words: string;
  deltaE: number;
  /** What it does of its own; null where too little is known of its colour. Worked out when it is asked for. */
  readonly own: OwnChange | null;
}

/** What a finish looks like in a room's light, and how that differs from daylight, in words and CIEDE2000. */
export function readingOf({ paints: colours, swatch }: DayRow, view: RoomView): RowReading {
  const plain = meanLook(colours, (paint) => paint.plain);
  const looks = colours.map((paint) => lookOf(paint, view));
  const seen = meanLook(colours, (paint) => looks[colours.indexOf(paint)]);
  return {
    looks,
    words: joined(describeDifference(plain, seen)),
    deltaE: deltaE2000(plain, seen),
    get own() {
      return ownReading(swatch, view);
    },
  };
}
