import { WAVELENGTHS } from '#lib/colour/index.ts';

/** One line of a plot, on the grid of the colour area. */
export interface Curve {
  name: string;
  /** What stands at the line where the name is long. */
  short?: string;
  values: ArrayLike<number>;
  /** Drawn dashed: what the others are compared with. */
  dashed?: boolean;
}

/** What a plot shows: relative spectral power, or reflectance 0-1. */
export type PlotKind = 'power' | 'reflectance';

/** One field of a CSV line (RFC 4180). */
function field(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** Rows of fields as CSV (RFC 4180). */
export function csvText(rows: readonly (readonly string[])[]): string {
  return rows.map((row) => `${row.map(field).join(',')}\r\n`).join('');
}

/** A number as it is filed: six significant digits, decimal point. */
export function filedNumber(value: number): string {
  return String(Number(value.toPrecision(6)));
}

/**
 * Curves as CSV (RFC 4180): wavelength in nm, then one column for each curve; power relative, reflectance 0-1.
 * Six significant digits, decimal points.
 */
export function curvesCsv(curves: readonly Curve[]): string {
  return csvText([
    ['wavelength (nm)', ...curves.map(({ name }) => name)],
    ...WAVELENGTHS.map((wavelength, i) => [
      String(wavelength),
      ...curves.map(({ values }) => filedNumber(values[i])),
    ]),
  ]);
}

const SVG = 'http://www.w3.org/2000/svg';
/** Room for the title above a saved plot, px. */
const HEAD = 26;

function assign<T extends SVGElement>(element: T, attributes: Record<string, string | number>): T {
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  return element;
}

/** A drawn plot as a file of its own, under its title: it stands on white and keeps the type that a reader's machine has. */
export function plotSvg(drawing: SVGSVGElement, title: string): string {
  const copy = drawing.cloneNode(true) as SVGSVGElement;
  for (const passing of copy.querySelectorAll('[data-passing]')) passing.remove();
  // Names are kept clear of lines by a rim in the colour of the ground.
  for (const name of copy.querySelectorAll('text[stroke]')) name.setAttribute('stroke', '#fff');
  copy.removeAttribute('class');
  copy.removeAttribute('aria-hidden');
  assign(copy, { xmlns: SVG, 'font-family': 'sans-serif' });
  const { width, height } = drawing.viewBox.baseVal;
  const whole = { width, height: height + HEAD };
  assign(copy, { ...whole, viewBox: `0 ${-HEAD} ${width} ${whole.height}` });
  const ground = assign(document.createElementNS(SVG, 'rect'), { y: -HEAD, ...whole, fill: '#fff' });
  const head = assign(document.createElementNS(SVG, 'text'), { x: 12, y: -8, 'font-weight': 700 });
  const words = document.createElementNS(SVG, 'title');
  head.textContent = title;
  words.textContent = title;
  copy.prepend(words, ground, head);
  return `<?xml version="1.0" encoding="UTF-8"?>\n${new XMLSerializer().serializeToString(copy)}\n`;
}

/** A name for a file, without what file systems refuse: letters, digits and dashes of at most 60 characters. */
export function fileName(title: string, ending: string): string {
  const plain = title
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 60);
  return `${plain || 'plot'}.${ending}`;
}

/** Hands a text to the browser as a download. */
export function saveText(name: string, type: string, text: string): void {
  const url = URL.createObjectURL(new Blob([text], { type }));
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  // The browser has taken hold of the data when the click returns; the page must not keep it.
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
