import {
  appearanceInRoom,
  describeDifference,
  GRID,
  illuminant,
  REFERENCE_ILLUMINANCE,
  roomView,
  type Lab,
  type RoomView,
} from '#lib/colour/index.ts';
import {
  figureWords,
  HOLDS_BELOW,
  isFirm,
  joined,
  ownChanges,
  type LightInput,
  type OwnChange,
  type ReflectanceCache,
} from '#lib/finish/index.ts';
import { finishInput, type Swatch } from '#lib/job/index.ts';

/*
 * Two readings of a finish in a light, kept apart everywhere. What everything does there, because of how much light there is
 * and of what colour: the picture shows it, and white paper says it once for all. And what the finish does of its own, beyond
 * that: for an eye that has settled on the light, at one level, with the figures of the light report.
 */

/** What the two readings are, for who meets them first. */
export const READINGS_EXPLAINED =
  'A light changes everything it falls on alike: that is what the pictures show. What a finish does of its own, beyond ' +
  'that, is what the words and numbers tell, for an eye that has settled on the light.';

/** What is said of a colour that is hardly known itself. */
export const TOO_LITTLE_KNOWN = 'too little is known of this colour to say what a lamp does to it';

const reflectances: ReflectanceCache = new Map();
const lightsMade = new WeakMap<RoomView, LightInput>();
const found = new WeakMap<Swatch, WeakMap<RoomView, OwnChange | null>>();

/** What a swatch does of its own in a light, as the light report has it; null without a colour, or with one hardly known. */
export function ownReading(swatch: Swatch, view: RoomView): OwnChange | null {
  const known = found.get(swatch)?.get(view);
  if (known !== undefined) return known;
  const finish = finishInput(swatch);
  const own = finish ? ownChanges(finish, [lightOf(view)], reflectances)[0] : null;
  if (!found.has(swatch)) found.set(swatch, new WeakMap());
  found.get(swatch)?.set(view, own);
  return own;
}

function lightOf(view: RoomView): LightInput {
  let light = lightsMade.get(view);
  if (!light) {
    const { spectrum, illuminance } = view.light;
    light = { id: 'there', name: 'there', spectrum: Array.from(spectrum), illuminance };
    lightsMade.set(view, light);
  }
  return light;
}

/** How a finish changes of its own, as it follows `of its own`: `it holds`, `a shade bluer and clearly greyer`. */
export function ownWords(own: Pick<OwnChange, 'words' | 'deltaE'>): string {
  const firm = isFirm(own.deltaE);
  if (own.deltaE.value < HOLDS_BELOW) return firm ? 'it holds' : 'it probably holds';
  const change = own.words === 'no visible difference' ? 'its colours change, but not as a whole' : own.words;
  return firm ? change : `perhaps ${change}`;
}

/** `of its own a shade bluer and clearly greyer, 4.1 give or take 0.8`. */
export function ownSentence(own: OwnChange | null): string {
  return own ? `of its own ${ownWords(own)}, ${figureWords(own.deltaE)}` : TOO_LITTLE_KNOWN;
}

/** Reflectance of white paper. Common practice, no published source. */
const PAPER = Float64Array.from({ length: GRID.count }, () => 0.9);
const PLAIN_PAPER: Lab = appearanceInRoom(
  PAPER,
  roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE }),
).lab;

/** Part above the level of the screen from which a light is said to be brighter than it. */
const BRIGHTER = 1.05;

const said = new WeakMap<RoomView, string>();

/** What a light does to everything, read off white paper: `everything looks much darker and clearly yellower here`. */
export function roomWords(view: RoomView): string {
  let words = said.get(view);
  if (words === undefined) {
    const change = joined(describeDifference(PLAIN_PAPER, appearanceInRoom(PAPER, view).lab));
    const brighter = view.light.illuminance > BRIGHTER * REFERENCE_ILLUMINANCE;
    words =
      change === 'no visible difference'
        ? `everything looks as by plain daylight${brighter ? ', only brighter than the screen can show' : ''}`
        : `everything looks ${change} here${brighter ? ', and brighter than the screen can show' : ''}`;
    said.set(view, words);
  }
  return words;
}
