import { colourName, type Lab, type RoomView } from '#lib/colour/index.ts';
import { figureWords } from '#lib/finish/index.ts';
import {
  inOrder,
  leadingSample,
  swatchTitle,
  type Id,
  type Job,
  type Light,
  type Swatch,
} from '#lib/job/index.ts';
import { daylightOfLevel, lookOf, meanLook, paintsOf, readingOf, type Paint } from './day.ts';
import { screenColour, viewing, type Viewing } from './look.ts';

/** What a swatch looks like in one light. */
export interface Look {
  /** Null for plain daylight, as measured. */
  readonly lightId: Id | null;
  readonly name: string;
  /** Colours for the screen with their parts of the area. */
  readonly colours: readonly { css: string; share: number; exact: boolean }[];
  /** Name of the colour with what the light's colour does to it; names are for a well lit room, so its level is left out. */
  readonly words: string;
  /** CIEDE2000 from its look by daylight of the same level: what the colour of the light does, not how much of it there is. */
  readonly deltaE: number;
  /** Two standard deviations of it, found when it is asked for; 0 where nothing is open (see `RowReading.doubt`). */
  readonly giveOrTake: number;
  /** That difference in words; `as measured` by plain daylight. */
  readonly change: string;
  /** All of it: `Pendants in the evening: brownish grey, a shade redder than by daylight, difference 6.1 give or take 1.2`. */
  readonly sentence: string;
}

/** Below this CIEDE2000 a swatch is said to hold its colour: `differenceInWords` calls it gone when chips lie apart. */
const HOLDS = 2;

/** Part of the give or take (two standard deviations) that leaves four chances in five on one side of a value. */
const LIKELY_REACH = 0.42;

/** What the numbers beside strips of looks are. */
export const DIFFERENCE_EXPLAINED =
  'Differences are CIEDE2000 from the look by daylight of the same level, give or take two standard deviations over the ' +
  'reflectances that would look the same by day; a measured reflectance leaves nothing open.';

interface MadeLight {
  viewing: Viewing;
  sameLevel: RoomView;
}

// A light and a swatch stay the same objects until they are changed; a page shows hundreds of swatches in the same lights.
const lightsMade = new WeakMap<Light, MadeLight>();
const looks = new WeakMap<Swatch, WeakMap<Light, Look>>();
const daylights = new WeakMap<Swatch, Look>();

function made(light: Light): MadeLight {
  let found = lightsMade.get(light);
  if (!found) {
    const ready = viewing(light);
    found = { viewing: ready, sameLevel: daylightOfLevel(ready.view) };
    lightsMade.set(light, found);
  }
  return found;
}

/** Named lights of a room in their order. */
export function lightsOf(job: Job, roomId: Id | null): Light[] {
  return inOrder(job.lights).filter((light) => light.roomId === roomId);
}

/** How a swatch looks by plain daylight and in each light, in that order; empty while it has no colour. */
export function looksOf(swatch: Swatch, lights: readonly Light[]): Look[] {
  const sample = leadingSample(swatch);
  if (!sample) return [];
  const paints = paintsOf(sample);
  return [byDay(swatch, paints), ...lights.map((light) => under(swatch, paints, light))];
}

function byDay(swatch: Swatch, paints: readonly Paint[]): Look {
  let look = daylights.get(swatch);
  if (!look) {
    look = lookWith(
      {
        lightId: null,
        name: 'Plain daylight',
        colours: paints.map(({ plain, share }) => ({ ...screenColour(plain), share })),
        deltaE: 0,
        change: 'as measured',
      },
      { colour: () => meanLook(paints, ({ plain }) => plain), giveOrTake: () => 0 },
    );
    daylights.set(swatch, look);
  }
  return look;
}

function under(swatch: Swatch, paints: Paint[], light: Light): Look {
  const known = looks.get(swatch)?.get(light);
  if (known) return known;
  const { viewing: ready, sameLevel } = made(light);
  const row = { id: swatch.id, swatch, name: swatchTitle(swatch), paints };
  const reading = readingOf(row, ready.view, sameLevel);
  const look = lookWith(
    {
      lightId: light.id,
      name: light.name,
      colours: paints.map(({ share }, i) => ({ ...screenColour(reading.looks[i]), share })),
      deltaE: reading.castDeltaE,
      change: reading.castWords,
    },
    {
      colour: () => meanLook(paints, (paint) => cast(paint, ready.view, sameLevel)),
      giveOrTake: () => reading.doubt.castDeltaE,
    },
  );
  if (!looks.has(swatch)) looks.set(swatch, new WeakMap());
  looks.get(swatch)?.set(light, look);
  return look;
}

/** A look whose words and doubt are found when they are asked for: each takes ten times as long as the rest. */
function lookWith(
  known: Omit<Look, 'words' | 'giveOrTake' | 'sentence'>,
  { colour, giveOrTake }: { colour: () => Lab; giveOrTake: () => number },
): Look {
  let words: string | null = null;
  return {
    ...known,
    get words() {
      words ??= colourName(colour());
      return words;
    },
    get giveOrTake() {
      return giveOrTake();
    },
    get sentence() {
      const { lightId, name, change, colours } = known;
      const said = lightId === null ? change : `${change}, ${differenceOf(this)} from its daylight look`;
      return `${name}: ${this.words}, ${said}${beyond(colours)}`;
    },
  };
}

/** `difference 6.1 give or take 1.2`. */
export function differenceOf({ deltaE, giveOrTake }: Pick<Look, 'deltaE' | 'giveOrTake'>): string {
  return `difference ${figureWords({ value: deltaE, giveOrTake })}`;
}

const beyond = (colours: Look['colours']) =>
  colours.every(({ exact }) => exact) ? '' : '; this screen shows the nearest it can';

/** A colour as measured, moved by what the colour of a light does to it. */
function cast(paint: Paint, view: RoomView, sameLevel: RoomView): Lab {
  const [seen, level] = [lookOf(paint, view), lookOf(paint, sameLevel)];
  const { L, a, b } = paint.plain;
  return {
    L: Math.min(100, Math.max(0, L + seen.L - level.L)),
    a: a + seen.a - level.a,
    b: b + seen.b - level.b,
  };
}

/**
 * The one thing to know about a swatch in the lights of its room: that it holds its colour, or the light that changes it
 * most. Null without lights.
 */
export function gist(found: readonly Look[]): string | null {
  const lamps = found.filter(({ lightId }) => lightId !== null);
  const most = lamps.reduce<Look | null>(
    (worst, look) => (worst && worst.deltaE >= look.deltaE ? worst : look),
    null,
  );
  if (!most) return null;
  const { name, change, deltaE, giveOrTake } = most;
  const firm = Math.abs(deltaE - HOLDS) >= LIKELY_REACH * giveOrTake;
  if (deltaE < HOLDS) {
    const holds = firm ? 'Holds its colour' : 'Probably holds its colour';
    return lamps.length === 1
      ? `${holds} under ${name} (${differenceOf(most)})`
      : `${holds} under all ${lamps.length} lights (${differenceOf(most)} at most)`;
  }
  return `${firm ? 'Changes' : 'May change'} most under ${name}: ${change} (${differenceOf(most)})`;
}
