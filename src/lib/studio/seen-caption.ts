import { differenceInWords } from '#lib/colour/index.ts';
import {
  leadingSample,
  swatchTitle,
  type Job,
  type Photo,
  type Sample,
  type Swatch,
} from '#lib/job/index.ts';
import { photoSource } from './analysis.ts';
import type { Viewing } from './look.ts';
import { roomScene } from './room-scene.ts';
import { finishesOn, lightLine, lightWay, orderWords, percent, type LightTold, type Place } from './see.ts';

/** Where the colour of a swatch comes from, to stand after “colour”. */
export function sampleWords(job: Job, { source, from }: Pick<Sample, 'source' | 'from'>): string {
  const photo = from ? job.photos[from.photoId] : undefined;
  const words: Record<Sample['source'], string> = {
    photo: photo ? `measured in the photo “${photo.name}”` : 'measured in a photo',
    instrument: 'read from a sample with an instrument',
    typed: 'typed in',
    notation: 'from its notation',
    published: 'as published by its maker',
    'published LRV': 'guessed from its published LRV',
  };
  return words[source];
}

/** Every finish that differs from the photo, as caption lines: where its colour is from, and whether its pattern is left out. */
function finishLines(job: Job, photo: Photo, places: readonly Place[]): string[] {
  const finishes = finishesOn(job, roomScene(job, photo), places);
  return places.flatMap(({ surface, name, marked, on }) => {
    const sample = on && leadingSample(on);
    const plain = finishes[surface.id]?.patternGap ? ' Its pattern is not shown, only its mean colour.' : '';
    return marked && on && sample
      ? [`${name}: ${orderWords(on)}; colour ${sampleWords(job, sample)}.${plain}`]
      : [];
  });
}

/**
 * How far off the colours of a photo are in which nothing is known, CIEDE2000 in the mean of simulated photographs (4.86); the
 * correction says the same of itself.
 */
export const ESTIMATED_OFF = 5;
/** That in words: `off by about 5 (CIEDE2000), plainly different side by side`. */
export const estimatedSize = `off by about ${ESTIMATED_OFF} (CIEDE2000), ${differenceInWords(ESTIMATED_OFF).split(',')[0]}`;

/** Whether nothing in a photo says what its colours are, so that its correction is a guess. */
export const isEstimated = (job: Job, photo: Photo): boolean =>
  photoSource(job, photo).references.length === 0;

/** What the pictures on the page are, in what light, and how far their colours may be off. `told` as for `captionLines`. */
export function statusLine({
  simulated,
  light,
  told,
  estimated,
}: {
  readonly simulated: boolean;
  readonly light: Viewing | null;
  readonly told: LightTold | null;
  readonly estimated: boolean;
}): string {
  const how = estimated ? 'corrected by estimate' : 'corrected';
  const doubt = estimated ? ` Its colours are ${estimatedSize}.` : '';
  const shown = `shown in ${lightLine(light)}${lightWay(told)}`;
  if (simulated) return `A simulation, ${shown}.${doubt}`;
  return light
    ? `The photo, ${how}, ${shown}.${doubt}`
    : `The photo in its own light, ${how} towards plain daylight (6,500 K).${doubt}`;
}

/** Letters of names in one sentence; more are counted. */
const MOST_NAMED = 200;

/**
 * Which finishes of a picture are shown without their pattern, in a sentence; empty where none is. `plain` are the
 * surfaces with what is on them.
 */
export function patternsLeftOut(plain: readonly { surface: string; swatch: Swatch }[]): string {
  if (plain.length === 0) return '';
  const all = plain.map(({ surface, swatch }) => `${surface} in ${swatchTitle(swatch)}`).join('; ');
  const named = all.length <= MOST_NAMED ? all : `${plain.length} finishes`;
  return `Shown in ${plain.length === 1 ? 'its mean colour, without its' : 'their mean colours, without their'} pattern: ${named}.`;
}

/** How the light of a picture was worked out, in a sentence. `told` is null where all light went through one table. */
export function lightMade(light: Viewing | null, told: LightTold | null): string {
  if (!light)
    return 'Light and shadows are those of the photo, corrected to plain daylight as one: a dark window stays dark, lamps stay on or off.';
  if (!told)
    return 'All light in the photo is brought to this light as one: sun and shadows stay where they were, windows bright or dark and lamps on or off as they were.';
  return told.told === 'apart'
    ? `The light of the window and that of the lamps are worked out apart, each for its own part of this light; about ${percent(told.mean)} of the light in the photo is taken to be the window’s.`
    : 'All light in the photo is brought to this light as one, shadows where they were; only the panes of the window, and sun with a hard edge on marked floors and counters, are worked out apart, as bright as the window’s part of it.';
}

/**
 * What stands under an exported pair of pictures. `date` as people write it; `told` is what the picture made of the photo's
 * own light, null where it went through one light.
 */
export function captionLines(
  job: Job,
  {
    photo,
    places,
    light,
    told,
    date,
  }: {
    photo: Photo;
    places: readonly Place[];
    light: Viewing | null;
    told: LightTold | null;
    date: string;
  },
): string[] {
  const finishes = finishLines(job, photo, places);
  return [
    `${job.name}, ${date}. A simulation made from the photo “${photo.name}”, shown in ${lightLine(light)}.`,
    lightMade(light, told),
    ...(finishes.length > 0 ? finishes : ['No finish is put on: both pictures show the room as it is.']),
    ...(isEstimated(job, photo)
      ? [
          `Nothing of known colour is marked in the photo, so its colours are only estimated: ${estimatedSize}.`,
        ]
      : []),
    'Screens and prints differ: see the painted sample in the room before deciding.',
  ];
}

/**
 * A text in lines no wider than `width` by what `measure` says. Breaks between words; a word wider than a line is broken
 * where it has to be. Nothing is left out.
 */
export function wrapped(text: string, width: number, measure: (text: string) => number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(/\s+/).filter(Boolean)) {
    const longer = line ? `${line} ${word}` : word;
    if (measure(longer) <= width) {
      line = longer;
      continue;
    }
    if (line) lines.push(line);
    line = '';
    for (const sign of word) {
      if (line && measure(line + sign) > width) {
        lines.push(line);
        line = '';
      }
      line += sign;
    }
  }
  return line ? [...lines, line] : lines;
}
