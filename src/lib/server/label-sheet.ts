import { lengthIn, sheenLevel, type UnitSystem } from '#lib/finish/index.ts';
import { inOrder, type Surface, type SurfacePart, type Swatch } from '#lib/job/index.ts';
import type PDFDocument from 'pdfkit';
import type { Cell, Paper, PaperSize, Rgb } from './paper.ts';
import { fitted } from './plan-paper.ts';
import { patchOf, type ScheduleContents } from './schedule-contents.ts';
import { addShapeless, startPaper } from './schedule-paper.ts';

type Document = InstanceType<typeof PDFDocument>;

/** A door or drawer front by its number, and what is known of it. */
interface Front {
  /** 'D1', 'F3', as the plan's steps number them; '2.D1' where several surfaces have fronts. */
  readonly number: string;
  readonly what: 'door' | 'drawer front';
  readonly place: string;
  readonly part: string;
  readonly size: string;
  readonly sides: 1 | 2;
}

interface Label {
  readonly patch: Rgb | null;
  /** The first line, large. */
  readonly head: string;
  readonly lines: readonly string[];
}

const COLUMNS = 3;
const ROWS = 8;
/** Doors and drawer fronts that get a label of their own; more are said to be left out. */
const MOST_FRONTS = 600;
const TOP = 54;
const PAD = 8;
const PATCH = 30;

/** Labels for samples and for cabinet doors, to cut apart, and a plan to write into which door belongs where. */
export async function labelPaper(contents: ScheduleContents, size: PaperSize): Promise<Buffer> {
  const paper = startPaper(contents, { size, landscape: false, title: 'Labels' });
  const { fronts, beyond } = frontsOf(contents);
  paper.heading(1, fronts.length > 0 ? 'Which door belongs where' : 'Labels');
  paper.text(
    'Write the place before anything is taken off; hinges and screws get the same number. The labels that follow are cut along the marks: one for each sample, one for each painted side of a door or drawer front, A its face, B its back.',
  );
  addPlan(paper, fronts, beyond);
  const labels = [...sampleLabels(contents), ...fronts.flatMap(frontLabels)];
  if (labels.length === 0)
    paper.text('There is nothing to label: no finishes and no doors.', { strong: true });
  for (let from = 0; from < labels.length; from += COLUMNS * ROWS)
    addSheet(paper, labels.slice(from, from + COLUMNS * ROWS));
  addShapeless(paper);
  return await paper.finish();
}

/** Every finish where it goes or is considered, then every primer; one label for each place. */
function sampleLabels({ job, scheduled }: ScheduleContents): Label[] {
  const label = (swatch: Swatch, surface: Surface, state: string): Label => {
    const title = swatch.name || swatch.code || `unnamed ${swatch.kind}`;
    const made = [swatch.maker, swatch.name ? swatch.code : ''].filter(Boolean).join(' ');
    return {
      patch: patchOf(swatch),
      head: title,
      lines: [
        [made, swatch.sheen ? sheenLevel(swatch.sheen).name : ''].filter(Boolean).join(', '),
        `${job.rooms[surface.roomId]?.name ?? ''}, ${surface.name}`,
        state,
      ],
    };
  };
  return scheduled.surfaces.flatMap(({ surface, swatch, primer }) => {
    if (!swatch) {
      const candidates = inOrder(job.swatches).filter(({ id }) => surface.candidateIds[id]);
      return candidates.map((candidate) => label(candidate, surface, 'candidate'));
    }
    const state = surface.state === 'fixed' ? 'stays' : 'chosen';
    return [label(swatch, surface, state), ...(primer ? [label(primer, surface, 'primer')] : [])];
  });
}

function frontsOf({ scheduled, trade }: ScheduleContents): { fronts: Front[]; beyond: number } {
  // The plan counts doors and drawer fronts anew for every surface, and for parts with coats of their own.
  const works = scheduled.surfaces.flatMap(({ surface, roomName, coats }) => {
    if (surface.state === 'fixed') return [];
    const fitted = inOrder(surface.parts ?? {}).filter((part) => linesOf(part).length > 0);
    const groups = [...Map.groupBy(fitted, (part) => part.coats ?? coats).values()];
    return groups.map((parts) => ({ surface, roomName, parts }));
  });
  const fronts: Front[] = [];
  let beyond = 0;
  for (const [k, { surface, roomName, parts }] of works.entries()) {
    const prefix = works.length > 1 ? `${k + 1}.` : '';
    const numbers = { door: 0, 'drawer front': 0 };
    for (const part of parts)
      for (const { what, sides, line } of linesOf(part)) {
        const count = Math.min(line.count, MOST_FRONTS - fronts.length);
        beyond += line.count - count;
        for (let i = 0; i < count; i++)
          fronts.push({
            number: `${prefix}${what === 'door' ? 'D' : 'F'}${(numbers[what] += 1)}`,
            what,
            place: [roomName, surface.name].filter(Boolean).join(', '),
            part: part.name,
            size: sizeSaid(line, trade.units),
            sides,
          });
      }
  }
  return { fronts, beyond };
}

/** Lines of fronts that can be: whole counts of sizes above nothing. */
function linesOf(part: SurfacePart) {
  if (part.kind !== 'cabinets') return [];
  return [
    ...part.doors.map((line) => ({ what: 'door' as const, sides: part.doorSides, line })),
    ...part.drawers.map((line) => ({ what: 'drawer front' as const, sides: part.drawerSides, line })),
  ].filter(({ line }) => line.width > 0 && line.height > 0 && line.count > 0 && Number.isInteger(line.count));
}

function sizeSaid({ width, height }: { width: number; height: number }, units: UnitSystem): string {
  // A door is cut to the millimetre, also where it is longer than a metre.
  if (units === 'metric') return `${Number(width.toFixed(1))} × ${Number(height.toFixed(1))} mm`;
  return `${lengthIn(width, 'us')} × ${lengthIn(height, 'us')}`;
}

function frontLabels({ number, what, place, part, size, sides }: Front): Label[] {
  return (sides === 2 ? (['A', 'B'] as const) : (['A'] as const)).map((side) => ({
    patch: null,
    head: `${number} ${side}`,
    lines: [`${what}, ${side === 'A' ? 'face' : 'back'}, ${size}`, place, part],
  }));
}

function addPlan(paper: Paper, fronts: readonly Front[], beyond: number): void {
  if (fronts.length === 0) {
    paper.text('No doors or drawer fronts are to be painted, or none were measured.');
    return;
  }
  const groups = Map.groupBy(fronts, ({ place, part }) => [place, part].filter(Boolean).join(', '));
  for (const [title, own] of groups) {
    paper.heading(3, title);
    paper.table(
      [
        { title: 'No.', width: 0.8 },
        { title: 'What', width: 1.5 },
        { title: 'Width × height', width: 1.5 },
        { title: 'Sides', width: 0.6 },
        { title: 'Where it hangs', width: 3.1 },
        { title: 'Hinges', width: 0.8 },
        { title: 'Hung', width: 0.6 },
      ],
      own.map(({ number, what, size, sides }): (string | Cell)[] => [
        { text: number, strong: true },
        what,
        size,
        sides === 2 ? 'A, B' : 'A',
        '',
        what === 'door' ? 'L   R' : '–',
        { text: '', patch: [255, 255, 255] },
      ]),
    );
  }
  if (beyond > 0)
    paper.text(`${beyond} more have no number here: at most ${MOST_FRONTS} are labelled at once.`, {
      strong: true,
    });
}

/** A page of labels with cut marks. */
function addSheet(paper: Paper, labels: readonly Label[]): void {
  paper.turn();
  const width = paper.width / COLUMNS;
  const height = Math.floor((paper.bottom - TOP) / ROWS);
  const place = (k: number) => ({
    x: (k % COLUMNS) * width,
    y: TOP + Math.floor(k / COLUMNS) * height,
  });
  let doc: Document | null = null;
  paper.drawing(height * ROWS, 'Cut marks and patches of colour of the labels below', (drawn, { x }) => {
    doc = drawn;
    for (let column = 0; column <= COLUMNS; column++)
      for (let row = 0; row <= ROWS; row++) cross(drawn, x + column * width, TOP + row * height);
    for (const [k, { patch }] of labels.entries()) {
      if (!patch) continue;
      const at = place(k);
      const [red, green, blue] = patch;
      drawn
        .rect(x + at.x + width - PAD - PATCH, at.y + PAD, PATCH, height - 2 * PAD)
        .lineWidth(0.4)
        .fillAndStroke([red, green, blue], '#b4b4b4');
    }
  });
  const below = paper.y;
  for (const [k, { head, lines, patch }] of labels.entries()) {
    const at = place(k);
    const room = width - 2 * PAD - (patch ? PATCH + PAD : 0);
    paper.y = at.y + PAD;
    write(paper, doc!, { words: head, x: at.x + PAD, room, size: patch ? 10.5 : 15 });
    for (const words of lines) write(paper, doc!, { words, x: at.x + PAD, room, size: 8 });
  }
  paper.y = Math.min(below, paper.bottom);
}

function write(
  paper: Paper,
  doc: Document,
  { words, x, room, size }: { words: string; x: number; room: number; size: number },
): void {
  if (words.trim() === '') return;
  const y = paper.y;
  paper.text(fitted(doc, words, { width: room, size }), { size, strong: size > 9, indent: x });
  paper.y = y + size * 1.3 + 4;
}

function cross(doc: Document, x: number, y: number): void {
  doc
    .moveTo(x - 4, y)
    .lineTo(x + 4, y)
    .moveTo(x, y - 4)
    .lineTo(x, y + 4)
    .lineWidth(0.5)
    .strokeColor('#474747')
    .stroke();
}
