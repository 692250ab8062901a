/** Colours on which the table of reflectances is compared with the solver: seeded, none from a table of real surfaces. */
import { nearestReflectance } from '../../../src/lib/colour/recovery.ts';
import { labToXyz, xyzToLab } from '../../../src/lib/colour/lab.ts';
import type { Lab } from '../../../src/lib/colour/lab.ts';
import { WHITE_D65_10, spectrumToXyz } from '../../../src/lib/colour/tristimulus.ts';
import { SIGHT } from './recovery-judging.ts';

/** Numbers in [0, 1) (Park and Miller 1988). */
export function uniform(seed: number): () => number {
  let state = seed;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

/** Kinds of colours: what house paints are, all that surfaces can be, and the edges of that. */
const KINDS: Record<string, (random: () => number) => Lab> = {
  muted: (random) => ({ L: 20 + 75 * random(), a: -20 + 40 * random(), b: -15 + 45 * random() }),
  'whole solid': (random) => ({ L: 100 * random(), a: -100 + 200 * random(), b: -110 + 230 * random() }),
  'near black': (random) => ({ L: 8 * random(), a: -8 + 16 * random(), b: -8 + 16 * random() }),
  'near white': (random) => ({ L: 95 + 5 * random(), a: -4 + 8 * random(), b: -5 + 12 * random() }),
  'random smooth curves': (random) => {
    const level = -3 + 6 * random();
    const waves = Array.from({ length: 6 }, () => -2 + 4 * random());
    return labOf((j) => {
      const x = waves.reduce((sum, w, k) => sum + w * Math.cos((Math.PI * (k + 1) * j) / 80), level);
      return 1 / (1 + Math.exp(-x));
    });
  },
  'nearly optimal colours': (random) => {
    const [from, to] = [Math.floor(81 * random()), Math.floor(81 * random())].toSorted((a, b) => a - b);
    const inside = random() < 0.5;
    return labOf((j) => ((j >= from && j <= to) === inside ? 0.99 : 0.01));
  },
};

export const KIND_NAMES = Object.keys(KINDS);

function labOf(curve: (j: number) => number): Lab {
  return xyzToLab(
    spectrumToXyz(
      Float64Array.from({ length: 81 }, (_, j) => curve(j)),
      SIGHT,
    ),
    WHITE_D65_10,
  );
}

/** Colours of a kind that a surface can have, stride 3. */
export function coloursOf(kind: string, count: number): Float32Array {
  const random = uniform(1 + KIND_NAMES.indexOf(kind) * 7919);
  const found: number[] = [];
  while (found.length < 3 * count) {
    const lab = Float32Array.from(Object.values(KINDS[kind](random)));
    const xyz = labToXyz({ L: lab[0], a: lab[1], b: lab[2] }, WHITE_D65_10);
    if (nearestReflectance(xyz, SIGHT).deltaE < 0.01) found.push(...lab);
  }
  return Float32Array.from(found);
}
