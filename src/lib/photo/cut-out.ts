import { minimumCut } from './cut.ts';
import { localOdds, type Samples } from './local-odds.ts';
import { AXES } from './mixture.ts';
import type { Regions } from './regions.ts';
import { strangeBesideAll, strangeRegions } from './strangeness.ts';
import type { Superpixels } from './superpixels.ts';
import { conductances, mixtureInside, reached, strangeness, type Growth } from './surface-growth.ts';
import { apartFrom, type Unions } from './unions.ts';

const UNIT = 6; // pixels of area that a pixel of open border outweighs
const PLAIN_BORDER = 0.06; // price of a border even along a strong edge
const FAINT_BORDER = 1; // price of a border along a faint edge: no frayed outlines, yet handles stay out
const ODD = 3; // standard deviations from every stroke: a handle, a gap; such a region is let go more easily
const ODD_BORDER = 0.15;
const FAINT = 20; // barrier that is no longer faint
const LOOKS = 3; // times the neighbourhood of the border is looked at again
const MOST_ODDS = 4;
const SOFT = 3; // steps of depth for a vote
const PULL = 0.6; // price of a pixel against a whole vote
const SAID = 3; // weight of what a stroke covers itself
const STRANGE = 3; // standard deviations from every stroke: such a region is no good example
/**
 * What a part outside says against what looks like it, by how much parts it from the strokes (see `apartFrom`): gloss on a
 * door is no surface of its own because nothing has reached it yet.
 */
const TOLD_BY_APART = [0, 0.15, 0.4, 0.75, 1];
const JOINED = 1; // vote for what hardly anything parts from the strokes
const GRAIN: readonly [number, number] = [0.3, 0.7]; // binary orders of texture: from plain paint to grain
const ALIKE: readonly [number, number] = [1, 2.5]; // standard deviations from the strokes: from alike to unlike
const BURNT = 98; // L: what is burnt out says nothing about its surface

/** A picture in regions and their parts, as it is cut. */
interface CutGround {
  readonly regions: Regions;
  /** What the regions are joined from, which the cut runs between. */
  readonly parts: Regions;
  readonly pieces: Superpixels;
  readonly samples: Samples;
  readonly prices: Float32Array;
  readonly unions: Unions;
}

interface CutInput {
  /** 1 for what belongs to another surface or was taken away: per region and per part. */
  readonly closedRegions: Uint8Array;
  readonly closed: Uint8Array;
  /** Per part: 1 where it was taken away. */
  readonly removed: Uint8Array;
  readonly elsewhere: boolean;
}

/** What every cut of one picture shares: the price of each border. */
export function borderPrices(regions: Regions): Float32Array {
  const open = conductances(regions, 1);
  const faint = conductances(regions, FAINT);
  return regions.graph.border.map(
    (border, e) => UNIT * (10 * open[e] + 10 * FAINT_BORDER * faint[e] + PLAIN_BORDER * border),
  );
}

/**
 * Which regions are inside: the cheapest cut through the growths of all strokes, looked at again near its border. There
 * a region also goes by what lies near it on either side and looks like it, so that a white jar on a stone counter goes
 * with the white things outside although the sun burns the same stone out elsewhere.
 */
export function cutOut(
  { regions, parts, pieces, samples, prices, unions }: CutGround,
  growths: readonly Growth[],
  { closedRegions, closed, removed, elsewhere }: CutInput,
): Uint8Array {
  const { count, size, values, graph } = parts;
  const { first, other, twin } = graph;
  const { seeds, beyond, strange } = together({ regions, parts, pieces }, growths, {
    closed: closedRegions,
    elsewhere,
  });
  const capacity = prices.slice();
  const pull = new Float32Array(count);
  for (let i = 0; i < count; i++)
    if (strange[i] > ODD && !seeds[i])
      for (let e = first[i]; e < first[i + 1]; e++) capacity[e] = capacity[twin[e]] = ODD_BORDER * prices[e];
  const apart = apartFrom(seeds, unions);
  const outside = toldOutside(parts, { seeds, strange, apart, closed });
  const weight = new Float32Array(count);
  let chosen: Uint8Array = new Uint8Array(count);
  for (let i = 0; i < count; i++) chosen[i] = beyond[i] <= 0 || seeds[i] ? 1 : 0;
  for (let look = 0; look < LOOKS; look++) {
    for (let i = 0; i < count; i++)
      weight[i] = seeds[i]
        ? SAID
        : removed[i]
          ? -SAID
          : !chosen[i]
            ? -outside[i]
            : strange[i] > STRANGE
              ? 0.3
              : 1;
    const asked = nearBorder(parts, chosen);
    for (let i = 0; i < count; i++) {
      const depth = (apart[i] === 0 ? JOINED : 0) - beyond[i] / SOFT;
      // Only where it can turn the vote is it asked what lies near by.
      const open = asked[i] && !seeds[i] && !closed[i] && Math.abs(depth) < MOST_ODDS + 1;
      const told = open ? Math.max(0, Math.min(1, (BURNT - values[AXES * i]) / 6)) : 0;
      const near = told > 0 ? told * localOdds(i, samples, weight) : 0;
      // What looks unlike every stroke is not brought in by its mirror image.
      const odds = near > 0 && strange[i] > STRANGE ? 0 : near;
      const vote = depth + Math.max(-MOST_ODDS, Math.min(MOST_ODDS, odds));
      pull[i] = seeds[i] ? 1e7 : closed[i] ? -1e7 : size[i] * Math.max(-1, Math.min(1, vote)) * PULL;
    }
    const before = chosen;
    chosen = minimumCut({ count, first, other, twin, capacity, pull: pull });
    if (isSame(chosen, before)) break;
  }
  if (!elsewhere) dropCutOff(parts, chosen, { seeds, removed });
  fillHoles(parts, chosen, { closed, strange });
  return chosen;
}

function isSame(a: Uint8Array, b: Uint8Array): boolean {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return true;
}

interface Reach {
  /** 1 for the parts the strokes name. */
  readonly seeds: Uint8Array;
  readonly beyond: Float64Array;
  readonly strange: Float64Array;
}

/** The growths of all strokes in one, per part: what one of them reaches is reached. */
function together(
  { regions, parts, pieces }: Pick<CutGround, 'regions' | 'parts' | 'pieces'>,
  growths: readonly Growth[],
  { closed, elsewhere }: { closed: Uint8Array; elsewhere: boolean },
): Reach {
  const wide = new Float64Array(regions.count).fill(Infinity);
  for (const growth of growths)
    for (let i = 0; i < wide.length; i++) wide[i] = Math.min(wide[i], growth.beyond[i]);
  if (elsewhere) {
    const inside = new Uint8Array(wide.length);
    for (let i = 0; i < wide.length; i++) inside[i] = wide[i] <= 0 ? 1 : 0;
    const tolerance = Math.max(...growths.map((growth) => growth.tolerance));
    const beside = strangeBesideAll(growths.map((growth) => growth.beside));
    const unlike = strangeRegions(beside, pieces, regions);
    const more = likewise(regions, { inside, closed, tolerance, strange: unlike });
    for (let i = 0; i < wide.length; i++) wide[i] = Math.min(wide[i], more[i]);
  }
  const seeds = new Uint8Array(parts.count);
  const beyond = new Float64Array(parts.count);
  for (let i = 0; i < parts.of.length; i++) beyond[parts.of[i]] = wide[regions.of[i]];
  const strange = new Float64Array(parts.count).fill(Infinity);
  for (const growth of growths) {
    const { namedParts, strangeParts } = growth;
    for (let i = 0; i < parts.count; i++) {
      if (namedParts[i]) seeds[i] = 1;
      if (strangeParts[i] < strange[i]) strange[i] = strangeParts[i];
    }
  }
  return { seeds, beyond, strange };
}

/**
 * How much each part says against what looks like it while it lies outside, 0-1. The grain of wood and stone parts what belongs
 * together, so on such a surface what looks like the strokes says nothing; on plain paint the same step is a crease.
 */
function toldOutside(
  { count, size, values }: Regions,
  input: { seeds: Uint8Array; strange: Float64Array; apart: Uint8Array; closed: Uint8Array },
): Float32Array {
  const { seeds, strange, apart, closed } = input;
  let [texture, area] = [0, 0];
  for (let i = 0; i < count; i++)
    if (seeds[i]) {
      texture += size[i] * values[AXES * i + 3];
      area += size[i];
    }
  const own = texture / area;
  const told = new Float32Array(count);
  for (let i = 0; i < count; i++) {
    const grain = between(Math.min(own, values[AXES * i + 3]), GRAIN);
    told[i] = closed[i] ? 1 : TOLD_BY_APART[apart[i]] * (1 - grain * (1 - between(strange[i], ALIKE)));
  }
  return told;
}

function between(value: number, [from, to]: readonly [number, number]): number {
  return Math.max(0, Math.min(1, (value - from) / (to - from)));
}

/** 1 for regions at the border of what is chosen and their neighbours. */
function nearBorder({ count, graph }: Regions, chosen: Uint8Array): Uint8Array {
  const { first, other } = graph;
  const near = new Uint8Array(count);
  for (let i = 0; i < count; i++)
    for (let e = first[i]; e < first[i + 1]; e++)
      if (chosen[other[e]] !== chosen[i]) {
        near[i] = 1;
        for (let f = first[i]; f < first[i + 1]; f++) near[other[f]] = 1;
        break;
      }
  return near;
}

/** What only hung together with the strokes through what was taken away goes with it. */
function dropCutOff(
  { count, graph }: Regions,
  chosen: Uint8Array,
  { seeds, removed }: { seeds: Uint8Array; removed: Uint8Array },
): void {
  if (!removed.includes(1)) return;
  const seen = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    if (!chosen[i] || seen[i]) continue;
    const part = [i];
    seen[i] = 1;
    let [held, cut] = [false, false];
    for (let head = 0; head < part.length; head++) {
      const k = part[head];
      if (seeds[k] && !removed[k]) held = true;
      for (let e = graph.first[k]; e < graph.first[k + 1]; e++) {
        const j = graph.other[e];
        if (removed[j]) cut = true;
        else if (chosen[j] && !seen[j]) {
          seen[j] = 1;
          part.push(j);
        }
      }
    }
    if (cut && !held) for (const k of part) chosen[k] = 0;
  }
}

/** Takes in what lies wholly within and looks much like it; handles and gaps look different and stay out. */
function fillHoles(
  regions: Regions,
  chosen: Uint8Array,
  { closed, strange }: { closed: Uint8Array; strange: Float64Array },
): void {
  const { count, size, graph } = regions;
  if (!chosen.includes(1)) return;
  const seen = chosen.slice();
  const whole = size.reduce((sum, s) => sum + s, 0);
  for (let i = 0; i < count; i++) {
    if (seen[i]) continue;
    const hole = [i];
    seen[i] = 1;
    let [area, oddity, shut] = [0, 0, false];
    for (let head = 0; head < hole.length; head++) {
      const k = hole[head];
      area += size[k];
      oddity += size[k] * strange[k];
      if (closed[k]) shut = true;
      for (let e = graph.first[k]; e < graph.first[k + 1]; e++)
        if (!seen[graph.other[e]]) {
          seen[graph.other[e]] = 1;
          hole.push(graph.other[e]);
        }
    }
    if (!shut && area < whole * LARGEST_HOLE && oddity < area * HOLE_STRANGE)
      for (const k of hole) chosen[k] = 1;
  }
}

const LARGEST_HOLE = 0.0008; // of the picture
const HOLE_STRANGE = 2; // standard deviations, mean over the hole

const LEAST_PART = 1 / 1500; // of the picture: a part elsewhere smaller than this is a coincidence
const SAME = 1.5; // standard deviations
const BESIDE = 0.5; // what a standard deviation from the strokes themselves counts against one from all that is inside
const ELSEWHERE: readonly [number, number] = [1, 1.5]; // depths: parts that look alike run together, and no farther
const CLIPPED = 92; // L: what is burnt out says nothing about its surface

/** Depths of the regions reached from parts of the picture that look like what is inside already. */
function likewise(
  regions: Regions,
  input: { inside: Uint8Array; closed: Uint8Array; tolerance: number; strange: Float64Array },
): Float64Array {
  const { count, size, values, graph } = regions;
  const { inside, closed, tolerance } = input;
  const whole = size.reduce((sum, s) => sum + s, 0);
  const seeds = new Uint8Array(count);
  const strange = strangeness(mixtureInside(regions, inside), regions);
  for (let i = 0; i < count; i++) strange[i] = Math.max(strange[i], BESIDE * input.strange[i]);
  for (let i = 0; i < count; i++) {
    if (inside[i]) seeds[i] = 1;
    else if (!closed[i] && strange[i] < SAME && size[i] > whole * LEAST_PART && values[AXES * i] < CLIPPED) {
      let around = 1;
      for (let e = graph.first[i]; e < graph.first[i + 1]; e++) around += graph.border[e];
      if ((2 * size[i]) / around > 10) seeds[i] = 1;
    }
  }
  return reached(regions, { seeds, strange, closed, tolerance, depths: ELSEWHERE }).beyond;
}
