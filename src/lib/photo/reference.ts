import type { Covariance, Lab } from '#lib/colour/index.ts';
import {
  COPY_PAPER,
  GREY_CARD,
  estimateCorrection,
  fitCorrection,
  type Correction,
  type ReferencePatch,
} from './correction.ts';
import { shrink, type Image8 } from './image.ts';
import { regionLight } from './measure.ts';
import { centreOf, type Region } from './region.ts';
import { readTarget24, targetRegions, type Corners } from './target.ts';

/**
 * A thing in a photo whose colour is known. White paper and a grey card without a `lab` of their own are taken as the
 * usual ones (COPY_PAPER, GREY_CARD). The corners of a target are those of its 24 patches, dark brown first.
 */
export type Reference =
  | {
      readonly kind: 'white-paper' | 'grey-card';
      readonly region: Region;
      readonly lab?: Lab;
      readonly covariance?: Covariance;
    }
  | { readonly kind: 'known'; readonly region: Region; readonly lab: Lab; readonly covariance?: Covariance }
  | { readonly kind: 'target24'; readonly corners: Corners };

/**
 * The correction of a photo from the references in it. Warnings about their regions come first in its notes.
 * RangeError where a reference's region lies outside the picture.
 */
export function correctionFromReferences(image: Image8, references: readonly Reference[]): Correction {
  const notes: string[] = [];
  const patches = references.flatMap((reference, i): ReferencePatch[] => {
    if (reference.kind === 'target24') {
      const target = readTarget24(image, reference.corners);
      notes.push(...target.warnings);
      return target.patches.map(({ index, lab, light }) => ({
        kind: 'target24',
        rgb: light.rgb,
        rgbCovariance: light.rgbCovariance,
        clippedShare: light.clippedShare,
        lab,
        index,
      }));
    }
    const light = regionLight(image, reference.region);
    const usual =
      reference.kind === 'white-paper' ? COPY_PAPER : reference.kind === 'grey-card' ? GREY_CARD : null;
    const lab = reference.lab ?? usual?.lab;
    if (!lab) throw new TypeError(`Expected the colour of reference ${i + 1}`);
    const labCovariance = reference.covariance ?? (reference.lab ? undefined : usual?.covariance);
    if (light.strangeShare > 0.2)
      notes.push(
        `Reference ${i + 1}: ${Math.round(100 * light.strangeShare)} % of its region differs from the rest and was left out.`,
      );
    if (light.shading > 8)
      notes.push(
        `Reference ${i + 1} lies in uneven light: mark a smaller part, near what you want to measure.`,
      );
    return [
      {
        kind: reference.kind,
        rgb: light.rgb,
        rgbCovariance: light.rgbCovariance,
        clippedShare: light.clippedShare,
        lab,
        ...(labCovariance && { labCovariance }),
      },
    ];
  });
  const correction = fitCorrection(patches, sampleOf(image));
  const places = references.flatMap((reference) =>
    reference.kind === 'target24'
      ? targetRegions(reference.corners).map(({ centre }) => centre)
      : [centreOf(reference.region)],
  );
  return { ...correction, places, notes: [...notes, ...correction.notes] };
}

/** The correction of a photo nothing is known about: light and exposure guessed, and what that is worth. */
export function correctionWithoutReference(image: Image8): Correction {
  return estimateCorrection(sampleOf(image));
}

const SAMPLE_SIDE = 96; // pixels: some thousand colours, evenly spread

function sampleOf(image: Image8): Float32Array {
  return shrink(image, SAMPLE_SIDE).data;
}
