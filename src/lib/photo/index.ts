/**
 * Photographs: numbers from pixels. Pixels come in decoded, measurements and pixels go out; no DOM, no Node, no
 * clock, no randomness. The same kernels run in the browser's worker, on the server and in tests.
 *
 * Conventions
 * - An `Image8` holds device values as delivered; `space` says whose primaries. Inside, light is linear, sRGB
 *   primaries, unclamped: colours of a wider space have parts below zero.
 * - Places are in pixels of the working image, fractions allowed: [0, 0] is the outer corner of the first pixel.
 * - A measured colour is CIELAB D65/10 with a 3x3 covariance, row-major, CIELAB units squared.
 * - Clipped pixels are unknown, not bright: they are left out, and what cannot be known widens the covariance.
 * - A correction is plain JSON; it is fitted to the references in a photo (white paper, grey card, finishes of known
 *   colour, a 24-patch target) and carries its own doubt.
 *
 * Deliberate simplifications
 * - One correction for the whole photo. Light that changes across a sample board is evened out beforehand from the
 *   bare material between its patches (`evened`); elsewhere it only raises the doubt.
 * - Finding patches and palettes work on the picture at 512 and 288 pixels.
 * - A new finish changes the light on its own surface as the room's bounce changes; everything else in the picture stays
 *   as it was photographed. Body colour and mirrored light are told apart by colour alone, without shapes.
 * - A pattern is seen square on and flat, at one scale across the region; the eye's filter is S-CIELAB's.
 *
 * Out of scope: decoding, lens distortion.
 */
export { linearise, shrink } from './image.ts';
export type { Image8, LightDeviation, LinearImage } from './image.ts';
export { areaOf, centreOf, coverage, extentOf } from './region.ts';
export type { Coverage, Point, Region } from './region.ts';
export { COPY_PAPER, GREY_CARD, KNOWN_COVARIANCE, estimateCorrection, fitCorrection } from './correction.ts';
export type { Correction, ReferencePatch, ReferenceReport } from './correction.ts';
export { correctMany, correctedLab } from './corrected-colour.ts';
export type { CorrectedColour } from './corrected-colour.ts';
export { correctionFromReferences, correctionWithoutReference } from './reference.ts';
export type { Reference } from './reference.ts';
export { LIGHT_DEVIATION, evened } from './light-field.ts';
export type { Evened, Scene } from './light-field.ts';
export { correctImage } from './display.ts';
export { ENCODE_STEPS, encodingTable } from './encoding.ts';
export { relight, relightTable } from './relight.ts';
export type { RelightTable } from './relight.ts';
export { lightShares } from './light-shares.ts';
export type { LightPlaces, LightShares, LitSurface } from './light-shares.ts';
export { BURNING, FAINT, MOST_BENT, lightApart, relightApart } from './light-apart.ts';
export type { LightApart, PartLight } from './light-apart.ts';
export { measureRegion } from './measure.ts';
export type { Measurement } from './measure.ts';
export { TARGET24, readTarget24, targetRegions } from './target.ts';
export type { Corners, Target24, TargetPatch } from './target.ts';
export { findBoardPatches } from './board.ts';
export type { BoardPatch, BoardPatches } from './board.ts';
export { measurePattern } from './busyness.ts';
export type { PatternMeasurement } from './busyness.ts';
export { palette } from './palette.ts';
export type { Palette, PaletteArea, PaletteOptions } from './palette.ts';
export { surfaceLayers } from './shading.ts';
export type { LayerOptions, SurfaceLayers, SurfaceTexture } from './shading.ts';
export type { LinearRgb } from './light-around.ts';
export { DITHER, KNEE, LUMINANCE, MOST_BOUNCED, paintOver, paintParameters } from './recolour.ts';
export type { AlbedoPlane, AppliedFinish, PaintOptions, PaintParameters } from './recolour.ts';
export { FACE_SHARE } from './highlight.ts';
export type { GlossName } from './highlight.ts';
export { HALF_TO_NUMBER } from './half-float.ts';
export { homographyToPlane, projectPattern, tonedPattern } from './pattern-projection.ts';
export type { Homography, Pattern, PatternOptions, PlaneCorners, RealPlane } from './pattern-projection.ts';
export { lessened, select } from './selection.ts';
export { lookedAround, prepareSelection } from './selector.ts';
export type { Selection, SelectionOptions } from './selection.ts';
export type { Selector } from './selector.ts';
export type { Stroke } from './stroke.ts';
export { drawnByHand } from './hand-mask.ts';
export type { HandStroke } from './hand-mask.ts';
export { maskArea, maskBox, maskDifference, maskUnion, scaledMask } from './mask.ts';
export type { Mask, MaskBox } from './mask.ts';
export { decodeMask, encodeMask } from './mask-code.ts';
export type { StoredMask } from './mask-code.ts';
export { adjacentSurfaces } from './mask-edges.ts';
export type { AdjacentSurfaces } from './mask-edges.ts';
export { straightened } from './straight-edges.ts';
export type { StraightEdge } from './straight-edges.ts';
