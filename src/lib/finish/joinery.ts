import type { CabinetsPart, DoorsPart, Rectangles, SizeName, Strips, TrimPart } from './parts.ts';
import { areaIn, lengthIn } from './units.ts';
import { counted, squareMetres, totalOf } from './work-sheet.ts';
import type { WorkSheet } from './work-sheet.ts';

/** What a profile adds to the faces of panelled doors, where nobody measured it. Common practice, no published source. */
export const PANELLED = 0.1;

interface Work {
  readonly sheet: WorkSheet;
  readonly path: string;
}

export function cabinets(part: CabinetsPart, { sheet, path }: Work): void {
  const { check } = sheet;
  const front: [SizeName, SizeName] = ['side of a door or drawer front', 'side of a door or drawer front'];
  const side: [SizeName, SizeName] = ['side of a cabinet', 'side of a cabinet'];
  const fronts = [
    { field: 'doors', word: 'door', sides: part.doorSides, list: part.doors },
    { field: 'drawers', word: 'drawer front', sides: part.drawerSides, list: part.drawers },
  ].map((kind) => ({
    ...kind,
    list: sheet.rectangles(kind.list, { path: `${path}.${kind.field}`, sizes: front, what: () => kind.word }),
  }));
  faceFrame(part, { sheet, path }, { fronts, sizes: side });
  const profile = { least: 0, most: 0.5, what: 'share for a profile' };
  const added = check.within(part.profile, `${path}.profile`, profile) ? part.profile : 0;
  const thick = check.size(part.thickness, 'thickness', `${path}.thickness`) ? part.thickness : 0;
  for (const { list, word, sides } of fronts) {
    for (const line of list) {
      const said = `${counted(line.count, word)} ${sheet.sizeSaid(line.width, line.height)}`;
      const more = added > 0 ? `, ${Math.round(added * 100)} % more for the profile` : '';
      const faces = squareMetres(line) * sides * (1 + added);
      sheet.addArea(`${said}, ${sides === 2 ? 'both sides' : 'one side'}${more}`, faces);
      if (thick > 0) addEdges(sheet, line, { thick, word });
    }
  }
  sheet.addRectangles(part.sides, { path: `${path}.sides`, sizes: side, word: 'side' });
}

function addEdges(
  sheet: WorkSheet,
  line: Rectangles,
  { thick, word }: { thick: number; word: string },
): void {
  const round = 2 * (line.width + line.height);
  sheet.addArea(
    `edges of ${counted(line.count, word)}, ${lengthIn(round, sheet.system)} round × ${lengthIn(thick, sheet.system)}`,
    (round * thick * line.count) / 1e6,
  );
}

/** Fronts over all less what doors and drawer fronts close: the openings behind them, smaller by the overlay. */
function faceFrame(
  part: CabinetsPart,
  { sheet, path }: Work,
  {
    fronts,
    sizes,
  }: {
    fronts: readonly { word: string; list: readonly Rectangles[] }[];
    sizes: readonly [SizeName, SizeName];
  },
): void {
  const faces = sheet.rectangles(part.faces, {
    path: `${path}.faces`,
    sizes,
    what: () => 'front of the boxes',
  });
  if (faces.length === 0) return;
  const overlay = sheet.check.size(part.overlay, 'overlay', `${path}.overlay`) ? part.overlay : 0;
  const openings = fronts.flatMap(({ word, list }) =>
    list.map((line) => ({
      word,
      width: Math.max(0, line.width - 2 * overlay),
      height: Math.max(0, line.height - 2 * overlay),
      count: line.count,
    })),
  );
  if (totalOf(openings) > totalOf(faces)) {
    sheet.check.error(
      `${path}.faces`,
      `Doors and drawers close ${areaIn(totalOf(openings), sheet.system)}, more than the fronts they are in, ${areaIn(totalOf(faces), sheet.system)}.`,
    );
    sheet.leftOut.push('the face frame, which comes out smaller than nothing');
    return;
  }
  for (const line of faces)
    sheet.addArea(
      `face frame: ${counted(line.count, 'front')} ${sheet.sizeSaid(line.width, line.height)}`,
      squareMetres(line),
    );
  for (const line of openings) {
    const said = `less ${counted(line.count, 'opening')} behind a ${line.word} ${sheet.sizeSaid(line.width, line.height)}`;
    if (squareMetres(line) > 0) sheet.addArea(said, -squareMetres(line));
  }
}

export function trim(part: TrimPart, { sheet, path }: Work): void {
  for (const line of sheet.strips(part.runs, `${path}.runs`, 'run')) addStrip(sheet, line, 'run');
}

function addStrip(
  sheet: WorkSheet,
  { length, girth, count }: { length: number; girth: number; count: number },
  word: string,
): void {
  const metres = (length * count) / 1000;
  const said = `${counted(count, word)} ${lengthIn(length, sheet.system)} × girth ${lengthIn(girth, sheet.system)}`;
  sheet.addArea(said, (metres * girth) / 1000, metres);
}

export function doors(part: DoorsPart, { sheet, path }: Work): void {
  const thick = sheet.check.size(part.thickness, 'thickness', `${path}.thickness`) ? part.thickness : 0;
  const leaves = sheet.rectangles(part.leaves, {
    path: `${path}.leaves`,
    sizes: ['door width', 'door height'],
    what: () => 'door',
  });
  for (const line of leaves) {
    const said = `${counted(line.count, 'door')} ${sheet.sizeSaid(line.width, line.height)}`;
    sheet.addArea(
      `${said}, ${part.sides === 2 ? 'both sides' : 'one side'}`,
      squareMetres(line) * part.sides,
    );
    if (thick > 0) addEdges(sheet, line, { thick, word: 'door' });
  }
  for (const line of sheet.strips(part.frames, `${path}.frames`, 'frame')) addStrip(sheet, line, 'frame');
}
