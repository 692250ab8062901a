/**
 * Solves the nodes of the reflectance table and writes src/lib/colour/data/reflectance-nodes.ts; after every change of the
 * prior or the solver. Takes about half a minute.
 *
 *   node test/authoring/train/reflectance-table.ts --write
 */
import { writeFileSync } from 'node:fs';
import { realSurfaces } from '../../../src/lib/colour/reflectance-prior.ts';
import { EXACT, reflectanceSolver } from '../../../src/lib/colour/reflectance-solver.ts';
import {
  DIGITS,
  NODE_COUNT,
  NODE_SCALE,
  nodeLight,
  nodeXyz,
} from '../../../src/lib/colour/reflectance-table.ts';
import { WHITE_D65_10, tristimulusWeights } from '../../../src/lib/colour/tristimulus.ts';
import { SIGHT } from './recovery-judging.ts';
import { principal } from './recovery.ts';

const N = 81;

/** Components kept: with 16 the table differs from the solver by half as much again. */
const RANK = 20;

/** Importance of a band that the eye hardly sees, beside weights that add up to 1 for each of X, Y and Z. */
const UNSEEN_BAND = 0.001;

/** Node curves count by one over their squared departure from a flat one plus this: muted colours matter most. */
const MUTED = 0.2;

interface Node {
  readonly number: number;
  /** Logit reflectance less the logit of Y. */
  readonly curve: Float64Array;
}

function solveNodes(): Node[] {
  const solver = reflectanceSolver(realSurfaces(), SIGHT);
  const nodes: Node[] = [];
  for (let number = 0; number < NODE_COUNT; number++) {
    const { reflectance, deltaE } = solver.nearest(nodeXyz(number));
    if (deltaE > EXACT) continue;
    const light = nodeLight(number);
    // Beyond 14 a reflectance is 0 or 1 to a millionth.
    const curve = reflectance.map((v) => Math.max(-14, Math.min(14, Math.log(v) - Math.log1p(-v))) - light);
    nodes.push({ number, curve });
  }
  return nodes;
}

/** Components that lose least of what is seen, of the nodes that matter. */
function pack(nodes: readonly Node[]): string {
  const w = tristimulusWeights(SIGHT);
  const { X, Y, Z } = WHITE_D65_10;
  const seen = Float64Array.from({ length: N }, (_, j) =>
    Math.sqrt(w[j] / X + w[N + j] / Y + w[2 * N + j] / Z + UNSEEN_BAND),
  );
  const total = seen.reduce((sum, s) => sum + s * s, 0);
  const importance = nodes.map(({ curve }) => {
    const level = curve.reduce((sum, v, j) => sum + v * seen[j] ** 2, 0) / total;
    return 1 / (MUTED + curve.reduce((sum, v, j) => sum + (seen[j] * (v - level)) ** 2, 0) / total);
  });
  const all = importance.reduce((sum, v) => sum + v, 0);
  const mean = new Float64Array(N);
  nodes.forEach(({ curve }, i) => curve.forEach((v, j) => (mean[j] += (importance[i] * v) / all)));
  const covariance = Array.from({ length: N }, () => new Float64Array(N));
  nodes.forEach(({ curve }, i) => {
    for (let a = 0; a < N; a++) {
      const left = (importance[i] / all) * seen[a] * (curve[a] - mean[a]);
      for (let b = 0; b < N; b++) covariance[a][b] += left * seen[b] * (curve[b] - mean[b]);
    }
  });
  const axes = principal(covariance, RANK);
  const scores = nodes.map(({ curve }) =>
    axes.map((axis) => axis.reduce((sum, c, j) => sum + c * seen[j] * (curve[j] - mean[j]), 0)),
  );
  const units = axes.map((_, k) => {
    const most = scores.reduce((found, row) => Math.max(found, Math.abs(row[k])), 0);
    return Number((most / 2047).toPrecision(6));
  });
  const present = new Uint8Array(Math.ceil(NODE_COUNT / 6));
  for (const { number } of nodes) present[Math.floor(number / 6)] |= 1 << (number % 6);
  const digits = scores.flatMap((row) =>
    row.map((v, k) => {
      const code = Math.max(0, Math.min(4095, Math.round(v / units[k]) + 2048));
      return DIGITS[code >> 6] + DIGITS[code & 63];
    }),
  );
  const whole = (values: Iterable<number>, scale: number): string =>
    list(Array.from(values, (v) => Math.round(v * scale) + 0));
  return `// Reflectances at the nodes of the table in reflectance-table.ts, recovered by reflectance-solver.ts from the prior in
// reflectance-prior.ts (sources there): logit reflectance on ${RANK} components, 380-780 nm by 5.
// Written by test/authoring/train/reflectance-table.ts.
import type { PackedNodes } from '../reflectance-table.ts';

/** The nodes, packed; \`reflectanceTable\` unpacks them. */
export const REFLECTANCE_NODES: PackedNodes = {
  rank: ${RANK},
  mean: [
${whole(mean, NODE_SCALE.mean)}
  ],
  components: [
${whole(
  axes.flatMap((axis) => Array.from(axis, (c, j) => c / seen[j])),
  NODE_SCALE.components,
)}
  ],
  units: [
${list(units)}
  ],
  present:
    '${Array.from(present, (v) => DIGITS[v]).join('')}',
  scores:
    '${digits.join('')}',
};
`;
}

function list(values: readonly number[]): string {
  return values.reduce((text, v) => {
    const last = text.length - text.lastIndexOf('\n');
    return `${text}${last + String(v).length > 108 ? '\n' : ''}${v},`;
  }, '');
}

if (!process.argv.includes('--write')) throw new Error('Expected --write');
const nodes = solveNodes();
const text = pack(nodes);
writeFileSync(new URL('../../../src/lib/colour/data/reflectance-nodes.ts', import.meta.url), text);
console.log(`${nodes.length} of ${NODE_COUNT} nodes, ${text.length} bytes`);
