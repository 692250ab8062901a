import {
  appearanceInRoom,
  appearancesInRoom,
  cctOhno2014,
  daylight,
  labToScreen,
  labToXyz,
  OBSERVER_2,
  roomView,
  WHITE_D65_2,
  whitePoint,
  xyzToLinearRgb,
  type Lab,
  type RoomLight,
  type RoomView,
} from '#lib/colour/index.ts';
import {
  lightSpectrum,
  roomDay,
  type FinishColour,
  type Light,
  type Room,
  type Sample,
} from '#lib/job/index.ts';
import { lightAt } from '#lib/light/index.ts';
import { clock, kelvinWords } from './light-words.ts';

/** A light that things are shown under, made ready. */
export interface Viewing extends RoomLight {
  name: string;
  view: RoomView;
}

/** What is left when neither window nor lamp gives light: a clear night sky. Common practice, no published source. */
const NIGHT: RoomLight = { spectrum: daylight(12_000), illuminance: 0.3 };

export function viewing(light: Light): Viewing {
  return made(light.name, { spectrum: lightSpectrum(light), illuminance: light.illuminance });
}

/** An hour of a room's day; null where the day is not known. */
export function viewingAt(room: Room, hour: number): Viewing | null {
  const day = roomDay(room);
  if (!day) return null;
  const { spectrum, illuminance } = lightAt(day, hour);
  return made(`${room.name} at ${clock(hour)}`, spectrum ? { spectrum, illuminance } : NIGHT);
}

function made(name: string, light: RoomLight): Viewing {
  return { name, ...light, view: roomView(light) };
}

/**
 * Lab (D65/10°) that the screen must show so that a colour looks as it does under a light of that level and cast. Without a
 * light the colour as measured.
 */
export function labUnder(lab: Lab, light: Viewing | null, reflectance?: readonly number[] | null): Lab {
  if (!light) return lab;
  // Optical brighteners lift a measured curve above 1; they do so by daylight alone.
  if (reflectance)
    return appearanceInRoom(
      reflectance.map((value) => Math.min(1, value)),
      light.view,
    ).lab;
  const [L, a, b] = appearancesInRoom(Float32Array.of(lab.L, lab.a, lab.b), light.view);
  return { L, a, b };
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

/** What a light is, in the trade's words: `2,700 K, 150 lx`. */
export function lightFacts(light: RoomLight): string {
  const temperature = cctOhno2014(whitePoint(light.spectrum, OBSERVER_2));
  const lux = light.illuminance < 1 ? 'dark' : `${Math.round(light.illuminance).toLocaleString('en')} lx`;
  return [temperature && kelvinWords(temperature.cct), lux].filter(Boolean).join(', ');
}
