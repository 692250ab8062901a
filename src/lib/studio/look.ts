import {
  adaptCat16,
  cctOhno2014,
  labToScreen,
  illuminant,
  labToXyz,
  nearestReflectance,
  OBSERVER_10,
  OBSERVER_2,
  spectrumToXyz,
  WHITE_D65_10,
  WHITE_D65_2,
  whitePoint,
  xyzToLab,
  xyzToLinearRgb,
  type Lab,
  type Spectrum,
} from '#lib/colour/index.ts';
import { lightSpectrum, type FinishColour, type Light, type Sample } from '#lib/job/index.ts';

/** Reflectance of the surround that the eye adapts to, as CIE 248:2022 assumes for an ordinary room (Y_b = 20). */
const BACKGROUND = 0.2;

/** The part of a light's cast that the eye takes away, 0-1 (CAM16, CIE 248:2022, average surround, F = 1). */
function degreeOfAdaptation(illuminance: number): number {
  const adaptingLuminance = (illuminance / Math.PI) * BACKGROUND;
  return 1 - (1 / 3.6) * Math.exp((-adaptingLuminance - 42) / 92);
}

/** A light made ready: its spectrum, its white and how far the eye adapts to it. */
export interface Viewing {
  spectrum: Spectrum;
  degree: number;
}

export function viewing(light: Light): Viewing {
  return { spectrum: lightSpectrum(light), degree: degreeOfAdaptation(light.illuminance) };
}

// Recovered spectra are asked for again at every redraw; the key is the colour to a hundredth.
const recovered = new Map<string, Spectrum>();
const LARGEST_CACHE = 4000;
const DAYLIGHT = { illuminant: illuminant('D65'), observer: OBSERVER_10 };

function reflectanceOf(lab: Lab): Spectrum {
  const key = `${lab.L.toFixed(2)} ${lab.a.toFixed(2)} ${lab.b.toFixed(2)}`;
  let spectrum = recovered.get(key);
  if (!spectrum) {
    // A typed colour may be one that no surface can have; the nearest one then stands for it.
    spectrum = nearestReflectance(labToXyz(lab, WHITE_D65_10), DAYLIGHT).reflectance;
    if (recovered.size > LARGEST_CACHE) recovered.clear();
    recovered.set(key, spectrum);
  }
  return spectrum;
}

/** Lab of a colour seen under a light by an eye adapted to it as far as eyes do; D65/10° Lab for the screen. */
export function labUnder(lab: Lab, light: Viewing | null, reflectance?: readonly number[] | null): Lab {
  if (!light) return lab;
  const spectrum = reflectance ? Float64Array.from(reflectance) : reflectanceOf(lab);
  const sight = { illuminant: light.spectrum, observer: OBSERVER_10 };
  const seen = spectrumToXyz(spectrum, sight);
  const white = whitePoint(light.spectrum, OBSERVER_10);
  return xyzToLab(adaptCat16(seen, { from: white, to: WHITE_D65_10, degree: light.degree }), WHITE_D65_10);
}

/** CSS colour of a Lab for this screen, and whether the screen can show it. */
export function screenColour(lab: Lab): { css: string; exact: boolean } {
  return labToScreen(lab, 'srgb');
}

/** CSS colours of a sample under a light, with their shares. */
export function sampleLook(
  sample: Sample,
  light: Viewing | null,
): { css: string; share: number; exact: boolean }[] {
  const spectrum = sample.colours.length === 1 ? sample.reflectance : null;
  return sample.colours.map((colour: FinishColour) => ({
    ...screenColour(labUnder(colour.lab, light, spectrum)),
    share: colour.share,
  }));
}

/** Factors on linear sRGB that take one colour to another; for a texture around that colour. */
export function gainsBetween(from: Lab, to: Lab): [number, number, number] {
  const linear = (value: Lab) => xyzToLinearRgb(labToXyz(value, WHITE_D65_2), 'srgb');
  const [before, after] = [linear(from), linear(to)];
  // A channel that is near zero says nothing about the light.
  const gain = (p: number, q: number) => (p > 0.004 ? Math.min(8, Math.max(0, q / p)) : 1);
  return [gain(before.r, after.r), gain(before.g, after.g), gain(before.b, after.b)];
}

/** Correlated colour temperature of a light to 50 K, `2,700 K`; null where the light is no kind of white. */
export function lightTemperature(light: Light): string | null {
  const temperature = cctOhno2014(whitePoint(lightSpectrum(light), OBSERVER_2));
  return temperature && `${(Math.round(temperature.cct / 50) * 50).toLocaleString('en')} K`;
}

/** What a light is, in the trade's words: `2,700 K, 150 lx`. */
export function lightFacts(light: Light): string {
  const lux = `${Math.round(light.illuminance).toLocaleString('en')} lx`;
  return [lightTemperature(light), lux].filter(Boolean).join(', ');
}
