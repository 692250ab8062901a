/**
 * Writes the sample job's marks to static/sample/marks.json: the coverage of each surface as the renderer knows it, in the form
 * the document stores. Marks drawn by hand would do as well; these need no drawing again when the selection changes.
 *
 *     npx node test/authoring/marks/sample-marks.ts
 */
import fs from 'node:fs';
import path from 'node:path';
import sharp from 'sharp';
import { encodeMask } from '../../../src/lib/photo/mask-code.ts';

const ROOT = path.resolve(import.meta.dirname, '../../..');
const SURFACES = ['cabinets', 'counter', 'backsplash', 'walls', 'floor', 'hardware'];

const marks: Record<string, unknown> = {};
for (const surface of SURFACES) {
  const { data, info } = await sharp(path.join(ROOT, `test/fixtures/sample/masks/${surface}.png`))
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  marks[surface] = encodeMask({ width: info.width, height: info.height, data: new Uint8Array(data) });
}
const file = path.join(ROOT, 'static/sample/marks.json');
fs.writeFileSync(file, `${JSON.stringify(marks)}\n`);
console.log(`${file}: ${fs.statSync(file).size} bytes`);
