import { FieldCheck } from './field-check.ts';
import { MOST_LINES } from './parts.ts';
import type { Rectangles, SizeName, Strips } from './parts.ts';
import { SQUARE_METRES, lengthIn } from './units.ts';
import type { UnitSystem } from './units.ts';

/** One line of a take-off, for a person to check: what it says and what it adds. */
export interface Step {
  readonly words: string;
  /** m², unrounded; negative where something is taken away. */
  readonly area: number;
  /** m, of trim. */
  readonly length: number;
  readonly pieces: number;
}

/** The sheet on which one part is worked out line by line. Figures are rounded where they are said and nowhere else. */
export class WorkSheet {
  readonly check: FieldCheck;
  readonly system: UnitSystem;
  readonly steps: Step[] = [];
  /** Lines that could not be counted, in words. */
  readonly leftOut: string[] = [];

  constructor(system: UnitSystem) {
    this.system = system;
    this.check = new FieldCheck(system);
  }

  get area(): number {
    return this.steps.reduce((sum, { area }) => sum + area, 0);
  }

  get length(): number {
    return this.steps.reduce((sum, { length }) => sum + length, 0);
  }

  add(words: string, adds: Partial<Omit<Step, 'words'>>): void {
    this.steps.push({ words, area: 0, length: 0, pieces: 0, ...adds });
  }

  /** Adds a line for its area, saying what the area comes to: '4 walls 3.20 × 2.50 m = 32.00 m² (344.45 sq ft)'. */
  addArea(words: string, squareMetres: number, length = 0): void {
    this.add(`${words} = ${this.areaSaid(Math.abs(squareMetres))}`, { area: squareMetres, length });
  }

  /** Two decimals in both units, so that lines can be added up by hand. */
  areaSaid(squareMetres: number): string {
    const metric = `${squareMetres.toFixed(2)} m²`;
    const us = `${(squareMetres / SQUARE_METRES['sq ft']).toFixed(2)} sq ft`;
    return this.system === 'metric' ? `${metric} (${us})` : `${us} (${metric})`;
  }

  /** '3.20 × 2.50 m', '596 × 716 mm', '10 ft × 8 ft'. */
  sizeSaid(width: number, height: number): string {
    if (this.system === 'us') return `${lengthIn(width, 'us')} × ${lengthIn(height, 'us')}`;
    return width < 1000 && height < 1000
      ? `${Number(width.toFixed(1))} × ${Number(height.toFixed(1))} mm`
      : `${(width / 1000).toFixed(3).replace(/0$/, '')} × ${(height / 1000).toFixed(3).replace(/0$/, '')} m`;
  }

  /** The rectangles of a list that can be counted; the others are noted as left out. */
  rectangles<Line extends Rectangles>(
    list: readonly Line[],
    {
      path,
      sizes,
      what,
    }: { path: string; sizes: readonly [SizeName, SizeName]; what: (line: Line) => string },
  ): Line[] {
    return this.#lines(list, path, (line, at) => {
      const sound = [
        this.check.size(line.width, sizes[0], `${at}.width`),
        this.check.size(line.height, sizes[1], `${at}.height`),
        this.check.count(line.count, `${at}.count`),
      ];
      return sound.every(Boolean) ? null : what(line);
    });
  }

  /** Adds the rectangles of a list that can be counted as lines of area, and gives them back. */
  addRectangles<Line extends Rectangles>(
    list: readonly Line[],
    { path, sizes, word }: { path: string; sizes: readonly [SizeName, SizeName]; word: string },
  ): Line[] {
    const sound = this.rectangles(list, { path, sizes, what: () => word });
    for (const line of sound)
      this.addArea(
        `${counted(line.count, word)} ${this.sizeSaid(line.width, line.height)}`,
        squareMetres(line),
      );
    return sound;
  }

  /** The strips of a list that can be counted. */
  strips(list: readonly Strips[], path: string, what: string): Strips[] {
    return this.#lines(list, path, (line, at) => {
      const sound = [
        this.check.size(line.length, 'trim length', `${at}.length`),
        this.check.size(line.girth, 'trim girth', `${at}.girth`),
        this.check.count(line.count, `${at}.count`),
      ];
      return sound.every(Boolean) ? null : what;
    });
  }

  #lines<Line>(
    list: readonly Line[],
    path: string,
    fault: (line: Line, at: string) => string | null,
  ): Line[] {
    if (list.length > MOST_LINES) {
      this.check.error(path, `${list.length} lines; at most ${MOST_LINES} are counted.`);
      this.leftOut.push(`${list.length - MOST_LINES} lines beyond the first ${MOST_LINES}`);
    }
    return list.slice(0, MOST_LINES).filter((line, index) => {
      const what = fault(line, `${path}[${index}]`);
      if (what !== null) this.leftOut.push(`${what}, line ${index + 1}`);
      return what === null;
    });
  }
}

/** '1 wall', '4 walls'. */
export function counted(count: number, word: string): string {
  return count === 1 ? `1 ${word}` : `${count} ${/(?:s|x|ch|sh)$/.test(word) ? `${word}es` : `${word}s`}`;
}

/** Area of all rectangles of a line, m², of sizes in mm. */
export function squareMetres({ width, height, count }: Rectangles): number {
  return (width * height * count) / 1e6;
}

/** Area of all lines, m². */
export function totalOf(list: readonly Rectangles[]): number {
  return list.reduce((sum, line) => sum + squareMetres(line), 0);
}
