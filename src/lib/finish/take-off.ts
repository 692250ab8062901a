import { cabinets, doors, trim } from './joinery.ts';
import type {
  CounterPart,
  EstimatePart,
  FieldProblem,
  FlatPart,
  Openings,
  Part,
  PiecesPart,
  Rectangles,
  TilePart,
  WallsPart,
} from './parts.ts';
import { slabFit } from './slab-fit.ts';
import { TILE_WASTE, tileCount } from './tile-count.ts';
import { areaIn, areaWords, lengthIn, lengthWords } from './units.ts';
import type { UnitSystem } from './units.ts';
import { WorkSheet, counted, squareMetres, totalOf } from './work-sheet.ts';
import type { Step } from './work-sheet.ts';

/**
 * Openings up to this size, m² each, are not taken off walls: what is saved goes into their reveals and into working round
 * them. Source: IS 1200 (Part 13):1994, Methods of measurement: whitewashing, colour washing, distempering and painting of
 * building surfaces, 3.2.1 (a) (openings not exceeding 0.5 m² each).
 */
export const SMALL_OPENING = 0.5;

export interface TakeOffOptions {
  /** Units the lines are said in; areas are said in both. */
  readonly system: UnitSystem;
  /** Openings up to this size, m² each, are not taken off; 0 takes off every one. `SMALL_OPENING` where not given. */
  readonly smallOpening?: number;
  /** Path of the list of parts, for problems; 'parts' where not given. */
  readonly path?: string;
}

/** The take-off of one part. Quantities are unrounded; null where the part has none of the kind or none could be counted. */
export interface PartTakeOff {
  readonly name: string;
  readonly kind: Part['kind'];
  /** Finish coats this part asks for of its own. */
  readonly coats: number | null;
  /** m² to be painted or covered. */
  readonly area: number | null;
  /** m of trim. */
  readonly length: number | null;
  /** Whole tiles with those for cuts, or things that are counted. */
  readonly pieces: number | null;
  readonly boxes: number | null;
  readonly slabs: number | null;
  /** Standard deviation over the area. */
  readonly relativeSd: number;
  /** Line by line; areas of the lines add up to `area`. */
  readonly steps: readonly Step[];
  /** Lines that are in no total, in words. */
  readonly leftOut: readonly string[];
  readonly problems: readonly FieldProblem[];
}

export interface TakeOff {
  readonly area: number | null;
  readonly length: number | null;
  readonly pieces: number | null;
  readonly boxes: number | null;
  readonly slabs: number | null;
  /** Standard deviation over the area, parts taken as independent. */
  readonly relativeSd: number;
  readonly parts: readonly PartTakeOff[];
  readonly problems: readonly FieldProblem[];
  readonly leftOut: readonly string[];
  /** The totals in one sentence, with what they leave out. */
  readonly words: string;
}

/**
 * How much a surface is, from the sizes of its parts: area, length of trim, tiles, slabs, pieces, each line by line. A line
 * with a size that cannot be is named by its path and left out of the totals, which say so; nothing throws.
 */
export function takeOff(parts: readonly Part[], options: TakeOffOptions): TakeOff {
  const path = options.path ?? 'parts';
  const done = parts.map((part, index) => partTakeOff(part, `${path}[${index}]`, options));
  const total = (pick: (part: PartTakeOff) => number | null) => {
    const values = done.map(pick).filter((value) => value !== null);
    return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0);
  };
  const area = total((part) => part.area);
  const variance = done.reduce((sum, part) => sum + ((part.area ?? 0) * part.relativeSd) ** 2, 0);
  const quantities = {
    area,
    length: total((part) => part.length),
    pieces: total((part) => part.pieces),
    boxes: total((part) => part.boxes),
    slabs: total((part) => part.slabs),
    relativeSd: area ? Math.sqrt(variance) / area : 0,
  };
  const leftOut = done.flatMap((part) => part.leftOut.map((line) => `${part.name || part.kind}: ${line}`));
  return {
    ...quantities,
    parts: done,
    problems: done.flatMap(({ problems }) => problems),
    leftOut,
    words: totalWords(quantities, leftOut, options.system),
  };
}

function totalWords(
  {
    area,
    length,
    pieces,
    boxes,
    slabs,
    relativeSd,
  }: Pick<TakeOff, 'area' | 'length' | 'pieces' | 'boxes' | 'slabs' | 'relativeSd'>,
  leftOut: readonly string[],
  system: UnitSystem,
): string {
  const doubt = relativeSd > 0.005 ? ` give or take ${Math.round(200 * relativeSd)} %` : '';
  const said = [
    area === null ? '' : `${areaWords(area, system)}${doubt}`,
    length === null ? '' : lengthWords(length * 1000, system),
    pieces === null ? '' : counted(pieces, 'piece'),
    boxes === null ? '' : counted(boxes, 'box'),
    slabs === null ? '' : counted(slabs, 'slab'),
  ].filter(Boolean);
  const sum = said.length === 0 ? 'Nothing could be counted' : `In all ${said.join(', ')}`;
  return leftOut.length === 0 ? `${sum}.` : `${sum}; not in it: ${leftOut.join('; ')}.`;
}

/** The take-off of one part; `path` names it in problems. */
export function partTakeOff(part: Part, path: string, options: TakeOffOptions): PartTakeOff {
  const sheet = new WorkSheet(options.system);
  const counts = workOut(part, { sheet, path, smallOpening: options.smallOpening ?? SMALL_OPENING });
  const measured = sheet.steps.length > 0;
  return {
    name: part.name,
    kind: part.kind,
    coats: part.coats,
    area: measured && part.kind !== 'pieces' ? sheet.area : null,
    length: measured && part.kind === 'trim' ? sheet.length : null,
    pieces: counts.pieces ?? null,
    boxes: counts.boxes ?? null,
    slabs: counts.slabs ?? null,
    relativeSd: measured && part.kind === 'estimate' ? part.relativeSd : 0,
    steps: sheet.steps,
    leftOut: sheet.leftOut,
    problems: sheet.check.problems,
  };
}

interface Work {
  readonly sheet: WorkSheet;
  readonly path: string;
  readonly smallOpening: number;
}
interface Counts {
  readonly pieces?: number;
  readonly boxes?: number;
  readonly slabs?: number;
}

function workOut(part: Part, work: Work): Counts {
  switch (part.kind) {
    case 'walls':
      return walls(part, work);
    case 'flat':
      return flat(part, work);
    case 'cabinets':
      cabinets(part, work);
      return {};
    case 'trim':
      trim(part, work);
      return {};
    case 'doors':
      doors(part, work);
      return {};
    case 'tile':
      return tiles(part, work);
    case 'counter':
      return counter(part, work);
    case 'pieces':
      return pieces(part, work);
    case 'estimate':
      return estimated(part, work);
  }
}

/** Takes openings off, but for small ones; an error where nothing would be left. */
function lessOpenings({ sheet, path, smallOpening }: Work, openings: readonly Openings[]): void {
  const gross = sheet.area;
  const sound = sheet.rectangles(openings, {
    path: `${path}.openings`,
    sizes: ['opening width', 'opening height'],
    what: ({ what }) => `${what || 'opening'} not taken off`,
  });
  if (gross > 0 && totalOf(sound) >= gross) {
    sheet.check.error(
      `${path}.openings`,
      `The openings, ${areaIn(totalOf(sound), sheet.system)}, are as large as what they are in, ${areaIn(gross, sheet.system)}.`,
    );
    sheet.leftOut.push('its openings, which are larger than it, not taken off');
    return;
  }
  for (const line of gross > 0 ? sound : []) {
    const said = `${counted(line.count, line.what || 'opening')} ${sheet.sizeSaid(line.width, line.height)}`;
    const each = squareMetres({ ...line, count: 1 });
    if (each > smallOpening) sheet.addArea(`less ${said}`, -squareMetres(line));
    else sheet.add(`${said} not taken off: ${areaIn(smallOpening, sheet.system)} or less each`, {});
  }
}

function walls(part: WallsPart, work: Work): Counts {
  const { sheet, path } = work;
  const word = part.by === 'walls' ? 'wall' : 'perimeter times height';
  sheet.addRectangles(part.walls, { path: `${path}.walls`, sizes: ['wall length', 'wall height'], word });
  lessOpenings(work, part.openings);
  return {};
}

function flat(part: FlatPart, work: Work): Counts {
  const { sheet, path } = work;
  const side = 'side of a flat area';
  sheet.addRectangles(part.rectangles, {
    path: `${path}.rectangles`,
    sizes: [side, side],
    word: 'rectangle',
  });
  lessOpenings(work, part.openings);
  return {};
}

function tiles(part: TilePart, work: Work): Counts {
  const { sheet, path } = work;
  const { check } = sheet;
  const side = 'side of a flat area';
  const areas = sheet.addRectangles(part.areas, { path: `${path}.areas`, sizes: [side, side], word: 'area' });
  lessOpenings(work, part.openings);
  const sound = [
    check.size(part.tile.width, 'side of a tile', `${path}.tile.width`),
    check.size(part.tile.height, 'side of a tile', `${path}.tile.height`),
    check.size(part.joint, 'joint', `${path}.joint`),
  ];
  const share = { least: 0, most: 1, what: 'share for cuts' };
  const given = part.waste !== null && check.within(part.waste, `${path}.waste`, share);
  const waste = given ? part.waste! : TILE_WASTE[part.layout];
  if (!sound.every(Boolean)) sheet.leftOut.push('its tiles, as their size is not known');
  if (areas.length === 0 || !sound.every(Boolean)) return {};
  const { tile, joint, layout } = part;
  const count = tileCount(areas, { tile, joint, layout, waste, net: sheet.area * 1e6 });
  const percent = `${Math.round(waste * 100)} % for cuts and breakage${given ? '' : `, usual for a ${layout} layout`}`;
  sheet.add(
    `tiles ${sheet.sizeSaid(tile.width, tile.height)}, joint ${lengthIn(joint, sheet.system)}, by area with ${percent}: ${count.byArea}`,
    count.laid !== null && count.laid > count.byArea ? {} : { pieces: count.tiles },
  );
  if (count.laid !== null && count.laid > count.byArea)
    sheet.add(`laid out in rows: ${count.laid}, more than by area, so this counts`, { pieces: count.tiles });
  if (
    part.perBox === null ||
    !check.count(part.perBox, `${path}.perBox`, { what: 'number of tiles in a box' })
  )
    return { pieces: count.tiles };
  const boxes = Math.ceil(count.tiles / part.perBox);
  sheet.add(`${count.tiles} tiles in boxes of ${part.perBox}: ${counted(boxes, 'box')}`, {});
  return { pieces: count.tiles, boxes };
}

/** Most pieces a counter is cut into. */
const MOST_COUNTER_PIECES = 60;

function counter(part: CounterPart, work: Work): Counts {
  const { sheet, path } = work;
  const { check } = sheet;
  const side = 'side of a counter piece';
  const sound = sheet.addRectangles(part.pieces, {
    path: `${path}.pieces`,
    sizes: [side, side],
    word: 'piece',
  });
  const known = [
    check.size(part.slab.width, 'side of a slab', `${path}.slab.width`),
    check.size(part.slab.height, 'side of a slab', `${path}.slab.height`),
    check.size(part.kerf, 'kerf', `${path}.kerf`),
  ].every(Boolean);
  if (!known) sheet.leftOut.push('its slabs, as their size is not known');
  const count = sound.reduce((sum, line) => sum + line.count, 0);
  if (!known || count === 0) return {};
  const most = { most: MOST_COUNTER_PIECES };
  if (!check.count(count, `${path}.pieces`, most)) {
    sheet.leftOut.push('its slabs, as the pieces are too many');
    return {};
  }
  const cut = sound.flatMap((line) =>
    Array.from({ length: line.count }, () => cutToLength(line, part)).flat(),
  );
  const joints = cut.length - count;
  const fit = slabFit(cut, part);
  if (!fit) {
    check.error(
      `${path}.pieces`,
      `A piece is too deep for a slab of ${sheet.sizeSaid(part.slab.width, part.slab.height)}.`,
    );
    sheet.leftOut.push('its slabs, as a piece fits none');
    return {};
  }
  if (joints > 0)
    sheet.add(
      `pieces longer than a slab are made of equal lengths: ${counted(joints, 'joint')}, to be placed with the stonemason`,
      {},
    );
  const sure = fit.proven ? 'no straight cuts make it fewer' : `perhaps fewer, at least ${fit.least} by area`;
  sheet.add(
    `cut from slabs of ${sheet.sizeSaid(part.slab.width, part.slab.height)}${part.mayTurn ? '' : ', veins one way'}: ${counted(fit.slabs, 'slab')}; ${sure}`,
    {},
  );
  return { slabs: fit.slabs };
}

/** A piece as it is, or where it is longer than a slab, as equal lengths that fit one. */
function cutToLength(
  { width, height }: Rectangles,
  { slab, mayTurn }: CounterPart,
): { width: number; height: number }[] {
  const longest = mayTurn ? Math.max(slab.width, slab.height) : width >= height ? slab.width : slab.height;
  const lengths = Math.max(1, Math.ceil(Math.max(width, height) / longest - 1e-9));
  const one = width >= height ? { width: width / lengths, height } : { width, height: height / lengths };
  return Array.from({ length: lengths }, () => one);
}

function pieces(part: PiecesPart, { sheet, path }: Work): Counts {
  let sum = 0;
  let any = false;
  part.items.forEach(({ what, count }, index) => {
    const sound = sheet.check.count(count, `${path}.items[${index}].count`);
    if (!sound) {
      sheet.leftOut.push(`${what || 'pieces'}, line ${index + 1}`);
      return;
    }
    any = true;
    sum += count;
    sheet.add(`${counted(count, what || 'piece')}`, { pieces: count });
  });
  return any ? { pieces: sum } : {};
}

function estimated(part: EstimatePart, { sheet, path }: Work): Counts {
  const { check } = sheet;
  const area = { least: 0.0001, most: 100_000, what: 'area' };
  const doubt = { least: 0, most: 3, what: 'doubt' };
  const sound = [
    check.within(part.area, `${path}.area`, area),
    check.within(part.relativeSd, `${path}.relativeSd`, doubt),
  ];
  if (!sound.every(Boolean)) sheet.leftOut.push('its area, which is not known');
  else sheet.addArea(part.from || 'as stated', part.area);
  return {};
}
