import { z } from 'zod';

/** Identifier of a thing in the job: 1-40 letters, digits, `-` or `_`. Callers make them; this area has no randomness. */
export type Id = string;

export const id = z
  .string()
  .regex(/^[A-Za-z0-9_-]{1,40}$/, 'expected an identifier of 1-40 letters, digits, - or _');
export const text = (longest: number) => z.string().max(longest);
export const finite = z.number();
export const record = <T extends z.ZodType>(value: T) => z.record(id, value);

/** CIELAB, illuminant D65, 10° observer, unless a field says otherwise. */
export const lab = z.strictObject({
  L: finite.min(-5).max(130),
  a: finite.min(-250).max(250),
  b: finite.min(-250).max(250),
});

/** Row-major 3×3 covariance in CIELAB units squared. */
export const covariance = z.array(finite).length(9);

export const estimate = z.strictObject({ lab, covariance });

export const point = z.tuple([finite, finite]);

/** A part of a photo, in pixels of its working image (x to the right, y down, from the top left corner). */
export const region = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('box'),
    x: finite,
    y: finite,
    width: finite.positive(),
    height: finite.positive(),
  }),
  z.strictObject({ kind: z.literal('point'), x: finite, y: finite, radius: finite.positive() }),
  z.strictObject({ kind: z.literal('polygon'), points: z.array(point).min(3).max(200) }),
]);
