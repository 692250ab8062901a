import {
  choiceOf,
  schemeCard,
  SchemeSearch,
  schemeProblem,
  type ReflectanceCache,
  type SchemeCard,
  type SchemeInput,
  type SchemeProblem,
} from '#lib/finish/index.ts';
import type { SurfaceEdges } from '#lib/job/index.ts';
import { adjacentSurfaces, decodeMask, maskArea, type Mask, type StoredMask } from '#lib/photo/index.ts';
import { expose } from 'comlink';
import { foundSchemes, type FoundSchemes } from './scheme-found.ts';

/** Good schemes that look different, and the length of the list of the best whatever they look like. */
const DIFFERENT = 6;
const BEST = 20;
/** How long the search goes on without looking up, and how often it says where it stands, ms. */
const SLICE = 30;
const TELL_EVERY = 200;
/** Recovered reflectances kept; a kitchen has fifty finishes. */
const MOST_REFLECTANCES = 2000;

interface Prepared {
  readonly key: string;
  readonly asked: SchemeProblem;
  readonly search: SchemeSearch;
}

let reflectances: ReflectanceCache = new Map();
let prepared: Prepared | null = null;
/** Counts questions: who finds another number here has been overtaken. */
let round = 0;

function prepare(question: string): Prepared {
  if (prepared?.key === question) return prepared;
  if (reflectances.size > MOST_REFLECTANCES) reflectances = new Map();
  const asked = schemeProblem(JSON.parse(question) as SchemeInput, { cache: reflectances });
  const search = new SchemeSearch(asked.problem, { best: BEST, different: DIFFERENT });
  return (prepared = { key: question, asked, search });
}

const schemes = {
  /**
   * Searches for `time` ms at most, telling where it stands on the way, and with `first` what comes first as soon as it is
   * there. The same question again goes on where it was left;
   * another one, or `stop`, ends it. Null for one that was overtaken.
   * `question` is a `SchemeInput` as JSON.
   */
  async find(
    question: string,
    { time, first }: { readonly time: number; readonly first: number | null },
    tell: (found: FoundSchemes) => void,
  ): Promise<FoundSchemes | null> {
    const mine = ++round;
    const ready = prepare(question);
    const { search } = ready;
    const end = performance.now() + time;
    let told = performance.now();
    while (!search.progress.done && performance.now() < end) {
      const pause = performance.now() + SLICE;
      while (performance.now() < pause && !search.step(8).done);
      if (search.progress.done) break;
      if (performance.now() - told > TELL_EVERY) {
        tell(foundSchemes(ready, { searching: true }));
        told = performance.now();
      }
      // Lets questions in.
      await new Promise((resolve) => setTimeout(resolve));
      if (round !== mine) return stopped === mine ? foundSchemes(ready, { searching: false }) : null;
    }
    if (first !== null) tell(foundSchemes(ready, { searching: true, most: first }));
    return foundSchemes(ready, { searching: false });
  },

  /** Ends the search that goes on; it answers with what it has. */
  stop(): void {
    stopped = round;
    round += 1;
  },

  /** Cards of schemes by what is on each surface; null where something of one is gone. */
  cards(question: string, choices: readonly Readonly<Record<string, string>>[]): (SchemeCard | null)[] {
    const { asked } = prepare(question);
    return choices.map((one) => {
      const choice = choiceOf(asked, one);
      return choice && schemeCard(asked, choice);
    });
  },

  /** How large marked surfaces are in a photo and where they meet. A mark that is damaged is left out. */
  edges(
    marked: readonly { readonly id: string; readonly mask: StoredMask }[],
    { width, height }: { readonly width: number; readonly height: number },
  ): SurfaceEdges {
    const ids: string[] = [];
    const masks: Mask[] = [];
    for (const { id, mask } of marked) {
      try {
        masks.push(decodeMask(mask, { width, height }));
        ids.push(id);
      } catch (error) {
        if (!(error instanceof RangeError)) throw error;
      }
    }
    return {
      areas: Object.fromEntries(masks.map((mask, i) => [ids[i], maskArea(mask)])),
      borders: adjacentSurfaces(masks).map(({ a, b, length }) => ({ a: ids[a], b: ids[b], length })),
    };
  },
};

/** Number of the question that was told to stop. */
let stopped = -1;

export type Schemes = typeof schemes;

expose(schemes);
