import { labToLch, lchToLab, munsellToLab, parseCssColour } from '#lib/colour/index.ts';
import type { Covariance, Lab } from '#lib/colour/index.ts';
import { LRV_ONLY, TYPICAL_DIFFERENCE, axisCovariance, isotropicCovariance } from './evidence.ts';
import type { EvidenceSource } from './evidence.ts';
import { labUnderDaylight, parseViewing } from './instrument.ts';
import { parseDecimal } from './price.ts';

/** A colour somebody wrote down. */
export interface ReadColour {
  /** CIELAB D65/10°. */
  readonly lab: Lab;
  readonly covariance: Covariance;
  readonly source: EvidenceSource;
  /** The light reflectance value that was written, where one was. */
  readonly lrv: number | null;
  /** How the text was understood, for a person to check. */
  readonly note: string;
}

/** Why a text is no colour: what was understood of it, and what to do. */
export interface ColourError {
  readonly error: string;
}

const EXAMPLES = '#8f9a86, Lab 62 -9 11, LCh 62 14 130, 5GY 6/2 or LRV 45 hue 130';

/** A number with its sign, decimal point or comma; a comma followed by a space separates. */
const NUMBER = String.raw`[+\-−]?\s?(?:\d+(?:[.,]\d+)?|[.,]\d+)`;

/**
 * Colour of a typed text: hex, any CSS colour, `Lab 62 -9 11`, `LCh 62 14 130`, Munsell notation, `LRV 45 hue 130 chroma 12`.
 * Lab and LCh are for D65/10° unless the text says otherwise (`Lab 62 -9 11 D50/2`). Never throws.
 */
export function parseColourText(text: string): ReadColour | ColourError {
  const plain = text.trim().replace(/\s+/g, ' ');
  if (plain === '') return { error: `Nothing to read. Type a colour, such as ${EXAMPLES}.` };
  if (plain.length > 200) return { error: `Too long for one colour. Type one, such as ${EXAMPLES}.` };
  return (
    parseLrv(plain) ??
    parseLabel(plain, 'Lab') ??
    parseLabel(plain, 'LCh') ??
    parseNotation(plain) ??
    parseRgb(plain) ??
    parseCss(plain) ??
    guessError(plain)
  );
}

const LRV = new RegExp(
  String.raw`^LRV\s*[:=]?\s*(${NUMBER})\s*%?(?:[\s,;]*(?:hue|h)\s*[:=]?\s*(${NUMBER})\s*°?)?(?:[\s,;]*(?:chroma|c)\s*[:=]?\s*(${NUMBER}))?$`,
  'i',
);

function parseLrv(text: string): ReadColour | ColourError | null {
  if (!/^LRV\b/i.test(text)) return null;
  const [, lrvText, hueText, chromaText] = LRV.exec(text) ?? [];
  const lrv = number(lrvText);
  if (lrv === null) {
    return {
      error: `Understood an LRV, but not “${text.slice(3).trim()}”. Write it like LRV 45 hue 130 chroma 12.`,
    };
  }
  if (lrv < 0 || lrv > 100)
    return { error: `Understood LRV ${lrv}, but an LRV lies between 0 and 100. Correct the number.` };
  return fromLrv(lrv, number(hueText), number(chromaText));
}

/** Chroma of a colour whose hue is named but not its strength: the greyed colours of house paint. Common practice. */
const GUESSED_CHROMA = 10;

/** A colour known by its LRV, perhaps its hue (degrees, CIELAB) and chroma. */
export function fromLrv(lrv: number, hue: number | null, chroma: number | null): ReadColour | ColourError {
  if (chroma !== null && (chroma < 0 || chroma > 150)) {
    return {
      error: `Understood chroma ${chroma}, but chroma lies between 0 and about 130. Correct the number.`,
    };
  }
  const f = Math.cbrt(lrv / 100);
  const L = lrv / 100 > (6 / 29) ** 3 ? 116 * f - 16 : ((29 / 3) ** 3 * lrv) / 100;
  const C = hue === null ? 0 : (chroma ?? GUESSED_CHROMA);
  const across = hue !== null && chroma !== null ? LRV_ONLY.chromaWhenStated : LRV_ONLY.chromaWhenGuessed;
  const known =
    hue === null
      ? 'hue unknown, taken as grey: hardly known'
      : chroma === null
        ? 'chroma unknown, taken as 10: hardly known'
        : 'roughly known';
  return {
    lab: lchToLab({ L, C, h: hue ?? 0 }),
    covariance: axisCovariance(LRV_ONLY.lightness, across, across),
    source: 'published LRV',
    lrv,
    note: `LRV ${lrv}${hue === null ? '' : `, hue ${hue}°`}${chroma === null ? '' : `, chroma ${chroma}`}: ${known}.`,
  };
}

function parseLabel(text: string, kind: 'Lab' | 'LCh'): ReadColour | ColourError | null {
  const letters = kind === 'Lab' ? ['a', 'b'] : ['C', 'h'];
  const start =
    kind === 'Lab'
      ? String.raw`(?:CIE\s?)?L\*?\s?a\*?\s?b\*?`
      : String.raw`(?:CIE\s?)?L\*?\s?C\*?\s?h(?:ab|°)?`;
  const spelled = String.raw`L\*?\s*[:=]?\s*${NUMBER}[\s,;/]*${letters[0]}\*?\s*[:=]?\s*${NUMBER}[\s,;/]*${letters[1]}\*?\s*[:=]?\s*${NUMBER}\s*°?`;
  const labelled = new RegExp(String.raw`^${start}(?![\w(])\s*[:=]?\s*(.*)$`, 'i').exec(text);
  const single = new RegExp(String.raw`^(${spelled})(.*)$`, 'i').exec(text);
  if (!labelled && !single) return null;
  const [body, tail] = labelled ? splitTail(labelled[1]) : [single![1], single![2]];
  const values = [...body.matchAll(new RegExp(NUMBER, 'g'))].map(([match]) => number(match));
  const rest = body.replace(new RegExp(NUMBER, 'g'), '').replace(/[LabCh*:=,;/°\s]/gi, '');
  const example = kind === 'Lab' ? 'Lab 62 -9 11' : 'LCh 62 14 130';
  if (values.length !== 3 || values.includes(null) || rest !== '') {
    return {
      error: `Understood ${kind}, but not three numbers in “${body.trim()}”. Write it like ${example}.`,
    };
  }
  const viewing = tail.trim() === '' ? ({ illuminant: 'D65', observer: 10 } as const) : parseViewing(tail);
  if (!viewing) {
    return {
      error: `Understood ${kind} ${values.join(' ')}, but not “${tail.trim()}”. Leave it out, or say D65/10, D50/2 or the like.`,
    };
  }
  const [first, second, third] = values as number[];
  return fromLab(
    kind === 'Lab' ? { L: first, a: second, b: third } : lchToLab({ L: first, C: second, h: third }),
    {
      viewing,
      written: kind,
    },
  );
}

/** '62 -9 11 D50/2' into its numbers and what follows them. */
function splitTail(text: string): [string, string] {
  const found = /^(.*?)\s*((?:\(|\b)(?:D\d\d|[ACE]\b|F\d|FL\d).*)$/i.exec(text);
  return found ? [found[1], found[2]] : [text, ''];
}

/** A Lab that was written down, brought to D65/10°. */
export function fromLab(
  lab: Lab,
  { viewing, written }: { viewing: NonNullable<ReturnType<typeof parseViewing>>; written: 'Lab' | 'LCh' },
): ReadColour | ColourError {
  const shown = `${written} ${figures(written === 'Lab' ? [lab.L, lab.a, lab.b] : lchFigures(lab))}`;
  if (lab.L < 0 || lab.L > 100)
    return { error: `Understood ${shown}, but L lies between 0 and 100. Correct the first number.` };
  if (Math.hypot(lab.a, lab.b) > 150) {
    return { error: `Understood ${shown}, but no surface is that colourful. Correct the last two numbers.` };
  }
  const here = labUnderDaylight(lab, viewing);
  return {
    lab: here.lab,
    covariance: isotropicCovariance(TYPICAL_DIFFERENCE['typed Lab']),
    source: 'typed',
    lrv: null,
    note: `${shown}, ${here.note}.`,
  };
}

function lchFigures(lab: Lab): number[] {
  const { L, C, h } = labToLch(lab);
  return [L, C, h];
}

function figures(values: readonly number[]): string {
  return values.map((value) => String(Math.round(value * 100) / 100)).join(' ');
}

function parseNotation(text: string): ReadColour | ColourError | null {
  const bare = text.replace(/^munsell\s*[:=]?\s*/i, '').replaceAll(',', '.');
  const chromatic =
    /^\d+(?:\.\d+)?\s*(?:R|YR|Y|GY|G|BG|B|PB|P|RP)\s*\d+(?:\.\d+)?\s*\/\s*\d+(?:\.\d+)?$/i.test(bare);
  const neutral = /^N\s*\d+(?:\.\d+)?\s*\/?(?:\s*0(?:\.0)?)?$/i.test(bare);
  if (!chromatic && !neutral) {
    if (!/^munsell\b/i.test(text)) return null;
    return {
      error: `Understood a Munsell notation, but not “${bare}”. Write hue value/chroma, such as 5GY 6/2, or N 6/.`,
    };
  }
  let lab: Lab | null = null;
  try {
    lab = munsellToLab(bare.toUpperCase());
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
  }
  if (!lab)
    return {
      error: `Understood Munsell ${bare}, but no surface has that colour. Lower the chroma or check the value.`,
    };
  return {
    lab,
    covariance: isotropicCovariance(TYPICAL_DIFFERENCE.notation),
    source: 'notation',
    lrv: null,
    note: `Munsell ${bare.toUpperCase()}, from the renotation.`,
  };
}

/** 'RGB 143 154 134': whole numbers to 255. */
function parseRgb(text: string): ReadColour | ColourError | null {
  const body = /^s?rgb(?![\w(])\s*[:=]?\s*(.*)$/i.exec(text)?.[1];
  if (body === undefined) return null;
  const values = body
    .split(/[\s,;/]+/)
    .filter((part) => part !== '')
    .map(Number);
  return (
    fromRgb(values) ?? {
      error: `Understood RGB, but not three whole numbers from 0 to 255 in “${body}”. Write it like RGB 143 154 134.`,
    }
  );
}

/** sRGB from three 8-bit values; null where they are not. */
export function fromRgb(values: readonly number[]): ReadColour | null {
  if (values.length !== 3 || !values.every((value) => Number.isInteger(value) && value >= 0 && value <= 255))
    return null;
  const colour = parseCssColour(`rgb(${values.join(' ')})`);
  return colour && published(colour.lab, `RGB ${values.join(' ')}: ${colour.note}.`);
}

function published(lab: Lab, note: string): ReadColour {
  return {
    lab,
    covariance: isotropicCovariance(TYPICAL_DIFFERENCE['published RGB']),
    source: 'typed',
    lrv: null,
    note,
  };
}

function parseCss(text: string): ReadColour | ColourError | null {
  const colour = parseCssColour(text);
  if (!colour) return null;
  const { L, a, b } = colour.lab;
  if (!(L >= -1 && L <= 101) || Math.hypot(a, b) > 180) {
    return {
      error: `Understood a CSS colour, but it is brighter or stronger than any surface. Choose one nearer to paint.`,
    };
  }
  if (/^#?[0-9a-f]{3,8}$/i.test(text)) return published(colour.lab, `${text}: ${colour.note}.`);
  return {
    lab: colour.lab,
    covariance: isotropicCovariance(TYPICAL_DIFFERENCE['typed CSS']),
    source: 'typed',
    lrv: null,
    note: `${text}: ${colour.note}.`,
  };
}

/** Letters and digits in a few short runs, as the codes of catalogues are: 'K-12', 'AB 3040', 'C 2010-G20'. */
const CODE = /^(?=.*\p{L})(?=.*\d{2})[\p{L}\d]{1,12}(?:[ .\-–_/][\p{L}\d]{1,12}){0,4}$/u;

function guessError(text: string): ColourError {
  const numbers = text.match(new RegExp(NUMBER, 'g')) ?? [];
  if (text.startsWith('#')) {
    return {
      error: `Understood a hex colour, but “${text}” is not one. Use three or six digits 0-9 and a-f, such as #8f9a86.`,
    };
  }
  if (numbers.length === 3 && /^[\d\s.,;/+\-−]+$/.test(text)) {
    return {
      error: `Understood three numbers, but not what they are. Put Lab, LCh or RGB before them, such as Lab ${text}.`,
    };
  }
  if (/^L\*?\s*[:=]?\s*\d.*\s[aC]\*?\s*[:=]?\s*[\d-]/i.test(text)) {
    return {
      error: `Understood Lab or LCh, but not three numbers in “${text}”. Write it like Lab 62 -9 11.`,
    };
  }
  if (CODE.test(text)) {
    return {
      error:
        'This looks like a catalogue code. Codes alone say no colour here: type the maker’s Lab, hex or LRV, or bring in the maker’s list.',
    };
  }
  return {
    error: `“${text.length > 40 ? `${text.slice(0, 40)}…` : text}” is no colour that can be read. Try ${EXAMPLES}.`,
  };
}

function number(text: string | undefined): number | null {
  return text === undefined ? null : parseDecimal(text);
}
