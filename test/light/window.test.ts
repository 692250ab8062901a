import { describe, expect, test } from 'vitest';
import {
  OBSERVER_2,
  WAVELENGTHS,
  cctOhno2014,
  illuminant,
  mixture,
  whitePoint,
  xyzToXy,
} from '#lib/colour/index.ts';
import type { Spectrum } from '#lib/colour/index.ts';
import {
  GLASSES,
  SKIES,
  glassTransmittance,
  sunIlluminance,
  sunSpectrum,
  windowLight,
} from '#lib/light/index.ts';
import type { WindowLight, WindowMoment } from '#lib/light/index.ts';
import { openAir } from '#lib/light/dome.ts';

const place = { latitude: 50, longitude: 15, timeZone: '+01:00' };
const noon: WindowMoment = {
  place,
  date: '2025-06-21',
  hour: 12,
  facing: 0,
  sky: 'clear',
  glass: 'open window',
};
const light = (change: Partial<WindowMoment>) => windowLight({ ...noon, ...change });
const kelvin = (spectrum: Spectrum) => cctOhno2014(whitePoint(spectrum, OBSERVER_2))!.cct;
const luminous = (spectrum: Spectrum) =>
  spectrum.reduce((sum, value, i) => sum + value * OBSERVER_2.yBar[i], 0);

describe('colour of daylight', () => {
  test('direct sun is 5,000-6,000 K when high and reddens all the way to the horizon', () => {
    // Range: handbooks of the trade; the last value is red, far below any daylight.
    for (const altitude of [40, 60, 90]) {
      expect(kelvin(sunSpectrum(altitude))).toBeGreaterThan(5000);
      expect(kelvin(sunSpectrum(altitude))).toBeLessThan(6000);
    }
    for (let altitude = 1; altitude < 90; altitude++) {
      expect(kelvin(sunSpectrum(altitude))).toBeLessThan(kelvin(sunSpectrum(altitude + 1)));
    }
    expect(kelvin(sunSpectrum(1))).toBeLessThan(2500);
  });

  test('its haze, air and ozone take as much light as the luminous extinction of a clear sky', () => {
    // Darula and Kittler 2002 against Preetham and others 1999: the change from 60 to 20 degrees of altitude.
    const through = (altitude: number) => sunIlluminance('clear', { altitude, distanceFactor: 1 });
    const ratio = through(20) / through(60);
    const overhead = sunSpectrum(60);
    const low = sunSpectrum(20);
    // Scaled to 1 lx each; far in the red, at 780 nm, hardly anything is lost but to haze (0.083 of optical depth).
    const red = WAVELENGTHS.length - 1;
    const airMasses = 1 / Math.sin(Math.PI / 9) - 1 / Math.sin(Math.PI / 3);
    const spectral = (overhead[red] / low[red]) * Math.exp(-airMasses * (0.06 * 0.78 ** -1.3 + 0.024));
    expect(Math.abs(spectral / ratio - 1)).toBeLessThan(0.05);
  });

  test('sun and clear sky together on level ground at 45 degrees are near 5,700 K', () => {
    // The colour temperature that best typifies 2,600 daylights of Granada: Hernández-Andrés and others 2001, J. Opt. Soc.
    // Am. A 18, 1325-1335. D55 is 5,503 K, D65 6,504 K.
    const air = openAir({ ...place, latitude: 45 }, '2025-03-20', { hour: 12, sky: 'clear' })!;
    expect(Math.abs(air.sun.altitude - 45)).toBeLessThan(1);
    expect(Math.abs(kelvin(air.level) - 5700)).toBeLessThan(300);
  });

  test('an overcast sky is D65 to the third decimal of its chromaticity', () => {
    const { spectrum, cct } = light({ sky: 'overcast' });
    const { x, y } = xyzToXy(whitePoint(spectrum!, OBSERVER_2))!;
    // CIE 15:2018: 0.31272, 0.32903.
    expect(Math.abs(x - 0.31272)).toBeLessThan(0.0005);
    expect(Math.abs(y - 0.32903)).toBeLessThan(0.0005);
    expect(Math.abs(cct! - 6504)).toBeLessThan(15);
  });

  test('the clear north sky is as blue as D75 or bluer, the window a little less for the sunlit ground', () => {
    for (const date of ['2025-03-20', '2025-06-21', '2025-12-21']) {
      for (const hour of [10, 12, 14]) {
        const { spectrum, illuminance, cct } = light({ date, hour });
        const air = openAir(place, date, { hour, sky: 'clear' })!;
        // A tenth of the level light comes from the ground: reflectance 0.2 over half the view.
        const sky = spectrum!.map((value, i) => (value * illuminance) / 100 - 0.1 * air.level[i]);
        expect(kelvin(sky)).toBeGreaterThan(7504);
        expect(kelvin(sky)).toBeLessThan(15_500);
        expect(cct!).toBeGreaterThan(7000);
        expect(cct!).toBeLessThan(kelvin(sky));
      }
    }
  });

  test('clouds lie between: north under sun and cloud is less blue than clear, bluer than overcast', () => {
    const [clear, partly, overcast] = SKIES.map((sky) => light({ sky }).cct!);
    expect(clear).toBeGreaterThan(partly);
    expect(partly).toBeGreaterThan(overcast);
  });

  test('the low sun warms a window that sees it and not one that does not', () => {
    const evening = { hour: 18.5, date: '2025-06-21' };
    expect(light({ ...evening, facing: 290 }).cct!).toBeLessThan(5000);
    expect(light({ ...evening, facing: 110 }).cct!).toBeGreaterThan(8000);
  });
});

describe('glass', () => {
  test('daylight of an overcast sky behind one pane is ID65 of CIE 184', () => {
    const { spectrum } = light({ sky: 'overcast', glass: 'single glass' });
    const indoors = illuminant('ID65');
    const scale = luminous(indoors) / luminous(spectrum!);
    for (let i = 0; i < indoors.length; i++) {
      // The D series by formula is the table of D65 within 0.3 %.
      expect(Math.abs((spectrum![i] * scale) / indoors[i] - 1)).toBeLessThan(0.004);
    }
  });

  test('each kind passes less than the one before, and what handbooks give', () => {
    const d65 = illuminant('D65');
    const levels = GLASSES.map((glass) => {
      const through = glassTransmittance(glass);
      for (const value of through) {
        expect(value).toBeGreaterThan(0);
        expect(value).toBeLessThanOrEqual(1);
      }
      return luminous(through.map((value, i) => value * d65[i])) / luminous(d65);
    });
    // Clear double glazing lets in about 80 % (handbooks of the trade); the others are common practice.
    expect(Math.abs(levels[2] - 0.8)).toBeLessThan(0.005);
    for (let i = 1; i < levels.length; i++) expect(levels[i]).toBeLessThan(levels[i - 1]);
    const inside = GLASSES.map((glass) => light({ glass }).illuminance);
    for (let i = 1; i < inside.length; i++) expect(inside[i]).toBeLessThan(inside[i - 1] * 0.95);
  });

  test('light that comes from everywhere loses more in a pane than light that meets it squarely', () => {
    const ratio =
      light({ sky: 'overcast', glass: 'single glass' }).illuminance / light({ sky: 'overcast' }).illuminance;
    // BS 8206-2 and CIBSE reckon with 0.91 of the square-on value for clear glass (from memory).
    expect(Math.abs(ratio / 0.8788 - 0.91)).toBeLessThan(0.03);
  });
});

describe('light of a window', () => {
  test('under an overcast sky is the same all round: 39.6 % of the level light, and a tenth from the ground', () => {
    const air = openAir(place, noon.date, { hour: 12, sky: 'overcast' })!;
    for (const facing of [0, 90, 180, 270]) {
      const { illuminance, directShare } = light({ sky: 'overcast', facing });
      // Vertical over horizontal 0.396 (rights of light practice), reflectance 0.2 over half the view;
      // the elements of the sky cost a thousandth.
      expect(Math.abs(illuminance / luminous(air.level) - 0.496)).toBeLessThan(0.0015);
      expect(directShare).toBe(0);
    }
  });

  test('east in the morning is west in the afternoon', () => {
    // True noon on this date and longitude is 12:01:50.
    const noonHour = 12 + 1.83 / 60;
    for (const sky of SKIES) {
      const [east, west] = [
        light({ sky, facing: 90, hour: noonHour - 4 }),
        light({ sky, facing: 270, hour: noonHour + 4 }),
      ];
      expect(Math.abs(east.illuminance / west.illuminance - 1)).toBeLessThan(0.005);
      expect(Math.abs(east.cct! / west.cct! - 1)).toBeLessThan(0.005);
    }
  });

  test('the sun shines in where it stands and nowhere else', () => {
    const shares = [0, 90, 180, 270].map(
      (facing) => light({ facing, hour: 9, date: '2025-09-22' }).directShare,
    );
    expect(shares[0]).toBe(0);
    expect(shares[1]).toBeGreaterThan(0.5);
    expect(shares[2]).toBeGreaterThan(0.2);
    expect(shares[3]).toBe(0);
    const south = light({ place: { ...place, latitude: -50 }, date: '2025-12-21', facing: 180 });
    const north = light({ place: { ...place, latitude: -50 }, date: '2025-12-21', facing: 0 });
    expect(south.directShare).toBe(0);
    expect(north.directShare).toBeGreaterThan(0.4);
  });

  test('directions wrap round', () => {
    expect(light({ facing: -90 }).illuminance).toBeCloseTo(light({ facing: 270 }).illuminance, 6);
    expect(light({ facing: 720 }).illuminance).toBeCloseTo(light({ facing: 0 }).illuminance, 6);
  });

  test('it is dark in the night and in polar night, not on a polar summer’s midnight', () => {
    const dark: WindowLight = { spectrum: null, illuminance: 0, cct: null, directShare: 0 };
    expect(light({ hour: 0, date: '2025-12-21' })).toEqual(dark);
    const polar = { ...place, latitude: 79.5 };
    for (const hour of [0, 6, 12, 18])
      expect(light({ place: polar, date: '2025-12-21', hour })).toEqual(dark);
    expect(light({ place: polar, hour: 0 }).illuminance).toBeGreaterThan(1000);
  });

  test('spectra are whole at every hour: finite, never negative, scaled to 100', () => {
    for (const sky of SKIES) {
      for (let hour = 0; hour <= 24; hour += 1.5) {
        const { spectrum, illuminance, directShare } = light({
          sky,
          hour,
          facing: 290,
          glass: 'double glass',
        });
        expect(Number.isFinite(illuminance)).toBe(true);
        expect(directShare).toBeGreaterThanOrEqual(0);
        expect(directShare).toBeLessThan(1);
        if (spectrum) {
          expect(Math.min(...spectrum)).toBeGreaterThanOrEqual(0);
          expect(luminous(mixture([{ spectrum, share: 1 }], OBSERVER_2))).toBeCloseTo(luminous(spectrum), 9);
        }
      }
    }
  });

  test.each([
    [{ sky: 'stormy' }, /Expected a sky.*got stormy/],
    [{ glass: 'paper' }, /Expected a glass.*got paper/],
    [{ facing: NaN }, /azimuth/],
    [{ hour: -1 }, /hour/],
    [{ date: '2025-06-31' }, /date/],
  ])('what does not exist throws: %j', (change, message) => {
    const wrong = { ...noon, ...change } as WindowMoment;
    expect(() => windowLight(wrong)).toThrow(RangeError);
    expect(() => windowLight(wrong)).toThrow(message);
  });
});
