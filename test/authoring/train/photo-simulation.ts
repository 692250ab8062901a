import { readFileSync } from 'node:fs';
import {
  GRID,
  ILLUMINANT_NAMES,
  OBSERVER_10,
  OBSERVER_2,
  WAVELENGTHS,
  WHITE_D65_10,
  blackBody,
  daylight,
  illuminant,
  tristimulusWeights,
  xyzToLab,
  xyzToRgbMatrix,
} from '#lib/colour/index.ts';
import type { IlluminantName, Lab } from '#lib/colour/index.ts';
import { Random } from './random.ts';

/**
 * Simulated photographs with known truth: camera x lamp x surfaces -> the 8-bit sRGB a phone would deliver.
 *
 * Sources: test/fixtures/published/camera_sensitivities.csv and reflectance_training190.csv (Academy, RAWtoACES),
 * target24_reflectance.csv (Ohta 1997), CIE illuminants and observers of the colour area.
 * One photograph: raw = sum of sensitivity x lamp x reflectance; balanced on the lamp's white with a residual; 3x3
 * matrix fitted by least squares for another light, keeping white; exposure; gentle tone curve; clipped; 8 bits.
 * No noise, flare or uneven light: the measurement adds doubt for those from what the picture shows.
 */

const FOLDER = new URL('../../fixtures/published/', import.meta.url);
const N = GRID.count;

function table(name: string): { columns: string[]; rows: string[][] } {
  const lines = readFileSync(new URL(name, FOLDER), 'utf8')
    .split('\n')
    .filter((line) => line.trim() !== '' && !line.startsWith('#'));
  return { columns: lines[0].split(','), rows: lines.slice(1).map((line) => line.split(',')) };
}

function reflectances(name: string): Float64Array[] {
  const { columns, rows } = table(name);
  const onGrid = rows.filter((row) => Number(row[0]) >= GRID.start && Number(row[0]) <= GRID.end);
  if (onGrid.length !== N) throw new RangeError(`Expected ${N} wavelengths in ${name}, got ${onGrid.length}`);
  return columns.slice(1).map((_, k) => Float64Array.from(onGrid, (row) => Number(row[k + 1])));
}

/** The 190 measured surfaces. */
export const SURFACES: readonly Float64Array[] = reflectances('reflectance_training190.csv');

/** The 24 patches of the target, in chart order. Never among the training surfaces: only ever references. */
export const TARGET: readonly Float64Array[] = reflectances('target24_reflectance.csv');

/** The 8 measured cameras: three rows of 81 (r, g, b). */
export const CAMERAS: readonly Float64Array[] = (() => {
  const { rows } = table('camera_sensitivities.csv');
  const names = [...new Set(rows.map((row) => row[0]))];
  return names.map((name) => {
    const own = rows.filter((row) => row[0] === name);
    const camera = new Float64Array(3 * N);
    own.forEach((row, i) => {
      for (let c = 0; c < 3; c++) camera[c * N + i] = Number(row[2 + c]);
    });
    return camera;
  });
})();

const D65 = illuminant('D65');
const WEIGHTS_10 = tristimulusWeights({ illuminant: D65, observer: OBSERVER_10 });
const WEIGHTS_2 = tristimulusWeights({ illuminant: D65, observer: OBSERVER_2 });
const XYZ_TO_RGB = xyzToRgbMatrix('srgb');

function dot(a: Float64Array, at: number, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < N; i++) sum += a[at + i] * b[i];
  return sum;
}

/** CIELAB D65/10 of a reflectance, by the colour area. */
export function trueLab(reflectance: Float64Array): Lab {
  const [X, Y, Z] = [0, N, 2 * N].map((at) => dot(WEIGHTS_10, at, reflectance));
  return xyzToLab({ X, Y, Z }, WHITE_D65_10);
}

/** Linear sRGB a perfect camera would deliver: the 2 degree observer's under D65; below 0 outside the gamut. */
export function idealRgb(reflectance: Float64Array): [number, number, number] {
  const xyz = [0, N, 2 * N].map((at) => dot(WEIGHTS_2, at, reflectance));
  return [0, 1, 2].map(
    (k) => XYZ_TO_RGB[3 * k] * xyz[0] + XYZ_TO_RGB[3 * k + 1] * xyz[1] + XYZ_TO_RGB[3 * k + 2] * xyz[2],
  ) as [number, number, number];
}

const IDEAL = SURFACES.map(idealRgb);

/** How the simulated cameras develop; standard deviations unless said otherwise. */
export interface Development {
  /** Chances of the matrix being fitted for: daylight; illuminant A; a light of the lamp's own temperature; any lamp. */
  readonly matrixLight: readonly [number, number, number, number];
  /** Level of a perfect white, uniform in the logarithm. */
  readonly exposure: readonly [number, number];
  /** Residual of the balance in ln units, blue-yellow and green-magenta. */
  readonly balance: readonly [number, number];
  /** Contrast and shoulder of the tone curve: mean and deviation; ln gamma; ln saturation. */
  readonly tone: readonly [number, number];
  readonly gamma: number;
  readonly saturation: number;
}

/** The wide development that the prior is learned from. */
export const LEARNING: Development = {
  matrixLight: [0.72, 0.1, 0.1, 0.08],
  exposure: [0.5, 1.03],
  balance: [0.07, 0.025],
  tone: [0.015, 0.025],
  gamma: 0.015,
  saturation: 0.015,
};

/** What a set of photographs is made from. */
export interface World {
  readonly seed: number;
  readonly cameras: readonly number[];
  readonly lamps: readonly IlluminantName[];
  readonly surfaces: readonly Float64Array[];
  /** Mix and shift cameras, lamps and surfaces (learning), or take them as measured (judging). */
  readonly vary: boolean;
  readonly development: Development;
}

/** A camera at work: reflectances in, delivered rgb out (encoded sRGB 0-1 in steps of 1/255), stride 3. */
export type Develop = (surfaces: readonly Float64Array[]) => Float64Array;

function shifted(
  spectrum: Float64Array,
  at: number,
  shift: number,
  stretch: number,
  centre: number,
): Float64Array {
  const out = new Float64Array(N);
  for (let i = 0; i < N; i++) {
    const nm = (WAVELENGTHS[i] - centre - shift) / stretch + centre;
    const x = Math.min(Math.max((nm - GRID.start) / GRID.step, 0), N - 1);
    const low = Math.min(Math.floor(x), N - 2);
    out[i] = spectrum[at + low] + (x - low) * (spectrum[at + low + 1] - spectrum[at + low]);
  }
  return out;
}

function normalised(lamp: Float64Array): Float64Array {
  const sum = dot(OBSERVER_2.yBar, 0, lamp);
  return lamp.map((value) => value / sum);
}

const CENTRES = [600, 540, 460];
/** Largest entry of a believable camera matrix. */
const STRONGEST_MATRIX = 3.5;
const T = Float64Array.from({ length: N }, (_, i) => (WAVELENGTHS[i] - 580) / 200);

function gaussian(nm: number, centre: number, width: number): number {
  return Math.exp(-0.5 * ((nm - centre) / width) ** 2);
}

/** A white LED nobody measured: blue peak, phosphor hump, now and then a narrow red. */
function inventedLed(random: Random): Float64Array {
  const peak = random.between(440, 465);
  const width = random.between(8, 12);
  const blue = 10 ** random.between(-0.7, 0.35);
  const hump = random.between(545, 615);
  const spread = random.between(42, 60);
  const [left, right] = [spread * random.between(0.65, 0.9), spread * random.between(1, 1.35)];
  const red = random.uniform() < 0.35 ? random.between(0.1, 0.6) : 0;
  const [redPeak, redWidth] = [random.between(610, 635), random.between(12, 25)];
  return Float64Array.from({ length: N }, (_, i) => {
    const nm = WAVELENGTHS[i];
    return (
      blue * gaussian(nm, peak, width) +
      gaussian(nm, hump, nm < hump ? left : right) +
      red * gaussian(nm, redPeak, redWidth)
    );
  });
}

/** The simulation of one world: draws photographs, surfaces and papers one after the other from its seed. */
export class Simulation {
  readonly random: Random;
  readonly #world: World;
  readonly #lamps: { name: string; spectrum: Float64Array }[];
  readonly #logits: Float64Array[];

  constructor(world: World) {
    this.#world = world;
    this.random = new Random(world.seed);
    this.#lamps = world.lamps.map((name) => ({ name, spectrum: normalised(illuminant(name)) }));
    this.#logits = world.surfaces.map((surface) =>
      surface.map((value) => {
        const inside = Math.min(Math.max(value, 0.003), 0.995);
        return Math.log(inside / (1 - inside));
      }),
    );
  }

  #camera(): Float64Array {
    const { cameras, vary } = this.#world;
    const { random } = this;
    const first = CAMERAS[random.pick(cameras)];
    if (!vary) return first;
    const second = CAMERAS[random.pick(cameras)];
    const share = random.uniform() < 0.7 ? random.uniform() : 0;
    const mixed = first.map((value, i) => (1 - share) * value + share * second[i]);
    const out = new Float64Array(3 * N);
    for (let c = 0; c < 3; c++) {
      out.set(shifted(mixed, c * N, random.normal(3), Math.exp(random.normal(0.03)), CENTRES[c]), c * N);
    }
    return out;
  }

  #oneLamp(): Float64Array {
    const { random } = this;
    if (!this.#world.vary) {
      // Discharge lamps light streets and halls, seldom rooms; sodium (HP1, HP2) none where colours are judged.
      for (;;) {
        const lamp = random.pick(this.#lamps);
        if (!lamp.name.startsWith('HP') || random.uniform() < 0.15) return lamp.spectrum;
      }
    }
    const u = random.uniform();
    const of = (prefix: string) => this.#lamps.filter(({ name }) => name.startsWith(prefix));
    const standard = this.#lamps.filter(({ name }) => !/^(FL|LED|HP)/.test(name));
    let family = standard;
    if (u < 0.22) return normalised(daylight(random.between(4000, 12000)));
    if (u < 0.34) return normalised(blackBody(random.between(2200, 3600)));
    if (u < 0.5) return normalised(inventedLed(random));
    if (u < 0.7) family = of('LED');
    else if (u < 0.91) family = of('FL');
    else if (u < 0.93) family = of('HP').filter(({ name }) => name !== 'HP1' && name !== 'HP2');
    if (family.length === 0) return normalised(daylight(random.between(4000, 12000)));
    const lamp = shifted(
      random.pick(family).spectrum,
      0,
      random.normal(2.5),
      Math.exp(random.normal(0.015)),
      550,
    );
    const [slope, bow] = [random.normal(0.15), random.normal(0.08)];
    return normalised(lamp.map((value, i) => value * Math.exp(slope * T[i] + bow * T[i] * T[i])));
  }

  #lamp(): Float64Array {
    const { random } = this;
    const first = this.#oneLamp();
    if (random.uniform() >= (this.#world.vary ? 0.3 : 0.2)) return first;
    const share = random.uniform();
    const second = this.#oneLamp();
    return normalised(first.map((value, i) => (1 - share) * value + share * second[i]));
  }

  /** The light the camera's matrix was fitted for. */
  #matrixLight(lamp: Float64Array): Float64Array {
    const { random } = this;
    switch (random.choose(this.#world.development.matrixLight)) {
      case 0:
        return daylight(random.between(4700, 7000));
      case 1:
        return blackBody(2856);
      case 2: {
        // McCamy 1992, Color Res. Appl. 17(2): close enough to pick a matrix by.
        const [X, Y, Z] = [OBSERVER_2.xBar, OBSERVER_2.yBar, OBSERVER_2.zBar].map((bar) => dot(bar, 0, lamp));
        const n = (X / (X + Y + Z) - 0.332) / (Y / (X + Y + Z) - 0.1858);
        const cct = -449 * n ** 3 + 3525 * n ** 2 - 6823.3 * n + 5520.33;
        const near = Math.min(Math.max(cct, 2300), 9000) * Math.exp(random.normal(0.1));
        return near > 4500 ? daylight(Math.min(near, 20000)) : blackBody(near);
      }
      default:
        return this.#oneLamp();
    }
  }

  /** A photograph not yet taken: draws camera, lamp and development. */
  photograph(): Develop {
    const { random } = this;
    const d = this.#world.development;
    const lamp = this.#lamp();
    let camera = this.#camera();
    let matrix = fittedMatrix(camera, this.#matrixLight(lamp));
    // No maker ships a matrix that multiplies noise like this; a few such cameras would set the noise of all.
    for (let tries = 0; Math.max(...matrix.map(Math.abs)) > STRONGEST_MATRIX && tries < 50; tries++) {
      camera = this.#camera();
      matrix = fittedMatrix(camera, this.#matrixLight(lamp));
    }
    // Now and then a photo goes wrong: half-hearted balance under lamps, or much too dark. Learned from, not judged by.
    const wrong = this.#world.vary && random.uniform() < 0.15;
    const blueYellow = random.normal(d.balance[0]) * (wrong ? 3 : 1);
    const greenMagenta = random.normal(d.balance[1]) * (wrong ? 2 : 1);
    const residual = [
      Math.exp(blueYellow - greenMagenta / 2),
      Math.exp(greenMagenta),
      Math.exp(-1.2 * blueYellow - greenMagenta / 2),
    ];
    const saturation = Math.exp(random.normal(d.saturation));
    const [darkest, brightest] = wrong && random.uniform() < 0.5 ? [0.15, d.exposure[0]] : d.exposure;
    const level = Math.exp(random.between(Math.log(darkest), Math.log(brightest)));
    const developed = random.uniform() < 0.75;
    const gamma = Math.exp(developed ? random.normal(d.gamma) : 0);
    const contrast = developed ? d.tone[0] + random.normal(d.tone[1]) : 0;
    const shoulder = developed ? Math.max(d.tone[0] + random.normal(d.tone[1]), 0) : 0;
    const raw = new Float64Array(3 * N);
    const white = [0, 0, 0];
    for (let c = 0; c < 3; c++) {
      for (let i = 0; i < N; i++) {
        raw[c * N + i] = camera[c * N + i] * lamp[i];
        white[c] += raw[c * N + i];
      }
    }
    const gains = white.map((value, c) => residual[c] / value);
    return (surfaces) => {
      const out = new Float64Array(3 * surfaces.length);
      surfaces.forEach((surface, s) => {
        const balanced = [0, 1, 2].map((c) => dot(raw, c * N, surface) * gains[c]);
        const rgb = [0, 1, 2].map((k) => {
          const row = 3 * k;
          return (
            level *
            (matrix[row] * balanced[0] + matrix[row + 1] * balanced[1] + matrix[row + 2] * balanced[2])
          );
        });
        const luminance = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
        for (let k = 0; k < 3; k++) {
          const value = Math.max(luminance + saturation * (rgb[k] - luminance), 0);
          const curve = value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055;
          const encoded = curve ** gamma;
          const inside = Math.min(encoded, 1);
          const toned =
            encoded -
            2 * contrast * inside * (1 - inside) * (1 - 2 * inside) +
            2 * shoulder * inside * inside * (1 - inside);
          out[3 * s + k] = Math.round(Math.min(Math.max(toned, 0), 1) * 255) / 255;
        }
      });
      return out;
    };
  }

  /** Surfaces to photograph: as measured, or mixed in logit space, bent a little and often paler when varied. */
  surfaces(count: number): Float64Array[] {
    const { random } = this;
    const { surfaces, vary } = this.#world;
    const logits = this.#logits;
    return Array.from({ length: count }, () => {
      if (!vary) return random.pick(surfaces);
      if (random.uniform() < 0.3) return random.pick(surfaces);
      const picks = [random.pick(logits), random.pick(logits), random.pick(logits)];
      const squares = picks.map(() => random.normal() ** 2 + 1e-9);
      const total = squares.reduce((sum, value) => sum + value, 0);
      // Often nearer to a grey of its own level than the measured sets are: rooms are paler than test charts.
      const pale = random.uniform() < 0.4 ? random.between(0.2, 0.8) : 1;
      const weights = squares.map((value) => (value / total) * Math.exp(random.normal(0.15)));
      const [level, slope, bow, phase] = [
        random.normal(0.35),
        random.normal(0.25),
        random.normal(0.2),
        random.between(0, 2),
      ];
      const z = new Float64Array(N);
      let mean = 0;
      for (let i = 0; i < N; i++) {
        z[i] = weights[0] * picks[0][i] + weights[1] * picks[1][i] + weights[2] * picks[2][i];
        mean += z[i] / N;
      }
      return z.map((value, i) => {
        const bend = slope * T[i] + bow * Math.sin(Math.PI * (T[i] + phase));
        return 1 / (1 + Math.exp(-(mean + pale * (value - mean + bend) + level)));
      });
    });
  }

  /**
   * A neutral reference: white paper of reflectance 0.74-0.93, or a grey card or grey patch down to 0.1. The violet
   * end falls off as in most papers and paints.
   */
  neutral(kind: 'paper' | 'grey'): Float64Array {
    const { random } = this;
    const level =
      kind === 'paper' ? random.between(0.74, 0.93) : Math.exp(random.between(Math.log(0.1), Math.log(0.74)));
    const [slope, bow] = [random.normal(0.015), random.normal(0.01)];
    const violet = random.between(0, 0.6);
    const edge = random.between(395, 415);
    return Float64Array.from({ length: N }, (_, i) => {
      const fall = 1 - violet / (1 + Math.exp((WAVELENGTHS[i] - edge) / 8));
      return Math.min(Math.max(level * (1 + slope * T[i] + bow * T[i] * T[i]) * fall, 0.01), 0.99);
    });
  }
}

/** The 3x3 matrix from balanced raw to linear sRGB, least squares over the measured surfaces, rows adding up to 1. */
function fittedMatrix(camera: Float64Array, light: Float64Array): Float64Array {
  const raw = new Float64Array(3 * N);
  const white = [0, 0, 0];
  for (let c = 0; c < 3; c++) {
    for (let i = 0; i < N; i++) {
      raw[c * N + i] = camera[c * N + i] * light[i];
      white[c] += raw[c * N + i];
    }
  }
  const balanced = SURFACES.map((surface) => [0, 1, 2].map((c) => dot(raw, c * N, surface) / white[c]));
  const matrix = new Float64Array(9);
  for (let k = 0; k < 3; k++) {
    // With rows adding up to 1 only two entries are free: the other channels against channel k.
    const [p, q] = [0, 1, 2].filter((c) => c !== k);
    let [pp, pq, qq, py, qy] = [0, 0, 0, 0, 0];
    balanced.forEach((value, s) => {
      const x = value[p] - value[k];
      const z = value[q] - value[k];
      const y = IDEAL[s][k] - value[k];
      pp += x * x;
      pq += x * z;
      qq += z * z;
      py += x * y;
      qy += z * y;
    });
    const determinant = pp * qq - pq * pq;
    matrix[3 * k + p] = (py * qq - qy * pq) / determinant;
    matrix[3 * k + q] = (qy * pp - py * pq) / determinant;
    matrix[3 * k + k] = 1 - matrix[3 * k + p] - matrix[3 * k + q];
  }
  return matrix;
}
