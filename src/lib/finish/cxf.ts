import { TYPICAL_DIFFERENCE, isotropicCovariance } from './evidence.ts';
import { labUnderDaylight, measuredSpectrum, parseIlluminant, viewingInWords } from './instrument.ts';
import type { Viewing } from './instrument.ts';
import { unreadable } from './swatch.ts';
import type { ReadProblem, ReadSwatch, SwatchReading } from './swatch.ts';
import { fromRgb } from './typed-colour.ts';
import { childNamed, elementsNamed, readXml } from './xml.ts';
import type { XmlElement } from './xml.ts';

/** What a ColorSpecification says: for which illuminant and observer, and on which wavelengths. */
interface Specification {
  readonly viewing: Viewing;
  readonly viewingStated: boolean;
  readonly startWL: number | null;
  readonly increment: number | null;
}

/** A CxF file that says nothing means D50, 2°, as print does (ISO 13655); a spectrum without an increment is by 10 nm. */
const SILENT: Specification = {
  viewing: { illuminant: 'D50', observer: 2 },
  viewingStated: false,
  startWL: null,
  increment: null,
};
const USUAL_INCREMENT = 10;

/**
 * Swatches from CxF3 XML (ISO 17972-1), with any namespace prefix: every Object of the ObjectCollection, with
 * ReflectanceSpectrum (StartWL, and Increment from its ColorSpecification), ColorCIELab or ColorSRGB, the first of these
 * that can be used. Objects that cannot be used are reported by their running number. Never throws.
 */
export function parseCxf(text: string): SwatchReading {
  let document: XmlElement;
  try {
    document = readXml(text);
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
    return unreadable(`This is no readable CxF file. ${error.message}.`);
  }
  if (document.name !== 'CxF') return unreadable(`This is no CxF file: it begins with <${document.name}>.`);
  const specifications = new Map(
    elementsNamed(document, 'ColorSpecification').flatMap((element) => {
      const id = element.attributes.Id;
      return id === undefined ? [] : [[id, readSpecification(element)] as const];
    }),
  );
  const objects = elementsNamed(document, 'ObjectCollection').flatMap(({ children }) =>
    children.filter(({ name }) => name === 'Object'),
  );
  if (objects.length === 0) return unreadable('This CxF file has no objects.');
  const maker = text_(elementsNamed(document, 'Manufacturer')[0]);
  const swatches: ReadSwatch[] = [];
  const problems: ReadProblem[] = [];
  objects.forEach((object, index) => {
    const read = readObject(object, { line: index + 1, maker, specifications, problems });
    if (read) swatches.push(read);
  });
  const meanings = [
    ['ReflectanceSpectrum', 'reflectance'],
    ['ColorCIELab', 'Lab'],
    ['ColorSRGB', 'RGB'],
  ];
  const columns = meanings
    .filter(([name]) => objects.some((object) => elementsNamed(object, name).length > 0))
    .map(([header, meaning]) => ({ header, meaning }));
  return { swatches, problems, columns, notes: [] };
}

function readSpecification(element: XmlElement): Specification {
  const [tristimulus] = elementsNamed(element, 'TristimulusSpec');
  const light = tristimulus && parseIlluminant(text_(childNamed(tristimulus, 'Illuminant')));
  const angle = tristimulus ? text_(childNamed(tristimulus, 'Observer')) : '';
  const observer = /^10/.test(angle) ? 10 : /^2/.test(angle) ? 2 : null;
  const [range] = elementsNamed(element, 'WavelengthRange');
  return {
    viewing: {
      illuminant: light ?? SILENT.viewing.illuminant,
      observer: observer ?? SILENT.viewing.observer,
    },
    viewingStated: light != null && observer !== null,
    startWL: positive(range?.attributes.StartWL),
    increment: positive(range?.attributes.Increment),
  };
}

interface Setting {
  readonly line: number;
  readonly maker: string;
  readonly specifications: ReadonlyMap<string, Specification>;
  readonly problems: ReadProblem[];
}

function readObject(
  object: XmlElement,
  { line, maker, specifications, problems }: Setting,
): ReadSwatch | null {
  const { Name: name = '', Id: id = '' } = object.attributes;
  const called = name || id || `${line}`;
  const values = childNamed(object, 'ColorValues');
  const specificationOf = (element: XmlElement) =>
    specifications.get(element.attributes.ColorSpecification ?? '') ?? SILENT;
  const base = {
    ...{
      line,
      kind: null,
      maker,
      code: id,
      name: name || id,
      sheen: null,
      price: null,
      leadTimeDays: null,
      publishedLrv: null,
    },
  };
  const failed: string[] = [];
  const keep = (swatch: ReadSwatch): ReadSwatch => {
    for (const reason of failed)
      problems.push({ line, reason: `Object ${called}: ${reason}; another value was taken.`, kept: true });
    return swatch;
  };
  for (const element of values?.children.filter((child) => child.name === 'ReflectanceSpectrum') ?? []) {
    const measured = readSpectrum(element, specificationOf(element));
    if (typeof measured === 'string') {
      failed.push(measured);
      continue;
    }
    const covariance = isotropicCovariance(TYPICAL_DIFFERENCE.instrument);
    return keep({
      ...base,
      ...{ lab: measured.lab, covariance, source: 'instrument', reflectance: measured.reflectance },
      notes: [`Measured: ${measured.note}.`],
    });
  }
  for (const element of values?.children.filter((child) => child.name === 'ColorCIELab') ?? []) {
    const [L, a, b] = ['L', 'A', 'B'].map((part) => number(text_(childNamed(element, part))));
    if (L === null || a === null || b === null || L < 0 || L > 101 || Math.hypot(a, b) > 150) {
      failed.push('its Lab is not that of a surface');
      continue;
    }
    const { viewing, viewingStated } = specificationOf(element);
    const here = labUnderDaylight({ L, a, b }, viewing);
    const silent = viewingStated
      ? ''
      : `; the file does not say for what, so ${viewingInWords(viewing)} was assumed`;
    const covariance = isotropicCovariance(TYPICAL_DIFFERENCE['typed Lab']);
    return keep({
      ...base,
      ...{ lab: here.lab, covariance, source: 'instrument', reflectance: null },
      notes: [`Lab, ${here.note}${silent}.`],
    });
  }
  for (const element of values?.children.filter((child) => child.name === 'ColorSRGB') ?? []) {
    const rgb = ['R', 'G', 'B'].map((part) => number(text_(childNamed(element, part))) ?? NaN);
    const most = number(element.attributes.MaxRange ?? '') ?? 255;
    const colour = fromRgb(rgb.map((value) => Math.round((value / most) * 255)));
    if (!colour) {
      failed.push(`its sRGB values are not numbers from 0 to ${most}`);
      continue;
    }
    return keep({
      ...base,
      ...{ lab: colour.lab, covariance: colour.covariance, source: 'published', reflectance: null },
      notes: [colour.note],
    });
  }
  const reason = failed[0] ?? 'no reflectance, Lab or sRGB';
  problems.push({ line, reason: `Object ${called}: ${reason}.`, kept: false });
  return null;
}

function readSpectrum(element: XmlElement, specification: Specification) {
  const words = element.text.trim() === '' ? [] : element.text.trim().split(/\s+/);
  const values = words.map(number);
  if (values.includes(null)) return 'its spectrum holds something that is not a number';
  const start = positive(element.attributes.StartWL) ?? specification.startWL;
  if (start === null) return 'its spectrum does not say at which wavelength it starts';
  const step = specification.increment ?? positive(element.attributes.Increment) ?? USUAL_INCREMENT;
  // Reflectance is a fraction in CxF; some programs write percent.
  const scale = (values as number[]).some((value) => value > 1.5) ? 100 : 1;
  const measured = measuredSpectrum(
    values.map((_, index) => start + index * step),
    (values as number[]).map((value) => value / scale),
  );
  if (typeof measured === 'string' || specification.increment !== null) return measured;
  return { ...measured, note: `${measured.note} (step assumed)` };
}

function text_(element: XmlElement | null | undefined): string {
  return element?.text.trim() ?? '';
}

function number(text: string): number | null {
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text) ? Number(text) : null;
}

function positive(text: string | undefined): number | null {
  const value = text === undefined ? null : number(text.trim());
  return value !== null && value > 0 ? value : null;
}
