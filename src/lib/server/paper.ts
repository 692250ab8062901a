import PDFDocument from 'pdfkit';
import { FIRST, PARTS, fontFile, fontRuns, tidy, type Font, type Weight } from './paper-fonts.ts';

/*
 * Documents on paper: one grid, one type family with tabular figures, greys; colour belongs to finishes and pictures.
 *
 * PDF/A-3a (ISO 19005-3): fonts embedded as subsets, real text in Unicode, a structure tree, and an output intent that
 * says what the colours mean (sRGB, IEC 61966-2-1). Lengths are points, 1/72 in, measured from the top left.
 */

export const PAPER_SIZES = ['A4', 'Letter'] as const;
export type PaperSize = (typeof PAPER_SIZES)[number];

/** Device values of sRGB, 0-255. */
export type Rgb = readonly [red: number, green: number, blue: number];

export interface PaperOptions {
  /** Whether rows and paragraphs lie a little closer. */
  readonly tight?: boolean;
  readonly size: PaperSize;
  readonly landscape?: boolean;
  readonly title: string;
  readonly author: string;
  /** When it was made; the caller owns the clock. */
  readonly made: Date;
  /** What stands at the foot of every page, left of the page number. */
  readonly foot: string;
}

export interface Column {
  readonly title: string;
  /** Share of the width; shares are taken relative to their sum. */
  readonly width: number;
  readonly align?: 'left' | 'right';
}

type Patches = readonly { readonly rgb: Rgb; readonly share: number }[];

export interface Cell {
  readonly text: string;
  readonly strong?: boolean;
  readonly soft?: boolean;
  /** A patch of colour before the text; several colours lie side by side, by their shares. */
  readonly patch?: Rgb | Patches;
  /** Side of the patch, points; 9 where it is not said. */
  readonly side?: number;
}

export interface TextStyle {
  readonly size?: number;
  readonly strong?: boolean;
  readonly soft?: boolean;
  readonly indent?: number;
}

const MARGIN = { top: 54, bottom: 60, side: 51 } as const;
const INK = '#1c1c1c';
const SOFT = '#474747';
const LINE = '#b4b4b4';
const SIZES = { 1: 22, 2: 14, 3: 11 } as const;
const BODY = 9.5;
/** Space between the lines of a paragraph. */
const GAP = 2;
const CELL = { side: 4, top: 4 } as const;
/** Space in a document that is pulled together, as a part of the usual. */
const TIGHT = 0.75;
/** A last page with less on it, as a part of its height, is hardly worth turning to. */
const STRAY = 0.15;
const PATCH = 9;

type Document = InstanceType<typeof PDFDocument>;

/** A document being written; `finish` gives its bytes. */
export class Paper {
  readonly #doc: Document;
  readonly #root: PDFKit.PDFStructureElement;
  readonly #fonts: Record<Weight, Font[]> = { plain: [], strong: [] };
  readonly #bytes: Buffer[] = [];
  readonly #foot: string;
  /** Part of the usual space. */
  readonly #loose: number;
  readonly left = MARGIN.side;
  readonly width: number;
  /** Where pages end for text. */
  readonly bottom: number;
  /** Outline items under which the next deeper heading goes. */
  #outline: { level: number; item: PDFKit.PDFOutline }[] = [];
  /** Characters that no font of the document has a shape for; they are printed as a box. */
  readonly shapeless = new Set<string>();

  constructor({ size, landscape = false, tight = false, title, author, made, foot }: PaperOptions) {
    this.#loose = tight ? TIGHT : 1;
    this.#doc = new PDFDocument({
      size: size === 'A4' ? 'A4' : 'LETTER',
      layout: landscape ? 'landscape' : 'portrait',
      margins: { top: MARGIN.top, bottom: MARGIN.bottom, left: MARGIN.side, right: MARGIN.side },
      pdfVersion: '1.7',
      subset: 'PDF/A-3a',
      tagged: true,
      lang: 'en-GB',
      displayTitle: true,
      bufferPages: true,
      info: { Title: title, Author: author, CreationDate: made, ModDate: made },
      font: fontFile(FIRST, 'plain'),
    });
    this.#doc.on('data', (part: Buffer) => this.#bytes.push(part));
    this.#foot = foot;
    this.width = this.#doc.page.width - 2 * MARGIN.side;
    this.bottom = this.#doc.page.height - MARGIN.bottom;
    for (const weight of ['plain', 'strong'] as const) {
      for (const part of PARTS) {
        const name = `${weight} ${part}`;
        this.#doc.registerFont(name, fontFile(part, weight));
        this.#doc.font(name);
        const { font } = (this.#doc as unknown as { _font: { font: { characterSet: number[] } } })._font;
        const characters = new Set(font.characterSet);
        this.#fonts[weight].push({ name, has: (codePoint) => characters.has(codePoint) });
      }
    }
    this.#root = this.#doc.struct('Document');
    this.#doc.addStructure(this.#root);
    this.#doc.x = this.left;
    this.#doc.y = MARGIN.top;
  }

  /** Distance from the top of the page to where the next thing goes. */
  get y(): number {
    return this.#doc.y;
  }

  set y(value: number) {
    this.#doc.y = value;
  }

  /** A heading with its bookmark. `level` 1 is the document's own. */
  heading(level: 1 | 2 | 3, words: string): void {
    this.keep(SIZES[level] * 4);
    if (this.y > MARGIN.top) this.space(level === 1 ? 0 : SIZES[level] * 0.8);
    while (this.#outline.length > 0 && this.#outline.at(-1)!.level >= level) this.#outline.pop();
    const parent = this.#outline.at(-1)?.item ?? this.#doc.outline;
    this.#outline.push({ level, item: parent.addItem(tidy(words)) });
    this.#element(`H${level}`, () => this.#write(words, { size: SIZES[level], strong: true }));
    this.space(SIZES[level] * 0.3);
  }

  /** A paragraph. */
  text(words: string, style: TextStyle = {}): void {
    this.keep((style.size ?? BODY) * 1.6);
    this.#element('P', () => this.#write(words, style));
    this.space(4);
  }

  /** A list, each line with a dash. */
  list(lines: readonly string[], style: TextStyle = {}): void {
    const list = this.#doc.struct('L');
    this.#root.add(list);
    for (const line of lines) {
      this.keep((style.size ?? BODY) * 1.6);
      const item = this.#doc.struct('LI');
      list.add(item);
      item.add(
        this.#doc.struct('LBody', {}, () => {
          const y = this.y;
          this.#write('–', style);
          this.y = y;
          this.#write(line, { ...style, indent: (style.indent ?? 0) + 10 });
        }),
      );
      item.end();
      this.space(2);
    }
    list.end();
    this.space(3);
  }

  /**
   * A table whose head repeats on every page. A row is never broken; a cell too tall for a page is an error.
   * @throws RangeError where a row has not as many cells as there are columns.
   */
  table(columns: readonly Column[], rows: readonly (readonly (string | Cell)[])[]): void {
    const whole = columns.reduce((sum, { width }) => sum + width, 0);
    const widths = columns.map(({ width }) => (width / whole) * this.width);
    const table = this.#doc.struct('Table');
    this.#root.add(table);
    const head = columns.map(({ title }): Cell => ({ text: title, strong: true, soft: true }));
    const line = (cells: readonly (string | Cell)[], kind: 'TH' | 'TD') => {
      const shown = cells.map((cell) => (typeof cell === 'string' ? { text: cell } : cell));
      const height = this.#rowHeight(shown, widths);
      const row = this.#doc.struct('TR');
      table.add(row);
      const y = this.y;
      let x = this.left;
      for (const [i, cell] of shown.entries()) {
        const at = x;
        row.add(
          this.#doc.struct(kind, {}, () => {
            this.y = y + CELL.top * this.#loose;
            this.#cell(cell, { x: at, width: widths[i], align: columns[i].align ?? 'left' });
          }),
        );
        x += widths[i];
      }
      row.end();
      this.y = y + height;
      this.#rule(kind === 'TH' ? 0.9 : 0.4);
    };
    const first = rows[0]?.map((cell) => (typeof cell === 'string' ? { text: cell } : cell)) ?? [];
    this.keep(this.#rowHeight(head, widths) + this.#rowHeight(first, widths));
    line(head, 'TH');
    for (const row of rows) {
      if (row.length !== columns.length)
        throw new RangeError(`Expected ${columns.length} cells in a row, got ${row.length}`);
      const height = this.#rowHeight(
        row.map((cell) => (typeof cell === 'string' ? { text: cell } : cell)),
        widths,
      );
      if (this.y + height > this.bottom) {
        this.turn();
        line(head, 'TH');
      }
      line(row, 'TD');
    }
    table.end();
    this.#doc.x = this.left;
    this.space(8);
  }

  /**
   * Pictures side by side, as wide as they come out at one height; JPEG or PNG in sRGB. Each needs words for people who do
   * not see it.
   */
  pictures(
    pictures: readonly { bytes: Buffer; width: number; height: number; words: string; caption?: string }[],
    { most = 260 }: { most?: number } = {},
  ): void {
    if (pictures.length === 0) return;
    const gap = 10;
    const ratios = pictures.reduce((sum, { width, height }) => sum + width / height, 0);
    const tall = Math.min(most, (this.width - gap * (pictures.length - 1)) / ratios);
    this.keep(tall + 26);
    const y = this.y;
    let x = this.left;
    let lowest = y + tall;
    for (const { bytes, width, height, words, caption } of pictures) {
      const wide = (tall * width) / height;
      const at = x;
      const figure = this.#doc.struct('Figure', { alt: tidy(words) }, () => {
        this.#doc.image(bytes, at, y, { width: wide, height: tall });
      });
      this.#root.add(figure);
      if (caption) {
        this.y = y + tall + 3;
        this.#element('Caption', () => this.#write(caption, { size: 8, soft: true }, { x: at, width: wide }));
        lowest = Math.max(lowest, this.y);
      }
      x += wide + gap;
    }
    this.y = lowest;
    this.#doc.x = this.left;
    this.space(8);
  }

  /** Something drawn with pdfkit itself, `height` tall, with words for people who do not see it. */
  drawing(height: number, words: string, draw: (doc: Document, at: { x: number; y: number }) => void): void {
    this.keep(height);
    const at = { x: this.left, y: this.y };
    this.#root.add(
      this.#doc.struct('Figure', { alt: tidy(words) }, () => {
        this.#doc.save();
        draw(this.#doc, at);
        this.#doc.restore();
      }),
    );
    this.#doc.x = this.left;
    this.y = at.y + height;
    this.space(6);
  }

  /** One line of text at a place, for drawings and labels; it is cut where it would leave `width`. */
  mark(
    words: string,
    at: { x: number; y: number; width: number; align?: 'left' | 'right' | 'center' },
    style: TextStyle = {},
  ): void {
    const { size = BODY, strong = false, soft = false } = style;
    const runs = this.#runs(tidy(words).replaceAll('\n', ' '), strong);
    this.#doc.fontSize(size).fillColor(soft ? SOFT : INK);
    const widths = runs.map(({ font, text }) => this.#doc.font(font).widthOfString(text));
    const spare = Math.max(0, at.width - widths.reduce((sum, width) => sum + width, 0));
    let x = at.x + { left: 0, center: spare / 2, right: spare }[at.align ?? 'left'];
    for (const [i, { font, text }] of runs.entries()) {
      const width = at.x + at.width - x;
      if (width < size) break;
      // A hair more than is needed: rounding may not cost the last letter.
      const cut = { width: width + 0.1, height: size * 1.3, lineBreak: false, ellipsis: true };
      this.#doc.font(font).text(text, x, at.y, cut);
      x += widths[i];
    }
  }

  /** Turns the page where less than `height` is left. */
  keep(height: number): void {
    if (this.y + height > this.bottom && this.y > MARGIN.top) this.turn();
  }

  /** Goes to a new page. */
  turn(): void {
    this.#doc.addPage();
    this.#doc.x = this.left;
    this.y = MARGIN.top;
  }

  space(height: number): void {
    this.y += height * this.#loose;
  }

  get pageCount(): number {
    return this.#doc.bufferedPageRange().count;
  }

  /** Whether there are several pages and next to nothing on the last. */
  get strays(): boolean {
    const filled = (this.y - MARGIN.top) / (this.bottom - MARGIN.top);
    return this.pageCount > 1 && filled < STRAY;
  }

  /** The bytes of the document; nothing can be written after it. */
  async finish(): Promise<Buffer> {
    const { start, count } = this.#doc.bufferedPageRange();
    for (let i = start; i < start + count; i++) {
      this.#doc.switchToPage(i);
      const y = this.#doc.page.height - MARGIN.bottom + 22;
      // Below the margin pdfkit would turn the page.
      this.#doc.page.margins.bottom = 0;
      this.#doc.markContent('Artifact', { type: 'Pagination' });
      this.mark(this.#foot, { x: this.left, y, width: this.width - 80 }, { size: 8, soft: true });
      this.mark(
        `Page ${i + 1} of ${count}`,
        { x: this.left + this.width - 80, y, width: 80, align: 'right' },
        { size: 8, soft: true },
      );
      this.#doc.endMarkedContent();
    }
    this.#root.end();
    const done = new Promise<void>((resolve, reject) => {
      this.#doc.on('end', resolve);
      this.#doc.on('error', reject);
    });
    this.#doc.end();
    await done;
    return Buffer.concat(this.#bytes);
  }

  #element(kind: string, write: () => void): void {
    this.#root.add(this.#doc.struct(kind, {}, write));
  }

  /** Writes words at the present height, from font to font where one lacks a shape. */
  #write(
    words: string,
    { size = BODY, strong = false, soft = false, indent = 0 }: TextStyle,
    box: { x: number; width: number; align?: 'left' | 'right' } = { x: this.left, width: this.width },
  ): void {
    this.#doc.fontSize(size).fillColor(soft ? SOFT : INK);
    // Line by line: a run that goes on after another may not begin with the end of a line.
    for (const line of tidy(words).split('\n')) {
      const runs = this.#runs(line, strong);
      for (const [i, { font, text }] of runs.entries()) {
        this.#doc.font(font);
        const rest = {
          width: box.width - indent,
          lineGap: GAP,
          align: box.align ?? 'left',
          continued: i < runs.length - 1,
          features: ['tnum', 'kern', 'liga'] as PDFKit.Mixins.OpenTypeFeatures[],
        };
        if (i === 0) this.#doc.text(text, box.x + indent, this.y, rest);
        else this.#doc.text(text, rest);
      }
    }
  }

  #cell(cell: Cell, { x, width, align }: { x: number; width: number; align: 'left' | 'right' }): void {
    const { text, patch } = cell;
    const room = this.#textWidth(cell, width);
    if (patch) this.#patch(cell, x + CELL.side, this.y + 1);
    if (text !== '') this.#write(text, cell, { x: x + width - CELL.side - room, width: room, align });
  }

  #patch({ patch = [], side = PATCH }: Cell, x: number, y: number): void {
    const parts = typeof patch[0] === 'number' ? [{ rgb: patch as Rgb, share: 1 }] : (patch as Patches);
    const whole = parts.reduce((sum, { share }) => sum + share, 0);
    let left = x;
    for (const { rgb, share } of parts) {
      const width = (share / whole) * side;
      this.#doc.rect(left, y, width, side).fill([...rgb]);
      left += width;
    }
    this.#doc.rect(x, y, side, side).lineWidth(0.5).stroke(LINE);
  }

  #textWidth({ patch, side = PATCH }: Cell, width: number): number {
    return width - 2 * CELL.side - (patch ? side + 5 : 0);
  }

  #rowHeight(cells: readonly Cell[], widths: readonly number[]): number {
    const heights = cells.map((cell, i) => {
      const width = this.#textWidth(cell, widths[i]);
      const lines = tidy(cell.text).split('\n');
      return Math.max(
        cell.side ?? 0,
        lines.reduce((sum, line) => sum + this.#lineHeight(line, cell, width), 0),
      );
    });
    return Math.max(...heights, 0) + 2 * CELL.top * this.#loose;
  }

  /** Height that a line takes when it is broken to a width. */
  #lineHeight(line: string, { strong = false }: TextStyle, width: number): number {
    const runs = this.#runs(line, strong);
    this.#doc.fontSize(BODY).font(runs[0].font);
    const options = { width, lineGap: GAP };
    if (runs.length === 1) return this.#doc.heightOfString(runs[0].text || 'x', options);
    const wide = runs.reduce((sum, { font, text }) => sum + this.#doc.font(font).widthOfString(text), 0);
    // Where fonts meet lines are broken worse than they could be: a fifth of their width is left for that.
    const most = Math.ceil(wide / (0.8 * width));
    return most * Math.max(...runs.map(({ font }) => this.#doc.font(font).heightOfString('x', options)));
  }

  #rule(weight: number): void {
    this.#doc.markContent('Artifact', { type: 'Layout' });
    this.#doc
      .moveTo(this.left, this.y)
      .lineTo(this.left + this.width, this.y)
      .lineWidth(weight)
      .strokeColor(weight > 0.5 ? SOFT : LINE)
      .stroke();
    this.#doc.endMarkedContent();
  }

  #runs(words: string, strong: boolean): { font: string; text: string }[] {
    return fontRuns(words, this.#fonts[strong ? 'strong' : 'plain'], this.shapeless);
  }
}
