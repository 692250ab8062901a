import { colourName, REFERENCE_ILLUMINANCE, roomView, type Lab, type RoomView } from '#lib/colour/index.ts';
import {
  inOrder,
  leadingSample,
  swatchTitle,
  type Id,
  type Job,
  type Light,
  type Swatch,
} from '#lib/job/index.ts';
import { daylightOfLevel, lookOf, paintsOf, readingOf, type Paint } from './day.ts';
import { screenColour, viewing, type Viewing } from './look.ts';

/** What a swatch looks like in one light. */
export interface Look {
  /** Null for plain daylight, as measured. */
  lightId: Id | null;
  name: string;
  /** Colours for the screen with their parts of the area. */
  colours: { css: string; share: number; exact: boolean }[];
  /** Name of the colour in that light at a level at which colours are named. */
  words: string;
  /** CIEDE2000 from its look by daylight of the same level: what the colour of the light does, not how much of it there is. */
  deltaE: number;
  /** That difference in words. */
  change: string;
  /** All of it: `Pendants in the evening: brownish grey, 6.1 from its daylight look: a shade redder`. */
  sentence: string;
}

/** Below this CIEDE2000 a swatch is said to hold its colour: `differenceInWords` calls it gone when chips lie apart. */
const HOLDS = 2;

interface MadeLight {
  viewing: Viewing;
  sameLevel: RoomView;
  /** At the level of plain daylight: names of colours are for a well lit room. */
  named: RoomView;
}

// A light and a swatch stay the same objects until they are changed; a page shows hundreds of swatches in the same lights.
const lightsMade = new WeakMap<Light, MadeLight>();
const looks = new WeakMap<Swatch, WeakMap<Light, Look>>();
const daylights = new WeakMap<Swatch, Look>();

function made(light: Light): MadeLight {
  let found = lightsMade.get(light);
  if (!found) {
    const ready = viewing(light);
    const { spectrum } = ready;
    found = {
      viewing: ready,
      sameLevel: daylightOfLevel(ready.view),
      named: roomView({ spectrum, illuminance: REFERENCE_ILLUMINANCE }),
    };
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
  const known = daylights.get(swatch);
  if (known) return known;
  const words = colourName(mean(paints, ({ plain }) => plain));
  const name = 'Plain daylight';
  const colours = paints.map(({ plain, share }) => ({ ...screenColour(plain), share }));
  const look = {
    lightId: null,
    name,
    colours,
    words,
    deltaE: 0,
    change: '',
    sentence: `${name}: ${words}, as measured${beyond(colours)}`,
  };
  daylights.set(swatch, look);
  return look;
}

function under(swatch: Swatch, paints: Paint[], light: Light): Look {
  const known = looks.get(swatch)?.get(light);
  if (known) return known;
  const { viewing: ready, sameLevel, named } = made(light);
  const row = { id: swatch.id, swatch, name: swatchTitle(swatch), paints };
  const reading = readingOf(row, ready.view, sameLevel);
  const words = colourName(mean(paints, (paint) => lookOf(paint, named)));
  const { castDeltaE: deltaE, castWords: change } = reading;
  const colours = paints.map(({ share }, i) => ({ ...screenColour(reading.looks[i]), share }));
  const look = {
    lightId: light.id,
    name: light.name,
    colours,
    words,
    deltaE,
    change,
    sentence: `${light.name}: ${words}, ${deltaE.toFixed(1)} from its daylight look: ${change}${beyond(colours)}`,
  };
  if (!looks.has(swatch)) looks.set(swatch, new WeakMap());
  looks.get(swatch)?.set(light, look);
  return look;
}

const beyond = (colours: Look['colours']) =>
  colours.every(({ exact }) => exact) ? '' : '; this screen shows the nearest it can';

/** Colours of a finish by area as one. */
function mean(paints: readonly Paint[], colour: (paint: Paint) => Lab): Lab {
  const whole = paints.reduce((sum, { share }) => sum + share, 0) || 1;
  const sum = { L: 0, a: 0, b: 0 };
  for (const paint of paints) {
    const lab = colour(paint);
    const part = paint.share / whole;
    sum.L += part * lab.L;
    sum.a += part * lab.a;
    sum.b += part * lab.b;
  }
  return sum;
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
  const number = most.deltaE.toFixed(1);
  if (most.deltaE < HOLDS) {
    return lamps.length === 1
      ? `Holds its colour under ${most.name} (${number})`
      : `Holds its colour under all ${lamps.length} lights (${number} at most)`;
  }
  return `Changes most under ${most.name}: ${most.change} (${number})`;
}
