import { transform, type Matrix3 } from './matrix.ts';
import type { Rgb } from './rgb.ts';

/** The three kinds of dichromatic vision: without the cones for long, middle or short wavelengths. */
export const COLOUR_VISIONS = ['protanopia', 'deuteranopia', 'tritanopia'] as const;
export type ColourVision = (typeof COLOUR_VISIONS)[number];

/**
 * Linear RGB of a display to linear RGB that looks to everybody as the first does to a dichromat, row by row; every row
 * adds up to 1, so that greys stay.
 * Source: Machado, Oliveira and Fernandes 2009, IEEE Transactions on Visualization and Computer Graphics 15(6), 1291-1298,
 * doi:10.1109/TVCG.2009.113, the authors' table of matrices, severity 1.0.
 */
const MATRICES: Record<ColourVision, Matrix3> = {
  protanopia: [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998],
  deuteranopia: [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.01182, 0.04294, 0.968881],
  tritanopia: [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.3039],
};

/**
 * What somebody with a dichromatic vision sees of a colour on a screen, as a colour for everybody else.
 * In and out: linear RGB of sRGB, 0-1; out is not clamped and leaves the gamut for strong colours.
 * The authors made the matrices for a display of their own; they are used for sRGB as is common practice. For tritanopia
 * they call them a first approximation.
 * Throws RangeError for a vision that is none of the three.
 */
export function simulateColourVision({ r, g, b }: Rgb, vision: ColourVision): Rgb {
  if (!Object.hasOwn(MATRICES, vision))
    throw new RangeError(`Expected one of ${COLOUR_VISIONS.join(', ')}, got ${vision}`);
  const [red, green, blue] = transform(MATRICES[vision], [r, g, b]);
  return { r: red, g: green, b: blue };
}
