/**
 * Colour science: numbers in, numbers out. No I/O, clock, randomness, DOM or Node.
 *
 * Conventions
 * - Spectra lie on one grid, 380-780 nm by 5, 81 samples; other data is brought to it by `resample`.
 * - Reflectance 0-1. XYZ with Y = 100 for the perfect reflecting diffuser, so LRV is Y (D65, 10 degrees).
 * - L* 0-100, hue in degrees [0, 360). CCT in kelvin, illuminance in lx, luminance in cd/m2.
 * - RGB 0-1, unclamped; linear or encoded as the function says. Only `labToScreen` brings colours into a gamut.
 * - One colour is a readonly object; many are a Float32Array of stride 3, and loops over it allocate nothing.
 * - The reference comes first, the sample second. No illuminant, observer or viewing conditions are assumed.
 * - A Lab without further words is CIELAB for D65 and the 10 degree observer.
 * - A caller's mistake throws RangeError or TypeError; a fair question without an answer gives null; never NaN.
 *
 * Deliberate simplifications
 * - Tristimulus values are plain sums at 5 nm, without ASTM E308 weighting tables (third or fourth figure).
 * - A Lab for D65 and 10 degrees goes to the screen as if it had been seen by the 2 degree observer: a surface's
 *   neutral stays the screen's neutral.
 *
 * Out of scope: fluorescence, gloss and other goniometry, spectral uncertainty; that a painted wall looks lighter and
 * stronger than its chip by its size alone (CIE 208:2014 reports the effect and has no formula that holds in general).
 */
export {
  cholesky,
  determinant,
  diagonal,
  eigenSymmetric,
  invert,
  multiply,
  transform,
  transformCovariance,
  transpose,
} from './matrix.ts';
export type { Matrix3, SymmetricEigen, Vector3 } from './matrix.ts';
export { GRID, WAVELENGTHS, checkSpectrum, resample } from './spectrum.ts';
export type { Resampled, Spectrum } from './spectrum.ts';
export { OBSERVER_10, OBSERVER_2 } from './observer.ts';
export type { Observer } from './observer.ts';
export { ILLUMINANT_NAMES, blackBody, daylight, daylightXy, illuminant, mixture } from './illuminant.ts';
export type { IlluminantName, MixturePart } from './illuminant.ts';
export {
  WHITE_D65_10,
  WHITE_D65_2,
  spectrumToXyz,
  tristimulusWeights,
  whitePoint,
  xyToXyz,
  xyzToUv,
  xyzToXy,
} from './tristimulus.ts';
export type { Chromaticity, Sight, XYZ } from './tristimulus.ts';
export { labToLch, labToXyz, lchToLab, xyzToLab } from './lab.ts';
export type { Covariance, LCh, Lab } from './lab.ts';
export {
  WHITE_RGB,
  decodeRgb,
  encodeRgb,
  isInGamut,
  labToScreen,
  linearRgbToXyz,
  parseCssColour,
  rgbToXyzMatrix,
  xyzToLinearRgb,
  xyzToRgbMatrix,
} from './rgb.ts';
export type { ParsedColour, Rgb, RgbSpace, ScreenColour } from './rgb.ts';
export { oklabToXyz, xyzToOklab } from './oklab.ts';
export type { Oklab } from './oklab.ts';
export { adaptCat16, cat16Matrix } from './adaptation.ts';
export type { Adaptation } from './adaptation.ts';
export {
  CIE94_GRAPHIC_ARTS,
  CIE94_TEXTILES,
  deltaE2000,
  deltaE2000Components,
  deltaE2000Many,
  deltaE76,
  deltaE76Many,
  deltaE94,
  deltaE94Many,
  deltaECmc,
  deltaECmcMany,
} from './difference.ts';
export type { Cie94Weights, CmcWeights, DifferenceComponents } from './difference.ts';
export {
  lightReflectanceValue,
  lrvDifference,
  lrvFromLab,
  michelsonContrast,
  wcagContrastRatio,
  weberContrast,
} from './contrast.ts';
export {
  cam16ToUcs,
  cam16ToXyz,
  differenceCam16Ucs,
  ucsToCam16,
  viewingConditions,
  xyzToCam16,
} from './cam16.ts';
export type { Cam16, Cam16Ucs, Surround, ViewingConditions, ViewingPlace } from './cam16.ts';
export {
  REFERENCE_ILLUMINANCE,
  appearanceInRoom,
  appearancesInRoom,
  plausibleSurfaces,
  roomView,
  surfaceAppearances,
} from './appearance.ts';
export type { PlausibleSurfaces, RoomLight, RoomView } from './appearance.ts';
export { closedRoom } from './interreflection.ts';
export type { RoomSurface } from './interreflection.ts';
export { metamerismIndexFromXyz, specialMetamerismIndex } from './metamerism.ts';
export { cctOhno2014, cctToXy } from './temperature.ts';
export type { ColourTemperature } from './temperature.ts';
export { colourRenderingIndex } from './rendering.ts';
export type { ColourRendering } from './rendering.ts';
export {
  nearestReflectance,
  plausibleReflectance,
  recoveredLook,
  reflectanceFromLab,
  reflectanceFromXyz,
  reflectancesFromLab,
} from './recovery.ts';
export type { RecoveredLook } from './reflectance-doubt.ts';
export type { Recovered } from './reflectance-solver.ts';
export { labToMunsell, munsellToLab, munsellValueToY, yToMunsellValue } from './munsell.ts';
export { colourName } from './names.ts';
export { NEAR_NEUTRAL_CHROMA, UNDERTONE_LIMITS, undertone } from './undertone.ts';
export type { Undertone, UndertoneHue, UndertoneStrength } from './undertone.ts';
export { describeDifference, differenceInWords, differenceWays } from './description.ts';
export { COLOUR_VISIONS, simulateColourVision } from './colour-vision.ts';
export type { ColourVision } from './colour-vision.ts';
