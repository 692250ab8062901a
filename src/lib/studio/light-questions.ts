import type { LampComparisonInput, LightInput, LightReportInput, ReportedFinish } from '#lib/finish/index.ts';
import {
  finishInput,
  inOrder,
  leadingSample,
  lightInputs,
  sourceSpectrum,
  type Id,
  type Job,
  type LightSource,
  type Room,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from '#lib/job/index.ts';
import { LAMP_TABLE } from '#lib/light/index.ts';
import { lightColour, sourceWords, tableName } from './light-words.ts';

/** A surface of a room and what is, or may come, on it. */
export interface SurfaceFinishes {
  surface: Surface;
  /** With a colour: the candidates of an open surface in their order, else the one finish. */
  swatches: Swatch[];
  /** The same that have no colour yet. */
  without: Swatch[];
}

/** The surfaces of a room in their order. */
export function surfaceFinishes(job: Job, roomId: Id): SurfaceFinishes[] {
  return inOrder(job.surfaces)
    .filter((surface) => surface.roomId === roomId)
    .map((surface) => {
      const all = inOrder(job.swatches).filter(({ id }) =>
        surface.state === 'open' ? surface.candidateIds[id] : surface.swatchId === id,
      );
      const coloured = (swatch: Swatch) => leadingSample(swatch) !== null;
      return {
        surface,
        swatches: all.filter(coloured),
        without: all.filter((swatch) => !coloured(swatch)),
      };
    });
}

/**
 * What `lightReport` is asked of a room: every finish of its surfaces under its named lights. What is settled meets what is
 * settled and the candidates of other surfaces; two candidates never meet, for only one of them can come.
 */
export function lightQuestion(job: Job, roomId: Id): LightReportInput {
  const groups = surfaceFinishes(job, roomId);
  const finishes: ReportedFinish[] = groups.flatMap(({ surface, swatches }) =>
    swatches.flatMap((swatch) => {
      const finish = finishInput(swatch);
      const role = surface.state === 'open' ? 'candidate' : surface.state;
      return finish ? [{ ...finish, surfaceName: surface.name, role }] : [];
    }),
  );
  const pairs = meetings(groups, (one, other) => one.state !== 'open' || other.state !== 'open');
  return { finishes, pairs, lights: lightInputs(job, roomId) };
}

/** Every two finishes on two surfaces that may meet, each pair once. */
function meetings(
  groups: readonly Pick<SurfaceFinishes, 'surface' | 'swatches'>[],
  meet: (one: Surface, other: Surface) => boolean,
): (readonly [Id, Id])[] {
  const pairs = new Map<string, readonly [Id, Id]>();
  for (const [i, one] of groups.entries()) {
    for (const other of groups.slice(i + 1)) {
      if (!meet(one.surface, other.surface)) continue;
      for (const { id: first } of one.swatches) {
        for (const { id: second } of other.swatches) {
          const key = [first, second].toSorted().join('\u0000');
          if (first !== second && !pairs.has(key)) pairs.set(key, [first, second]);
        }
      }
    }
  }
  return [...pairs.values()];
}

/** A lamp that can be compared. */
export interface LampChoice {
  /** The source, spelt out: one lamp is one choice however often the room has it. */
  id: string;
  /** `Warm LED lamp, 2,700 K`. */
  name: string;
  source: LightSource;
  /** What it is called in this room; empty for a lamp that only the catalogue has. */
  inRoom: string[];
  /** What it is and where one meets it; empty for a lamp that no table stands for. */
  fact: string;
}

/** The lamps of a room's day and of its named lights, and then those of the catalogue. */
export function lampChoices(job: Job, room: Room): LampChoice[] {
  const own = new Map<string, LampChoice>();
  const add = (source: LightSource, called: string) => {
    const choice = own.get(lampId(source)) ?? { ...choiceOf(source), inRoom: [] };
    if (!choice.inRoom.includes(called)) choice.inRoom.push(called);
    own.set(choice.id, choice);
  };
  for (const { name, source } of room.day ? inOrder(room.day.lamps) : []) add(source, name);
  // A light is named for an hour more often than for its lamp, so that it only names what the day does not.
  const ofDay = new Set(own.keys());
  for (const { roomId, name, parts } of inOrder(job.lights)) {
    if (roomId !== room.id) continue;
    for (const { source } of parts) if (isLamp(source) && !ofDay.has(lampId(source))) add(source, name);
  }
  const catalogue = LAMP_TABLE.map(({ table }) => choiceOf({ kind: 'table', name: table }));
  return [...own.values(), ...catalogue.filter(({ id }) => !own.has(id))];
}

const lampId = (source: LightSource) => JSON.stringify(Object.entries(source).toSorted());

function choiceOf(source: LightSource): LampChoice {
  const entry = source.kind === 'table' ? LAMP_TABLE.find(({ table }) => table === source.name) : undefined;
  const name = source.kind === 'table' ? tableName(source.name) : sourceWords(source);
  return { id: lampId(source), name, source, inRoom: [], fact: entry?.fact ?? '' };
}

/** CIE tables of lamps; the others stand for daylight. */
const LAMP_TABLES = /^(A$|FL|LED|HP)/;

function isLamp(source: LightSource): boolean {
  if (source.kind === 'table') return LAMP_TABLES.test(source.name);
  return source.kind !== 'daylight' && source.kind !== 'window';
}

/** What a lamp is compared with where the room has none: the usual lamp of kitchens. */
const USUAL_LAMP = 'LED-B2';
const HALOGEN = 'A';

/** How far a lamp may lie from another, K, and still be bought in its place. Common practice, no published source. */
const SAME_WARMTH = 500;

/** Lamps of the room that are compared from the start, at most: with more, the others are a tick away. */
const OWN_AT_FIRST = 2;

/** A comparison to start with: the room's own lamps, a lamp of the same warmth that renders colours best, and halogen. */
export function firstLamps(choices: readonly LampChoice[]): string[] {
  const table = (name: string) =>
    choices.find(({ source }) => source.kind === 'table' && source.name === name);
  const own = choices.filter(({ inRoom }) => inRoom.length > 0).slice(0, OWN_AT_FIRST);
  const first = own.length > 0 ? own : [table(USUAL_LAMP)];
  const spectrum = first[0] && sourceSpectrum(first[0].source);
  const warmth = spectrum ? lightColour(spectrum)?.cct : undefined;
  const better = LAMP_TABLE.filter(
    ({ technology, cct }) => technology === 'LED' && (!warmth || Math.abs(cct - warmth) < SAME_WARMTH),
  )
    .toSorted((a, b) => b.ra - a.ra)
    .map((lamp) => table(lamp.table))
    .find((lamp) => !first.includes(lamp));
  const wanted = [...first, better, table(HALOGEN)].flatMap((lamp) => (lamp ? [lamp.id] : []));
  return [...new Set(wanted)];
}

/**
 * How much of a furnished room each kind of surface makes up to the eye, of about 100.
 * Common practice, no published source.
 */
const SEEN_AREA: Record<SurfaceKind, number> = {
  walls: 28,
  cabinets: 20,
  floor: 18,
  ceiling: 12,
  island: 6,
  doors: 5,
  counter: 5,
  backsplash: 4,
  textiles: 6,
  'wood accents': 3,
  trim: 3,
  hardware: 0.5,
};

/** Stands for an open surface that is left out of a comparison. */
export const LEFT_OUT = '';

/** What stands on each surface of a room while lamps are compared. */
export interface StandingFinish {
  surface: Surface;
  swatch: Swatch;
}

/**
 * One finish for each surface: what is fixed or chosen, and on an open surface the candidate picked for it (by surface id),
 * its first one where none is. Surfaces without a finish that has a colour, and those left out, are not in it.
 */
export function standingFinishes(
  groups: readonly SurfaceFinishes[],
  picked: Readonly<Record<Id, string>>,
): StandingFinish[] {
  return groups.flatMap(({ surface, swatches }) => {
    const wanted = surface.state === 'open' ? picked[surface.id] : undefined;
    if (wanted === LEFT_OUT) return [];
    const swatch = swatches.find(({ id }) => id === wanted) ?? swatches.at(0);
    return swatch ? [{ surface, swatch }] : [];
  });
}

/** Level at which lamps are compared, lx; `compareLamps` judges all at one level. */
const LEVEL = 200;

/** A lamp of the comparison as the finish area reads it. */
export function lampInput({ id, name, source, inRoom }: LampChoice): LightInput {
  const called = inRoom.length > 0 ? `${inRoom.join(', ')}: ${name}` : name;
  // Lamps always shine: only a window can give nothing.
  const spectrum = sourceSpectrum(source)!;
  return { id, name: called, spectrum: Array.from(spectrum), illuminance: LEVEL };
}

/** What `compareLamps` is asked; null while there is no lamp or no finish to compare by. */
export function lampQuestion(
  standing: readonly StandingFinish[],
  lamps: readonly LampChoice[],
): LampComparisonInput | null {
  if (standing.length === 0 || lamps.length === 0) return null;
  const finishes = standing.flatMap(({ surface, swatch }) => {
    const finish = finishInput(swatch);
    return finish ? [{ ...finish, surfaceName: surface.name, area: SEEN_AREA[surface.kind] }] : [];
  });
  const alone = standing.map(({ surface, swatch }) => ({ surface, swatches: [swatch] }));
  return { finishes, pairs: meetings(alone, () => true), lamps: lamps.map(lampInput) };
}
