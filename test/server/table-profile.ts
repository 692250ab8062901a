/**
 * A colour profile made of look-up tables alone, for device values of Display P3: what printers and scanners embed, and what
 * only a colour engine can read. Layout: ICC.1:2001-04 (version 2), lut16Type 6.5.9. The grid has two points a side; between
 * them interpolation is linear, and so is the way from linear light to XYZ, so the tables say exactly what a matrix would.
 */
import { CURVES, spaceToXyz } from '../../src/lib/server/profile.ts';

const ENTRIES = 1024;

export function tableProfile(): Buffer {
  const text = (type: string, words: string, tail: number) => {
    const bytes = Buffer.alloc(12 + words.length + 1 + tail);
    bytes.write(type, 0, 'latin1');
    if (type === 'desc') bytes.writeUInt32BE(words.length + 1, 8);
    bytes.write(words, type === 'desc' ? 12 : 8, 'latin1');
    return bytes;
  };
  const white = Buffer.alloc(20);
  white.write('XYZ ', 0, 'latin1');
  [0.9642, 1, 0.8249].forEach((v, i) => white.writeInt32BE(Math.round(v * 65536), 8 + 4 * i));

  const input = Array.from(
    { length: ENTRIES },
    (_, i) => CURVES['display-p3'].toLinear(i / (ENTRIES - 1)) * 65535,
  );
  const matrix = spaceToXyz('display-p3');
  const corners = [];
  for (const r of [0, 1]) {
    for (const g of [0, 1]) {
      for (const b of [0, 1]) {
        // XYZ of the connection space counts 1 as 32768.
        for (const row of [0, 3, 6])
          corners.push((matrix[row] * r + matrix[row + 1] * g + matrix[row + 2] * b) * 32768);
      }
    }
  }
  const output = [0, 65535];
  const numbers = [...input, ...input, ...input, ...corners, ...output, ...output, ...output];
  const table = Buffer.alloc(52 + 2 * numbers.length);
  table.write('mft2', 0, 'latin1');
  table.set([3, 3, 2], 8);
  for (const i of [0, 4, 8]) table.writeInt32BE(65536, 12 + 4 * i);
  table.writeUInt16BE(ENTRIES, 48);
  table.writeUInt16BE(output.length, 50);
  numbers.forEach((v, i) => table.writeUInt16BE(Math.min(65535, Math.max(0, Math.round(v))), 52 + 2 * i));

  const parts: [string, Buffer][] = [
    ['desc', text('desc', 'Tables of Display P3', 78)],
    ['cprt', text('text', 'No rights reserved', 0)],
    ['wtpt', white],
    ['A2B0', table],
  ];
  const header = Buffer.alloc(128 + 4 + 12 * parts.length);
  header.writeUInt32BE(0x02400000, 8);
  header.write('scnrRGB XYZ ', 12, 'latin1');
  [2026, 1, 1, 0, 0, 0].forEach((v, i) => header.writeUInt16BE(v, 24 + 2 * i));
  header.write('acsp', 36, 'latin1');
  [0.9642, 1, 0.8249].forEach((v, i) => header.writeInt32BE(Math.round(v * 65536), 68 + 4 * i));
  header.writeUInt32BE(parts.length, 128);
  let at = header.length;
  const bodies = parts.map(([name, body], i) => {
    header.write(name, 132 + 12 * i, 'latin1');
    header.writeUInt32BE(at, 136 + 12 * i);
    header.writeUInt32BE(body.length, 140 + 12 * i);
    const padded = Buffer.concat([body, Buffer.alloc((4 - (body.length % 4)) % 4)]);
    at += padded.length;
    return padded;
  });
  header.writeUInt32BE(at, 0);
  return Buffer.concat([header, ...bodies]);
}

/** The smallest EXIF that says Adobe RGB the way cameras do (DCF 2.0): "uncalibrated" and index R03. */
export function adobeRgbExif(): Buffer {
  const entry = (tag: number, type: number, count: number, value: Buffer) => {
    const bytes = Buffer.alloc(12);
    bytes.writeUInt16LE(tag, 0);
    bytes.writeUInt16LE(type, 2);
    bytes.writeUInt32LE(count, 4);
    value.copy(bytes, 8);
    return bytes;
  };
  const long = (value: number) => Buffer.from(new Uint32Array([value]).buffer);
  const directory = (...entries: Buffer[]) =>
    Buffer.concat([Buffer.from([entries.length, 0]), ...entries, Buffer.alloc(4)]);
  const head = Buffer.from([0x49, 0x49, 42, 0, 8, 0, 0, 0]);
  const main = directory(entry(0x8769, 4, 1, long(8 + 18)));
  const camera = directory(
    entry(0xa001, 3, 1, Buffer.from([0xff, 0xff])),
    entry(0xa005, 4, 1, long(8 + 18 + 30)),
  );
  return Buffer.concat([head, main, camera, directory(entry(1, 2, 4, Buffer.from('R03\0', 'latin1')))]);
}
