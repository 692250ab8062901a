import {
  COLOUR_VISIONS,
  decodeRgb,
  deltaE2000,
  describeDifference,
  linearRgbToXyz,
  simulateColourVision,
  xyzToLab,
  WHITE_RGB,
  type ColourVision,
  type Lab,
  type Rgb,
} from '#lib/colour/index.ts';
import { boardFinishTitle, type BoardContent, type BoardFinish } from './board.ts';

// A board must say in words what differs: some of those who read it do not see it.

/** Two colours closer than this are not told apart by their colour. CIEDE2000; common practice, no published source. */
const ALIKE = 3;

/** Two finishes of a board that some people, or all, cannot tell apart by colour. */
export interface AlikeFinishes {
  readonly first: BoardFinish;
  readonly second: BoardFinish;
  /** Kinds of vision to which they look alike. */
  readonly visions: readonly ColourVision[];
  /** Whether they look alike to everybody. */
  readonly everybody: boolean;
  /** How the second differs from the first, seen with full colour vision: 'clearly redder, a touch lighter'. */
  readonly words: string;
}

/**
 * Pairs of finishes of a page that come within CIEDE2000 3 of each other, to everybody or as protanopia, deuteranopia or
 * tritanopia is simulated. A finish that stands for several surfaces is no pair with itself.
 * In: main colours as they are shown, sRGB. The difference in words is what the page has to say of them.
 */
export function alikeFinishes(finishes: readonly BoardFinish[]): AlikeFinishes[] {
  const seen = finishes.map((finish) => {
    const rgb = linearRgb(mainColour(finish));
    return {
      finish,
      lab: labOf(rgb),
      looks: COLOUR_VISIONS.map((vision) => labOf(simulateColourVision(rgb, vision))),
    };
  });
  return seen.flatMap((first, i) =>
    seen.slice(i + 1).flatMap((second): AlikeFinishes[] => {
      if (first.finish.swatchId === second.finish.swatchId) return [];
      const everybody = deltaE2000(first.lab, second.lab) < ALIKE;
      const visions = COLOUR_VISIONS.filter((_, v) => deltaE2000(first.looks[v], second.looks[v]) < ALIKE);
      if (!everybody && visions.length === 0) return [];
      const words = describeDifference(first.lab, second.lab);
      return [{ first: first.finish, second: second.finish, visions, everybody, words }];
    }),
  );
}

/**
 * What a page says of two finishes that look alike to some: 'Cabinets and walls look alike to some people: the walls are
 * clearly redder.' Names where the surfaces are the same.
 */
export function alikeInWords({ first, second, everybody, words }: AlikeFinishes): string {
  const same = first.surfaceId === second.surfaceId;
  const [one, other] = same
    ? [boardFinishTitle(first), boardFinishTitle(second)]
    : [first.surface, second.surface];
  const whom = everybody ? 'on a screen' : 'to people who see some colours less well';
  const differ =
    words === 'no visible difference'
      ? 'their colours cannot be told apart here; go by maker and code'
      : `${other} is ${words}`;
  return `${one} and ${other} look alike ${whom}: ${differ}.`;
}

/** The alike pairs of a whole board, page by page: among the finishes that are listed together, and between the two of a choice. */
export function alikeOnBoard({
  pages,
}: Pick<BoardContent, 'pages'>): { page: number; pairs: AlikeFinishes[] }[] {
  return pages.flatMap((page, at) => {
    const finishes =
      page.kind === 'finishes'
        ? page.finishes
        : page.kind === 'choice'
          ? page.options.map(({ finish }) => finish)
          : [];
    const pairs = alikeFinishes(finishes);
    return pairs.length > 0 ? [{ page: at, pairs }] : [];
  });
}

/** The colour with the largest share. */
export function mainColour({ colours }: Pick<BoardFinish, 'colours'>): string {
  return colours.reduce((most, colour) => (colour.share > most.share ? colour : most)).screen;
}

/** CIELAB of a colour as a board shows it, `#rrggbb` in sRGB, against the screen's white. */
export function screenLab(screen: string): Lab {
  return labOf(linearRgb(screen));
}

/** Linear RGB of `#rrggbb`. */
function linearRgb(screen: string): Rgb {
  const [r, g, b] = [1, 3, 5].map((at) => decodeRgb(parseInt(screen.slice(at, at + 2), 16) / 255, 'srgb'));
  return { r, g, b };
}

/** A simulated colour can leave the gamut; what a screen cannot show is cut off, as it would be there. */
function labOf({ r, g, b }: Rgb): Lab {
  const cut = (value: number) => Math.min(1, Math.max(0, value));
  return xyzToLab(linearRgbToXyz({ r: cut(r), g: cut(g), b: cut(b) }, 'srgb'), WHITE_RGB);
}
