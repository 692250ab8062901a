import { labToLch, labToScreen, lrvFromLab, type Lab } from '#lib/colour/index.ts';
import type { FinishInput } from '#lib/finish/index.ts';
import { covered, type TableFinish } from './pair-table.ts';
import { csvText, filedNumber } from './plot-file.ts';

/** A scheme as it is plotted: its name, and what is on each surface. */
export interface PlottedScheme {
  readonly name: string;
  readonly finishes: readonly TableFinish[];
}

/** A finish as a point of the plots, by plain daylight. */
export interface PlottedFinish {
  readonly surfaceId: string;
  readonly surfaceName: string;
  readonly title: string;
  /** Mean of its colours by area. */
  readonly lab: Lab;
  /** Its colours where there are several; else none. */
  readonly colours: readonly { readonly lab: Lab; readonly share: number }[];
  /** Light reflectance value by area, 0-100. */
  readonly lrv: number;
  /** 3×3, row-major, CIELAB units squared; the colours of a finish share their error. */
  readonly covariance: readonly number[];
}

/** The finishes of a scheme that have a colour, in the order of their surfaces. */
export function plottedFinishes({ finishes }: PlottedScheme): PlottedFinish[] {
  return covered(finishes).map(({ surfaceId, surfaceName, title, finish }) => ({
    surfaceId,
    surfaceName,
    title,
    ...point(finish),
  }));
}

function point({ colours }: FinishInput): Pick<PlottedFinish, 'lab' | 'colours' | 'lrv' | 'covariance'> {
  const whole = colours.reduce((sum, { share }) => sum + share, 0);
  const parts = colours.map(({ estimate, share }) => ({ ...estimate, share: share / whole }));
  const mean = (value: (part: (typeof parts)[number]) => number) =>
    parts.reduce((sum, part) => sum + part.share * value(part), 0);
  return {
    lab: { L: mean(({ lab }) => lab.L), a: mean(({ lab }) => lab.a), b: mean(({ lab }) => lab.b) },
    colours: parts.length > 1 ? parts.map(({ lab, share }) => ({ lab, share })) : [],
    lrv: mean(({ lab }) => lrvFromLab(lab)),
    covariance: Array.from({ length: 9 }, (_, i) => mean(({ covariance }) => covariance[i])),
  };
}

/** One surface in the first scheme and, where another finish is on it there, in the second. */
export interface PlottedSurface {
  readonly surfaceId: string;
  readonly surfaceName: string;
  readonly first: PlottedFinish | null;
  /** Null where there is no second scheme, or the same finish in it. */
  readonly second: PlottedFinish | null;
}

/** The surfaces of one or two schemes, each once. */
export function plottedSurfaces(schemes: readonly PlottedScheme[]): PlottedSurface[] {
  const [one, other] = [schemes.at(0), schemes.at(1)].map((scheme) => scheme?.finishes ?? []);
  const firsts = schemes[0] ? plottedFinishes(schemes[0]) : [];
  const seconds = schemes[1] ? plottedFinishes(schemes[1]) : [];
  const ids = new Map([...one, ...other].map(({ surfaceId, surfaceName }) => [surfaceId, surfaceName]));
  return [...ids].flatMap(([surfaceId, surfaceName]): PlottedSurface[] => {
    const on = (finishes: readonly TableFinish[]) =>
      finishes.find((entry) => entry.surfaceId === surfaceId)?.finish?.id;
    const first = firsts.find((entry) => entry.surfaceId === surfaceId) ?? null;
    const found = seconds.find((entry) => entry.surfaceId === surfaceId) ?? null;
    const second = on(one) === on(other) ? null : found;
    return first || second ? [{ surfaceId, surfaceName, first, second }] : [];
  });
}

/** A colour for the screen as `#rrggbb`: programs that read saved drawings know no other way to write it. */
export function hexColour(lab: Lab): string {
  const { r, g, b } = labToScreen(lab, 'srgb').rgb;
  return `#${[r, g, b]
    .map((value) =>
      Math.round(255 * value)
        .toString(16)
        .padStart(2, '0'),
    )
    .join('')}`;
}

/** Every finish of the schemes with its numbers, as CSV (RFC 4180): CIELAB D65/10°, hue in degrees, LRV 0-100. */
export function schemesCsv(schemes: readonly PlottedScheme[]): string {
  return csvText([
    ['scheme', 'surface', 'finish', 'L*', 'a*', 'b*', 'C*', 'h', 'LRV'],
    ...schemes.flatMap((scheme) =>
      plottedFinishes(scheme).map(({ surfaceName, title, lab, lrv }) => {
        const { C, h } = labToLch(lab);
        return [scheme.name, surfaceName, title, ...[lab.L, lab.a, lab.b, C, h, lrv].map(filedNumber)];
      }),
    ),
  ]);
}
