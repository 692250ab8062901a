/**
 * Pixels of a HEIC file. The image decoder has no HEVC of its own; libheif compiled to WebAssembly does. It applies the
 * file's own rotation and mirroring boxes; EXIF orientation does not count in this format (ISO/IEC 23008-12, 6.10.1.2).
 */
import { createRequire } from 'node:module';
import { Refusal } from './refusal.ts';

interface HeifImage {
  get_width(): number;
  get_height(): number;
  is_primary(): boolean;
  display(
    target: { data: Uint8ClampedArray; width: number; height: number },
    done: (result: unknown) => void,
  ): void;
  free(): void;
}
interface Libheif {
  ready?: Promise<unknown>;
  HeifDecoder: new () => { decode(bytes: Uint8Array): HeifImage[] };
}

/**
 * RGBA, 8 bits, upright.
 * @throws Refusal where the file is damaged or larger than `mostPixels`.
 */
export async function decodeHeic(bytes: Uint8Array, mostPixels: number) {
  const libheif = createRequire(import.meta.url)('libheif-js/wasm-bundle') as Libheif;
  await libheif.ready;
  const images = new libheif.HeifDecoder().decode(bytes);
  const image = images.find((each) => each.is_primary()) ?? images[0];
  if (!image) throw new Refusal(415, 'This HEIC file holds no picture that can be read; it may be damaged.');
  const width = image.get_width();
  const height = image.get_height();
  if (width * height > mostPixels) throw new Refusal(413, 'This picture is too large.');
  const data = new Uint8ClampedArray(width * height * 4);
  const whole = await new Promise((resolve) => image.display({ data, width, height }, resolve));
  images.forEach((each) => each.free());
  if (!whole) throw new Refusal(415, 'This HEIC file is damaged or incomplete.');
  return { width, height, data: new Uint8Array(data.buffer), others: images.length - 1 };
}
