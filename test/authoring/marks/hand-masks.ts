/**
 * How well strokes find surfaces in a real photograph, against outlines drawn by hand. Run by hand, because no photograph
 * of another's may lie in the project:
 *
 *     npx node test/authoring/marks/hand-masks.ts PHOTO [OUTLINES.json] [--pictures DIRECTORY]
 *
 * Without outlines of your own it takes corner-kitchen.json beside this file, whose photograph you must have. The
 * surfaces are marked one after the other, each leaving out what is marked already; printed are the intersection over
 * union and the parts that are too much and missing, shares of the true area. With --pictures it draws them: green is
 * right, red too much, blue missing.
 */
import fs from 'node:fs';
import path from 'node:path';
import { parseArgs } from 'node:util';
import sharp from 'sharp';
import {
  prepareSelection,
  select,
  type Image8,
  type Mask,
  type Point,
  type Stroke,
} from '../../../src/lib/photo/index.ts';

interface Outlined {
  readonly name: string;
  readonly outline: readonly Point[];
  readonly holes: readonly (readonly Point[])[];
  readonly elsewhere: boolean;
  readonly strokes: readonly Stroke[];
}

interface Outlines {
  readonly width: number;
  readonly height: number;
  readonly surfaces: readonly Outlined[];
}

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { pictures: { type: 'string' } },
});
const [photo, outlinesFile = path.resolve(import.meta.dirname, 'corner-kitchen.json')] = positionals;
if (!photo) throw new TypeError('Expected the path of a photograph, got none');
const outlines = JSON.parse(fs.readFileSync(outlinesFile, 'utf8')) as Outlines;

async function opened(file: string): Promise<Image8> {
  const { data, info } = await sharp(file).rotate().removeAlpha().raw().toBuffer({ resolveWithObject: true });
  if (info.width !== outlines.width || info.height !== outlines.height)
    throw new RangeError(
      `Expected the photograph of ${outlines.width}x${outlines.height} the outlines were drawn on, got ${info.width}x${info.height}`,
    );
  return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
}

/** Cover of each pixel by a polygon with holes, 0-255: drawn by librsvg, which is none of our own code. */
function drawn({ outline, holes }: Outlined): Promise<Uint8Array> {
  const way = [outline, ...holes].map((points) => `M${points.map((p) => p.join(' ')).join('L')}Z`).join('');
  const svg =
    `<svg xmlns="http://www.w3.org/2000/svg" width="${outlines.width}" height="${outlines.height}">` +
    `<rect width="100%" height="100%" fill="#000"/><path d="${way}" fill="#fff" fill-rule="evenodd"/></svg>`;
  return sharp(Buffer.from(svg)).extractChannel(0).raw().toBuffer();
}

async function picture(image: Image8, mask: Uint8Array, truth: Uint8Array, file: string): Promise<void> {
  const out = Buffer.from(image.data);
  const tint = (p: number, part: number, colour: readonly number[]) => {
    for (let c = 0; c < 3; c++) out[3 * p + c] = out[3 * p + c] * (1 - part) + colour[c] * part;
  };
  for (let p = 0; p < mask.length; p++) {
    tint(p, (0.35 * Math.min(mask[p], truth[p])) / 255, [0, 200, 0]);
    tint(p, (0.8 * Math.max(0, mask[p] - truth[p])) / 255, [255, 0, 0]);
    tint(p, (0.8 * Math.max(0, truth[p] - mask[p])) / 255, [0, 0, 255]);
  }
  await sharp(out, { raw: { width: image.width, height: image.height, channels: 3 } })
    .png()
    .toFile(file);
}

const image = await opened(photo);
const selector = prepareSelection(image);
const others: Mask[] = [];
for (const surface of outlines.surfaces) {
  const truth = await drawn(surface);
  const { mask } = select(selector, surface.strokes, { elsewhere: surface.elsewhere, others });
  others.push(mask);
  let [both, either, whole, more, less] = [0, 0, 0, 0, 0];
  for (let p = 0; p < truth.length; p++) {
    both += Math.min(mask.data[p], truth[p]);
    either += Math.max(mask.data[p], truth[p]);
    whole += truth[p];
    more += Math.max(0, mask.data[p] - truth[p]);
    less += Math.max(0, truth[p] - mask.data[p]);
  }
  console.log(
    `${surface.name}: ${(both / either).toFixed(3)} from ${surface.strokes.length} strokes ` +
      `(too much ${(more / whole).toFixed(3)}, missing ${(less / whole).toFixed(3)})`,
  );
  if (values.pictures)
    await picture(
      image,
      mask.data,
      truth,
      path.join(values.pictures, `${surface.name.replaceAll(' ', '-')}.png`),
    );
}
