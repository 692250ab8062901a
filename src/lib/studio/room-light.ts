import { OBSERVER_2, mixture, type RoomLight, type Spectrum } from '#lib/colour/index.ts';
import { lightSpectrum, roomDay, type Job, type Light } from '#lib/job/index.ts';
import { lightAt } from '#lib/light/index.ts';
import type { Shown } from './studio.svelte.ts';

/** What of a light comes through windows and what from lamps. */
export interface LightParts {
  /** The whole, which the eye adapts to. */
  readonly whole: RoomLight;
  /** The window's part of the illuminance, 0-1. */
  readonly part: number;
  /** Null where there is none of it. */
  readonly window: Spectrum | null;
  readonly lamps: Spectrum | null;
}

/** Illuminants of the CIE that stand for daylight, indoors too. */
const DAYLIGHT_TABLE = /^I?D\d\d$/;

/**
 * The parts of the light that a page is shown under; null for plain daylight and for a night without any light. Daylight of
 * any kind counts as the window's, everything else as lamps.
 */
export function lightParts(job: Job, shown: Shown | null): LightParts | null {
  if (!shown) return null;
  return 'lightId' in shown ? partsOfLight(job.lights[shown.lightId]) : partsOfHour(job, shown);
}

function partsOfLight(light: Light | undefined): LightParts | null {
  if (!light) return null;
  const lit = light.parts.filter(({ share }) => share > 0);
  const windows = lit.filter(({ source }) => fromWindow(source));
  const lamps = lit.filter(({ source }) => !fromWindow(source));
  const sum = (parts: typeof lit) => parts.reduce((total, { share }) => total + share, 0);
  const spectrum = (parts: typeof lit) => (parts.length > 0 ? lightSpectrum({ parts }) : null);
  return {
    whole: { spectrum: lightSpectrum(light), illuminance: light.illuminance },
    part: sum(windows) / sum(lit),
    window: spectrum(windows),
    lamps: spectrum(lamps),
  };
}

function fromWindow(source: Light['parts'][number]['source']): boolean {
  if (source.kind === 'table') return DAYLIGHT_TABLE.test(source.name);
  return source.kind === 'window' || source.kind === 'daylight';
}

function partsOfHour(job: Job, { roomId, hour }: { roomId: string; hour: number }): LightParts | null {
  const room = job.rooms[roomId];
  const day = room && roomDay(room);
  if (!day) return null;
  const { spectrum, illuminance, parts } = lightAt(day, hour);
  if (!spectrum) return null;
  // Windows come first; a lamp may have the name of one.
  const count = lightAt({ ...day, lamps: [] }, hour).parts.length;
  const of = (some: typeof parts) => {
    const total = some.reduce((sum, part) => sum + part.illuminance, 0);
    return {
      total,
      spectrum:
        total > 0
          ? mixture(
              some.map((part) => ({ spectrum: part.spectrum, share: part.illuminance })),
              OBSERVER_2,
            )
          : null,
    };
  };
  const [window, lamps] = [of(parts.slice(0, count)), of(parts.slice(count))];
  return {
    whole: { spectrum, illuminance },
    part: window.total / illuminance,
    window: window.spectrum,
    lamps: lamps.spectrum,
  };
}
