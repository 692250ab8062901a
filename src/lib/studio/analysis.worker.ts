import { decodeRgb, encodeRgb, type RoomLight } from '#lib/colour/index.ts';
import {
  bestObservations,
  compareLamps,
  lightReport,
  pairingReport,
  pickUpOf,
  rank,
  shortlistSways,
  type CriterionName,
  type FinishInput,
  type LampComparison,
  type LampComparisonInput,
  type LightReport,
  type LightInput,
  type LightReportInput,
  type ObservationAdvice,
  type ObservationSetting,
  type PairingReport,
  type PickUp,
  type RankInput,
  type Ranking,
  type ReflectanceCache,
  type WeightSways,
} from '#lib/finish/index.ts';
import {
  correctImage,
  findBoardPatches,
  measurePattern,
  measureRegion,
  palette,
  relight,
  type BoardPatches,
  type Correction,
  type Image8,
  type Measurement,
  type Palette,
  type PatternMeasurement,
  type Region,
} from '#lib/photo/index.ts';
import { expose } from 'comlink';
import type { PairQuestion } from './pair-table.ts';
import {
  Kept,
  cut,
  handOver,
  opened,
  pixels,
  tableIn,
  toImageData,
  withCorrection,
  type Box,
  type PhotoSource,
} from './worker-photo.ts';

/** Corrected pictures at the size of the screen, 4 MB each. */
const SCREEN_PICTURES_KEPT = 4;

const screenPictures = new Kept<Promise<Image8>>(SCREEN_PICTURES_KEPT);

/** Patterns measured: small, and asked for again at every change of the job. */
const PATTERNS_KEPT = 60;

const patterns = new Kept<Promise<PatternMeasurement | null>>(PATTERNS_KEPT);

/** The corrected picture at a size for the screen. */
function correctedForScreen(source: PhotoSource, longSide: number): Promise<Image8> {
  const make = () =>
    withCorrection(source).then(({ image, correction }) =>
      sized(correctImage(image, correction, { space: 'srgb' }), longSide),
    );
  return screenPictures.get(JSON.stringify([source, longSide]), make);
}

const analysis = {
  /** How the photo is corrected and what that is worth. */
  async correction(source: PhotoSource): Promise<Correction> {
    return (await withCorrection(source)).correction;
  },

  /** Colours of regions, in the order given. */
  async measure(source: PhotoSource, regions: Region[]): Promise<Measurement[]> {
    const { image, correction } = await withCorrection(source);
    return regions.map((region) => measureRegion(image, region, correction));
  },

  /** The colours of a picture or of a part of it, by area. */
  async palette(source: PhotoSource, region: Region | null): Promise<Palette> {
    const { image, correction } = await withCorrection(source);
    return palette(image, { correction, ...(region && { region }) });
  },

  /** How busy a region's pattern looks at that width and distance, mm; null where it is too small to tell. */
  pattern(
    source: PhotoSource,
    region: Region,
    size: { width: number; distance: number },
  ): Promise<PatternMeasurement | null> {
    const make = () =>
      withCorrection(source).then(({ image, correction }) =>
        measurePattern(image, region, { correction, ...size }),
      );
    return patterns.get(JSON.stringify([source, region, size]), make);
  },

  /** Painted patches found in a photo of a sample board. */
  async patches(source: PhotoSource): Promise<BoardPatches> {
    const { delivered, evened } = await opened(source);
    return evened.board ?? findBoardPatches(delivered);
  },

  /** The picture for the screen, as delivered or corrected, at most `longSide` pixels. */
  async picture(source: PhotoSource, asDelivered: boolean): Promise<ImageBitmap> {
    if (asDelivered) return handOver((await opened(source)).delivered);
    const { image, correction } = await withCorrection(source);
    return handOver(correctImage(image, correction, { space: 'srgb' }));
  },

  /**
   * A box of the corrected picture, for laying a candidate against the real material. `gains` are factors on linear red,
   * green and blue that put it under another light.
   */
  async cutting(
    source: PhotoSource,
    box: Box,
    gains: readonly [number, number, number],
  ): Promise<ImageBitmap> {
    const { image, correction } = await withCorrection(source);
    const part = correctImage(cut(image, box), correction, { space: 'srgb' });
    applyGains(part, gains);
    return handOver(part);
  },

  /** The corrected picture as it would look in a light, at most `longSide` pixels. */
  async relit(source: PhotoSource, light: RoomLight, longSide: number): Promise<ImageBitmap> {
    return handOver(relight(await correctedForScreen(source, longSide), tableIn(light)));
  },

  rank(input: RankInput): Ranking {
    return rank(input);
  },

  /** What to look at next to decide a ranking. */
  observations(input: RankInput, ranking: Ranking, setting: ObservationSetting): ObservationAdvice {
    return bestObservations(input, ranking, setting);
  },

  /** How far each weight of a ranking can move before another candidate leads. */
  sways(input: RankInput, ranking: Ranking): WeightSways<CriterionName> {
    return shortlistSways(input, ranking);
  },

  /** What a finish picks up of each neighbour, in their order. */
  pickUps(
    candidate: FinishInput,
    neighbours: readonly FinishInput[],
    lights: readonly LightInput[],
  ): (PickUp | null)[] {
    const cache: ReflectanceCache = new Map();
    return neighbours.map((neighbour) => pickUpOf(candidate, neighbour, { lights, cache }));
  },

  /** How pairs of finishes sit together, in the order asked. */
  pairReports({ finishes, pairs, lights }: PairQuestion): PairingReport[] {
    const cache: ReflectanceCache = new Map();
    return pairs.map(([first, second, mustBeSeen]) =>
      pairingReport(finishes[first], finishes[second], { lights, mustBeSeen, cache }),
    );
  },

  lightReport(input: LightReportInput): LightReport {
    return lightReport(input);
  },

  compareLamps(input: LampComparisonInput): LampComparison {
    return compareLamps(input);
  },
};

function applyGains({ data, channels, space }: Image8, gains: readonly [number, number, number]): void {
  const tables = gains.map((gain) =>
    Uint8ClampedArray.from(
      { length: 256 },
      (_, v) => 255 * encodeRgb(gain * decodeRgb(v / 255, space), space),
    ),
  );
  for (let i = 0; i < data.length; i += channels) {
    for (let channel = 0; channel < 3; channel += 1) data[i + channel] = tables[channel][data[i + channel]];
  }
}

/** A picture made smaller where it is larger than `longSide`. */
async function sized(image: Image8, longSide: number): Promise<Image8> {
  const scale = Math.min(1, longSide / Math.max(image.width, image.height));
  if (scale === 1) return image;
  const [width, height] = [Math.round(image.width * scale), Math.round(image.height * scale)];
  const bitmap = await createImageBitmap(toImageData(image), {
    resizeWidth: width,
    resizeHeight: height,
    resizeQuality: 'high',
  });
  return { ...pixels(bitmap), space: image.space };
}

export type Analysis = typeof analysis;

expose(analysis);
