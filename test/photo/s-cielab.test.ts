import { describe, expect, test } from 'vitest';
import { WHITE_D65_10, invert, labToXyz, transform, type Matrix3, type Vector3 } from '#lib/colour/index.ts';
import { sCielab, samplesPerDegree, type RelativeImage } from '#lib/photo/s-cielab.ts';

// Weights and spreads: Zhang and Wandell 1996, SID Symposium Digest 27, table of kernels, as printed in ISETCam,
// metrics/scielab/scGaussianParameters.m ('published1996'); matrix: the same, cmatrix.m, xyz2opp, 10 degrees.
const KERNELS = [
  [
    [0.921, 0.0283],
    [0.105, 0.133],
    [-0.108, 4.336],
  ],
  [
    [0.531, 0.0392],
    [0.33, 0.494],
  ],
  [
    [0.488, 0.0536],
    [0.371, 0.386],
  ],
];
const OPPONENT = [
  288.5613, 659.7617, -130.5654, -464.8864, 326.2702, 62.42, 79.8787, -554.7976, 481.4746,
].map((v) => v / 1000) as unknown as Matrix3;
const WHITE = [WHITE_D65_10.X / 100, WHITE_D65_10.Y / 100, WHITE_D65_10.Z / 100] as const;

type Triple = readonly [number, number, number];

function image(width: number, height: number, colour: (x: number, y: number) => Triple): RelativeImage {
  const data = new Float32Array(3 * width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) data.set(colour(x, y), 3 * (y * width + x));
  return { width, height, data };
}

/** X/Xn, Y/Yn, Z/Zn of an opponent colour. */
const relative = (opponent: Triple): Triple =>
  transform(invert(OPPONENT), opponent as Vector3).map((v, i) => v / WHITE[i]) as unknown as Triple;

/** The opponent channels of a CIELAB colour. */
function opponent(labs: Float32Array, i: number): Triple {
  const { X, Y, Z } = labToXyz({ L: labs[3 * i], a: labs[3 * i + 1], b: labs[3 * i + 2] }, WHITE_D65_10);
  return transform(OPPONENT, [X / 100, Y / 100, Z / 100]) as unknown as Triple;
}

const GREY: Triple = [0.3, 0.3, 0.3];
const MIDDLE = transform(OPPONENT, GREY.map((v, i) => v * WHITE[i]) as unknown as Vector3);

/** A picture of vertical stripes in one opponent channel, means over pixels; `frequency` in cycles a degree. */
function stripes(channel: number, frequency: number, amplitude: number, samples: number, degrees = 4) {
  const cycles = frequency / samples;
  const mean = Math.sin(Math.PI * cycles) / (Math.PI * cycles); // of a sine over a pixel
  return image(degrees * samples, 6, (x) => {
    const colour = [...MIDDLE] as [number, number, number];
    colour[channel] += amplitude * mean * Math.sin(2 * Math.PI * cycles * (x + 0.5));
    return relative(colour);
  });
}

/** Amplitude of stripes in a channel of the filtered picture, over whole cycles of its middle half. */
function amplitudeOf(labs: Float32Array, width: number, channel: number, cycles: number): number {
  let [sine, cosine, n] = [0, 0, 0];
  for (let x = width / 4; x < (3 * width) / 4; x++, n++) {
    const value = opponent(labs, 3 * width + x)[channel] - MIDDLE[channel];
    sine += value * Math.sin(2 * Math.PI * cycles * (x + 0.5));
    cosine += value * Math.cos(2 * Math.PI * cycles * (x + 0.5));
  }
  return (2 * Math.hypot(sine, cosine)) / n;
}

/** Fourier transform of the kernel: Gaussians exp(-x2 / s2) of unit sum become exp(-(pi s f)2). */
function passed(channel: number, frequency: number): number {
  const sum = KERNELS[channel].reduce((total, [weight]) => total + weight, 0);
  return (
    KERNELS[channel].reduce(
      (total, [weight, spread]) => total + weight * Math.exp(-((Math.PI * spread * frequency) ** 2)),
      0,
    ) / sum
  );
}

describe('S-CIELAB', () => {
  test('uniform fields come back as they are, at every number of samples a degree', () => {
    for (const samples of [2, 17, 60, 240])
      for (const colour of [GREY, [0.05, 0.04, 0.01], [1, 1, 1], [0, 0, 0]] as Triple[]) {
        const { labs } = sCielab(
          image(50, 30, () => colour),
          { samplesPerDegree: samples },
        );
        const [x, y, z] = colour;
        for (let i = 0; i < labs.length / 3; i += 137) {
          const back = labToXyz({ L: labs[3 * i], a: labs[3 * i + 1], b: labs[3 * i + 2] }, WHITE_D65_10);
          // Planes are single precision.
          expect(back.X / WHITE_D65_10.X).toBeCloseTo(x, 5);
          expect(back.Y / 100).toBeCloseTo(y, 5);
          expect(back.Z / WHITE_D65_10.Z).toBeCloseTo(z, 5);
        }
      }
  });

  // Whole numbers of cycles in the picture, so that the widest Gaussian, wider than the picture, finds the mean.
  const cases = [0, 1, 2].flatMap((channel) => [1, 2, 4, 8, 12].map((frequency) => [channel, frequency]));
  test.each(cases)(
    'stripes of channel %i at %i cycles a degree pass as the Fourier transform says',
    (channel, frequency) => {
      const samples = 60;
      const amplitude = [0.1, 0.02, 0.05][channel];
      const picture = stripes(channel, frequency, amplitude, samples);
      const { labs, width } = sCielab(picture, { samplesPerDegree: samples });
      const found = amplitudeOf(labs, width, channel, frequency / samples) / amplitude;
      // Two percent of the whole: kernels cut at 3.5 standard deviations, wide ones worked out on block means.
      expect(Math.abs(found - passed(channel, frequency))).toBeLessThan(0.02);
      // Nothing leaks into the other channels.
      for (const other of [0, 1, 2].filter((c) => c !== channel))
        expect(amplitudeOf(labs, width, other, frequency / samples)).toBeLessThan(1e-4);
    },
  );

  test('fine stripes of hue alone vanish where those of light still show', () => {
    const [samples, frequency] = [80, 16];
    const left = [0, 1, 2].map((channel) => {
      const { labs, width } = sCielab(stripes(channel, frequency, 0.02, samples), {
        samplesPerDegree: samples,
      });
      return amplitudeOf(labs, width, channel, frequency / samples) / 0.02;
    });
    expect(left[0]).toBeGreaterThan(0.1);
    expect(left[1]).toBeLessThan(0.03);
    expect(left[2]).toBeLessThan(0.01);
  });

  test('is linear in light', () => {
    const [samples, size] = [45, 64];
    const one = image(size, size, (x, y) => [
      0.3 + 0.2 * Math.sin(x * y),
      0.3 + 0.2 * Math.sin(x + 2 * y),
      0.4,
    ]);
    const two = image(size, size, (x, y) => [0.2, 0.3 + 0.1 * Math.cos(3 * x), 0.2 + 0.1 * Math.cos(x - y)]);
    const both = { ...one, data: one.data.map((v, i) => 0.25 * v + 0.75 * two.data[i]) };
    const [a, b, sum] = [one, two, both].map(
      (picture) => sCielab(picture, { samplesPerDegree: samples }).labs,
    );
    for (let i = 0; i < size * size; i += 61) {
      const [p, q, r] = [opponent(a, i), opponent(b, i), opponent(sum, i)];
      for (let c = 0; c < 3; c++) expect(r[c]).toBeCloseTo(0.25 * p[c] + 0.75 * q[c], 5);
    }
  });

  test('agrees with a direct convolution at nine times the resolution', () => {
    // Made apart from this code with NumPy: the picture below sampled at 9 x 9 points a pixel, times the opponent matrix,
    // convolved in full with each Gaussian exp(-(x2 + y2) / s2) over its sum inside the picture, weights over their sum,
    // back to CIELAB for D65/10, and read at the centres of pixels. Columns: x, y, L*, a*, b*.
    const expected = [
      [18, 15, 52.792, -3.86, -3.654],
      [10, 8, 65.373, -6.494, 6.898],
      [25, 20, 67.667, -8.067, 8.779],
      [5, 22, 63.946, 0.216, 10.838],
      [1, 1, 77.823, -6.325, 17.119],
      [34, 14, 66.525, -4.383, 9.003],
    ];
    const wave = (u: number, v: number, [p, q, phase]: Triple) =>
      Math.sin(2 * Math.PI * (p * u + q * v) + phase);
    const [width, height, samples, over] = [36, 30, 40, 9];
    const picture = image(width, height, (x, y) => {
      const sum = [0, 0, 0];
      for (let j = 0; j < over; j++)
        for (let i = 0; i < over; i++) {
          const [u, v] = [(x + (i + 0.5) / over) / samples, (y + (j + 0.5) / over) / samples];
          sum[0] += 0.35 + 0.1 * wave(u, v, [3, 1, 0]) + 0.12 * wave(u, v, [7, -2, 1]);
          sum[1] += 0.36 + 0.11 * wave(u, v, [3, 1, 0]) + 0.1 * wave(u, v, [7, -2, 0.7]);
          sum[2] += 0.3 + 0.09 * wave(u, v, [1, 4, 2]) + 0.1 * wave(u, v, [5, 6, 0]);
        }
      return sum.map((v) => v / over ** 2) as unknown as Triple;
    });
    const { labs } = sCielab(picture, { samplesPerDegree: samples });
    for (const [x, y, ...lab] of expected)
      lab.forEach((value, c) => {
        // Pixels of 1.5 minutes of arc against points: 0.03 CIELAB units, where filtering moves them by up to 20.
        expect(Math.abs(labs[3 * (y * width + x) + c] - value), `${x}, ${y}, channel ${c}`).toBeLessThan(
          0.25,
        );
      });
  });

  test('pixels of weight 0 are not read, and every third pixel has the answer it has among all', () => {
    const [width, height] = [90, 70];
    const clean = image(width, height, (x, y) => [
      0.4,
      0.4 + 0.1 * Math.sin(x / 3),
      0.4 + 0.1 * Math.cos(y / 2),
    ]);
    const weight = new Float32Array(width * height).fill(1);
    const spoilt = clean.data.slice();
    for (let i = 0; i < weight.length; i++)
      if (i % 13 === 0 || i % width > 80) {
        weight[i] = 0;
        spoilt.fill(40, 3 * i, 3 * i + 3);
      }
    const options = { samplesPerDegree: 60 };
    const kept = sCielab({ ...clean, weight }, options).labs;
    expect(sCielab({ width, height, data: spoilt, weight }, options).labs).toEqual(kept);
    const third = sCielab({ ...clean, weight }, { ...options, every: 3 });
    expect([third.width, third.height]).toEqual([30, 24]);
    for (let y = 0; y < third.height; y++)
      for (let x = 0; x < third.width; x++)
        for (let c = 0; c < 3; c++)
          expect(third.labs[3 * (y * third.width + x) + c]).toBeCloseTo(
            kept[3 * (3 * y * width + 3 * x) + c],
            4,
          );
  });

  test('a millimetre from 57 mm covers about a degree', () => {
    // tan 1 degree = 0.017455 (any table of tangents).
    expect(samplesPerDegree(1, 57.29)).toBeCloseTo(1, 3);
    expect(samplesPerDegree(0.5, 1500)).toBeCloseTo(52.37, 2);
  });

  test('says what was wrong', () => {
    const grey = image(4, 4, () => GREY);
    expect(() => sCielab(grey, { samplesPerDegree: 0 })).toThrow(/above 0/);
    expect(() => sCielab({ ...grey, width: 5 }, { samplesPerDegree: 10 })).toThrow(/20 pixels/);
  });
});
