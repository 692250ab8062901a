/**
 * Makes static/sample/readings.txt: what an instrument would read on three invented finishes of the sample job.
 * node test/authoring/readings/readings.ts
 *
 * Each reflectance is a smooth curve that has the wanted colour by day, and the wanted fault by lamplight: a paint that turns
 * grey, and a wall and a tile that match by day and part in the evening. The colours are ours, the method is a plain search.
 */
import fs from 'node:fs';
import path from 'node:path';
import {
  adaptCat16,
  deltaE2000,
  illuminant,
  OBSERVER_10,
  spectrumToXyz,
  WAVELENGTHS,
  WHITE_D65_10,
  whitePoint,
  xyzToLab,
  type IlluminantName,
  type Lab,
  type Spectrum,
} from '../../../src/lib/colour/index.ts';

const FILE = path.resolve(import.meta.dirname, '../../../static/sample/readings.txt');
const LAMP: IlluminantName = 'LED-B1';

function look(reflectance: Spectrum, name: IlluminantName): Lab {
  const spectrum = illuminant(name);
  const seen = spectrumToXyz(reflectance, { illuminant: spectrum, observer: OBSERVER_10 });
  const from = whitePoint(spectrum, OBSERVER_10);
  return xyzToLab(adaptCat16(seen, { from, to: WHITE_D65_10, degree: 1 }), WHITE_D65_10);
}

/** Bands a pigment or a filler takes or gives: centres every 40 nm, as wide as those of ordinary pigments. */
const CENTRES = [400, 440, 480, 520, 560, 600, 640, 680];
const WIDTH = 32;

function curve(logits: readonly number[]): Spectrum {
  return Float64Array.from(WAVELENGTHS, (nm) => {
    let weight = 0;
    let sum = 0;
    CENTRES.forEach((centre, k) => {
      const w = Math.exp(-(((nm - centre) / WIDTH) ** 2) / 2);
      weight += w;
      sum += w * logits[k];
    });
    return 1 / (1 + Math.exp(-sum / weight));
  });
}

/** Lowers the cost by trying smaller and smaller steps along each axis and its neighbour. */
function search(start: readonly number[], cost: (logits: readonly number[]) => number): number[] {
  let best = [...start];
  let least = cost(best);
  for (let step = 0.5; step > 1e-5;) {
    let better = false;
    for (let k = 0; k < best.length; k += 1) {
      for (let j = 0; j <= k; j += 1) {
        for (const [p, q] of [
          [step, step],
          [step, -step],
          [-step, step],
          [-step, -step],
        ]) {
          const tried = [...best];
          tried[k] += p;
          if (j !== k) tried[j] += q;
          const value = cost(tried);
          if (value < least) {
            [best, least, better] = [tried, value, true];
          }
        }
      }
    }
    if (!better) step /= 2;
  }
  return best;
}

const rough = (logits: readonly number[]) =>
  logits.reduce((sum, value, k) => (k < 2 ? 0 : sum + (value - 2 * logits[k - 1] + logits[k - 2]) ** 2), 0);

function made(day: Lab, evening: (lab: Lab) => number, smooth: number): Spectrum {
  const grey = Math.log(((day.L / 100) ** 2.4 + 0.01) / (1.01 - (day.L / 100) ** 2.4));
  const logits = search(new Array(CENTRES.length).fill(grey), (tried) => {
    const reflectance = curve(tried);
    return (
      40 * deltaE2000(day, look(reflectance, 'D65')) ** 2 +
      evening(look(reflectance, LAMP)) +
      smooth * rough(tried)
    );
  });
  return curve(logits);
}

const chroma = ({ a, b }: Lab) => Math.hypot(a, b);

const TILE: Lab = { L: 88, a: -0.6, b: 5 };
const WALL: Lab = { L: 87.8, a: -0.2, b: 5.4 };
const FOG: Lab = { L: 44, a: -12, b: 7 };

const tile = made(TILE, () => 0, 0.4);
const tileByLamp = look(tile, LAMP);
const wall = made(
  WALL,
  (lab) => 8 * (deltaE2000(tileByLamp, lab) - 4.2) ** 2 + 2 * Math.max(0, tileByLamp.a - lab.a + 1) ** 2,
  0.25,
);
const fog = made(FOG, (lab) => 2 * (chroma(lab) - 7) ** 2, 0.5);

const READINGS = [
  { id: 'OM-352', name: 'Fog Sluice', reflectance: fog },
  { id: 'tile', name: 'Half-bond tile', reflectance: tile },
  { id: 'wall', name: 'Warm off-white', reflectance: wall },
];

const BANDS = WAVELENGTHS.filter((nm) => nm <= 730 && nm % 10 === 0);
const fields = ['SAMPLE_ID', 'SAMPLE_NAME', ...BANDS.map((nm) => `SPECTRAL_NM${nm}`)];
const rows = READINGS.map(({ id, name, reflectance }) =>
  [`"${id}"`, `"${name}"`, ...BANDS.map((nm) => reflectance[(nm - 380) / 5].toFixed(4))].join('\t'),
);
const text = `CGATS.17
ORIGINATOR "invented readings of invented finishes"
DESCRIPTOR "spectral reflectance, 45/0, of three finishes of the sample job"
NUMBER_OF_FIELDS ${fields.length}
BEGIN_DATA_FORMAT
${fields.join('\t')}
END_DATA_FORMAT
NUMBER_OF_SETS ${rows.length}
BEGIN_DATA
${rows.join('\n')}
END_DATA
`;
fs.writeFileSync(FILE, text);

for (const { name, reflectance } of READINGS) {
  const [byDay, byLamp] = [look(reflectance, 'D65'), look(reflectance, LAMP)];
  const words = [byDay, byLamp].map(({ L, a, b }) => [L, a, b].map((v) => v.toFixed(1)).join(' '));
  console.log(
    `${name}: by day ${words[0]}, by lamp ${words[1]}, chroma ${chroma(byDay).toFixed(1)} -> ${chroma(byLamp).toFixed(1)}, reflectance ${Math.min(...reflectance).toFixed(2)}-${Math.max(...reflectance).toFixed(2)}`,
  );
}
console.log(
  `tile and wall: by day ${deltaE2000(look(tile, 'D65'), look(wall, 'D65')).toFixed(2)}, by lamp ${deltaE2000(tileByLamp, look(wall, LAMP)).toFixed(2)}`,
);
