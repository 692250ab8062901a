import type { Light } from '#lib/job/index.ts';

/** A light people can name, ready to put into a room. */
export interface LightPreset {
  name: string;
  parts: Light['parts'];
  /** Illuminance on the surfaces, lx. Common practice, no published source. */
  illuminance: number;
}

const table = (name: string, share = 1) => ({ source: { kind: 'table' as const, name }, share });
const sky = (cct: number, share = 1) => ({ source: { kind: 'daylight' as const, cct }, share });

/** Lights of ordinary rooms. Lamp spectra are CIE 15:2018 illuminants; daylight is the CIE D series at a typical temperature. */
export const LIGHT_PRESETS: readonly LightPreset[] = [
  { name: 'North window, clear day', parts: [sky(7500)], illuminance: 500 },
  { name: 'Overcast day', parts: [sky(6500)], illuminance: 400 },
  { name: 'Afternoon sun in the room', parts: [sky(5000)], illuminance: 1500 },
  { name: 'Daylight through old glass', parts: [table('ID65')], illuminance: 350 },
  { name: 'Warm LED lamps, 2,700 K', parts: [table('LED-B1')], illuminance: 150 },
  { name: 'LED lamps, 3,000 K', parts: [table('LED-B2')], illuminance: 200 },
  { name: 'Neutral LED panels, 4,000 K', parts: [table('LED-B3')], illuminance: 400 },
  { name: 'Halogen or old bulbs', parts: [table('A')], illuminance: 120 },
  { name: 'Tri-phosphor tube, 4,000 K', parts: [table('FL11')], illuminance: 300 },
  {
    name: 'Dusk: window and warm LED lamps',
    parts: [sky(7500, 0.4), table('LED-B1', 0.6)],
    illuminance: 200,
  },
];
