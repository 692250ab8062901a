import { wrapped } from './seen-caption.ts';

/** A picture to save with what stands over and under it. */
export interface Captioned {
  readonly bitmap: ImageBitmap;
  readonly title: string;
  readonly lines: readonly string[];
}

/** White around the pictures and the size of the type, parts of twice a picture's width; type never smaller than this, px. */
const MARGIN = 0.012;
const TYPE = 0.0095;
const SMALLEST_TYPE = 15;
const FAMILY = "'Hanken Grotesk Variable', system-ui, sans-serif";

/** Pictures of one size in rows on white, each under its title and over its own lines; `lines` are those for all of them. */
export async function savedPicture(
  pictures: readonly Captioned[],
  { columns, lines }: { columns: number; lines: readonly string[] },
): Promise<HTMLCanvasElement> {
  const [{ width, height }] = pictures.map(({ bitmap }) => bitmap);
  const gap = Math.max(8, Math.round(2 * width * MARGIN));
  const whole = columns * width + (columns + 1) * gap;
  const size = Math.max(SMALLEST_TYPE, Math.round((2 * width + 3 * gap) * TYPE));
  const fonts = { plain: `400 ${size}px ${FAMILY}`, heavy: `640 ${size}px ${FAMILY}` };
  await Promise.all(Object.values(fonts).map((font) => document.fonts.load(font)));

  const canvas = document.createElement('canvas');
  const context = canvas.getContext('2d');
  if (!context) throw new Error('This browser cannot draw pictures: its canvas is switched off.');
  const lineHeight = Math.round(1.4 * size);
  const space = Math.round(0.6 * size);
  const broken = (text: string, font: string, room: number) => {
    context.font = font;
    return wrapped(text, room, (part) => context.measureText(part).width);
  };
  const laid = pictures.map(({ bitmap, title, lines }) => ({
    bitmap,
    title: broken(title, fonts.heavy, width),
    lines: lines.flatMap((line) => broken(line, fonts.plain, width)),
  }));
  const rows = Array.from({ length: Math.ceil(laid.length / columns) }, (_, row) => {
    const own = laid.slice(row * columns, (row + 1) * columns);
    const head = lineHeight * Math.max(...own.map(({ title }) => title.length));
    const foot = lineHeight * Math.max(...own.map(({ lines }) => lines.length));
    return { own, head, foot: foot > 0 ? foot + space : 0 };
  });
  const foot = lines.flatMap((line) => broken(line, fonts.plain, whole - 2 * gap));
  canvas.width = whole;
  canvas.height =
    rows.reduce((sum, { head, foot }) => sum + gap + head + height + foot, 0) +
    (space + foot.length * lineHeight + gap);

  context.fillStyle = '#fff';
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.fillStyle = '#000';
  context.textBaseline = 'middle';
  const write = (lines: readonly string[], font: string, [x, y]: readonly [number, number]) => {
    context.font = font;
    lines.forEach((line, i) => context.fillText(line, x, y + (i + 0.5) * lineHeight));
  };
  let top = 0;
  for (const { own, head, foot } of rows) {
    // Titles stand on their pictures, lines hang from them.
    const under = top + gap + head;
    own.forEach(({ bitmap, title, lines }, i) => {
      const x = gap + i * (width + gap);
      write(title, fonts.heavy, [x, under - Math.round(gap / 4) - title.length * lineHeight]);
      context.drawImage(bitmap, x, under);
      write(lines, fonts.plain, [x, under + height + space]);
    });
    top = under + height + foot;
  }
  write(foot, fonts.plain, [gap, top + space]);
  return canvas;
}
