import { colourName } from '#lib/colour/index.ts';
import { figureWords, HOLDS_BELOW, isFirm, type OwnChange } from '#lib/finish/index.ts';
import {
  inOrder,
  leadingSample,
  swatchTitle,
  type Id,
  type Job,
  type Light,
  type Swatch,
} from '#lib/job/index.ts';
import { lookOf, meanLook, paintsOf, type Paint } from './day.ts';
import { capital } from './light-words.ts';
import { screenColour, viewing, type Viewing } from './look.ts';
import { ownReading, ownSentence, ownWords, roomWords, TOO_LITTLE_KNOWN } from './readings.ts';

/** What a swatch looks like in one light. */
export interface Look {
  /** Null for plain daylight, as measured. */
  readonly lightId: Id | null;
  readonly name: string;
  /** Colours for the screen with their parts of the area. */
  readonly colours: readonly { css: string; share: number; exact: boolean }[];
  /** Name of the colour as it is shown. */
  readonly words: string;
  /** What it does of its own; null by plain daylight, and where too little is known of the colour. */
  readonly own: OwnChange | null;
  /** What everything does in that light; empty by plain daylight. */
  readonly room: string;
  /** `of its own a shade redder, 6.1 give or take 1.2`; `as measured` by plain daylight. */
  readonly change: string;
  /** All of it: `Pendants: brownish grey; everything looks darker here; of its own a shade redder, 6.1 give or take 1.2`. */
  readonly sentence: string;
}

/** What the numbers beside looks are. */
export const DIFFERENCE_EXPLAINED =
  'The picture shows how it looks there; words and number tell what it does of its own, beyond what the light does to ' +
  'everything: below 2 it holds. Numbers are CIEDE2000 from daylight, once the eye has settled on the light; within the ' +
  'give or take lie 19 of 20 surfaces that look the same by day. A measured reflectance leaves nothing open.';

// A light and a swatch stay the same objects until they are changed; a page shows hundreds of swatches in the same lights.
const viewings = new WeakMap<Light, Viewing>();
const looks = new WeakMap<Swatch, WeakMap<Light, Look>>();
const daylights = new WeakMap<Swatch, Look>();

function made(light: Light): Viewing {
  let found = viewings.get(light);
  if (!found) {
    found = viewing(light);
    viewings.set(light, found);
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
    const colours = paints.map(({ plain, share }) => ({ ...screenColour(plain), share }));
    let words: string | null = null;
    look = {
      ...{ lightId: null, name: 'Plain daylight', colours, own: null, room: '', change: 'as measured' },
      get words() {
        words ??= colourName(meanLook(paints, ({ plain }) => plain));
        return words;
      },
      get sentence() {
        return `${this.name}: ${this.words}, ${this.change}${beyond(colours)}`;
      },
    };
    daylights.set(swatch, look);
  }
  return look;
}

/** A look whose words and numbers are found when they are asked for: each takes ten times as long as the rest. */
function under(swatch: Swatch, paints: readonly Paint[], light: Light): Look {
  const known = looks.get(swatch)?.get(light);
  if (known) return known;
  const { view } = made(light);
  const seen = new Map(paints.map((paint) => [paint, lookOf(paint, view)]));
  const colours = paints.map((paint) => ({ ...screenColour(seen.get(paint)!), share: paint.share }));
  let words: string | null = null;
  const look: Look = {
    ...{ lightId: light.id, name: light.name, colours },
    get words() {
      words ??= colourName(meanLook(paints, (paint) => seen.get(paint)!));
      return words;
    },
    get own() {
      return ownReading(swatch, view);
    },
    get room() {
      return roomWords(view);
    },
    get change() {
      return ownSentence(this.own);
    },
    get sentence() {
      return `${this.name}: ${this.words}; ${this.room}; ${this.change}${beyond(colours)}`;
    },
  };
  if (!looks.has(swatch)) looks.set(swatch, new WeakMap());
  looks.get(swatch)?.set(light, look);
  return look;
}

const beyond = (colours: Look['colours']) =>
  colours.every(({ exact }) => exact) ? '' : '; this screen shows the nearest it can';

/**
 * The one thing to know about a swatch in the lights of its room: that it holds of its own, or the light in which it changes
 * most. Null without lights.
 */
export function gist(found: readonly Pick<Look, 'lightId' | 'name' | 'own'>[]): string | null {
  const lamps = found.filter(({ lightId }) => lightId !== null);
  if (lamps.length === 0) return null;
  let most: { name: string; own: OwnChange } | null = null;
  for (const { name, own } of lamps)
    if (own && own.deltaE.value > (most?.own.deltaE.value ?? -1)) most = { name, own };
  if (!most) return capital(TOO_LITTLE_KNOWN);
  const { name, own } = most;
  const number = figureWords(own.deltaE);
  if (own.deltaE.value >= HOLDS_BELOW)
    return `Of its own ${isFirm(own.deltaE) ? 'it changes' : 'it may change'} most under ${name}: ${own.words}, ${number}`;
  return lamps.length === 1
    ? `Of its own ${ownWords(own)} under ${name}, ${number}`
    : `Of its own ${ownWords(own)} under all ${lamps.length} lights, ${number} at most`;
}
