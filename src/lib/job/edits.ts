import { inOrder, parseJob, type Job } from './document.ts';
import type { Id } from './fields.ts';

/** A JSON value; `undefined` stands for "not there". */
export type Json = null | boolean | number | string | Json[] | { [key: string]: Json };

/** One place of the document, its value before and after. A missing `was` or `now` means that nothing is there. */
export interface Change {
  path: string[];
  was?: Json;
  now?: Json;
}

/** One step of work, undone and redone as a whole. `label` completes the sentence "Undo: …". */
export interface Edit {
  label: string;
  changes: Change[];
}

/** Longest path and most changes an edit may have; more is a mistake or an attack. */
const MAX_DEPTH = 12;
const MAX_CHANGES = 2000;
const MAX_LABEL = 200;
const FORBIDDEN_KEYS = new Set(['__proto__', 'constructor', 'prototype']);

const isObject = (value: unknown): value is Record<string, Json> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** Whether two JSON values are the same, whatever the order of their keys. */
export function same(a: Json | undefined, b: Json | undefined): boolean {
  if (a === b) return true;
  if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((v, i) => same(v, b[i]));
  if (!isObject(a) || !isObject(b)) return false;
  const keys = Object.keys(a);
  return keys.length === Object.keys(b).length && keys.every((key) => key in b && same(a[key], b[key]));
}

/** The value at a path, or undefined where nothing is. */
export function valueAt(job: Job, path: readonly string[]): Json | undefined {
  let value: Json | undefined = job as unknown as Json;
  for (const key of path) {
    if (!isObject(value) || !Object.hasOwn(value, key)) return undefined;
    value = value[key];
  }
  return value;
}

/**
 * An edit that sets each path to a value (`undefined` removes), recording what was there. A label that long names have made
 * too long ends in an ellipsis.
 */
export function setting(job: Job, label: string, values: readonly (readonly [string[], unknown])[]): Edit {
  const changes: Change[] = [];
  for (const [path, value] of values) {
    const was = valueAt(job, path);
    const now = value as Json | undefined;
    if (!same(was, now))
      changes.push({ path, ...(was !== undefined && { was }), ...(now !== undefined && { now }) });
  }
  return { label: label.length > MAX_LABEL ? `${label.slice(0, MAX_LABEL - 1)}…` : label, changes };
}

/**
 * The document after an edit; the given one is untouched and unchanged parts are shared.
 * @throws TypeError where a path leads through something that is not there.
 */
export function applyEdit(job: Job, edit: Edit): Job {
  let result = job as unknown as Json;
  for (const change of edit.changes) result = write(result, change.path, 0, change.now);
  return result as unknown as Job;
}

function write(node: Json, path: string[], depth: number, now: Json | undefined): Json {
  if (depth === path.length) throw new TypeError('Expected a path of at least one step, got none');
  if (!isObject(node))
    throw new TypeError(`Expected something to change at ${path.slice(0, depth).join('.')}, found nothing`);
  const key = path[depth];
  if (depth === path.length - 1) {
    if (now !== undefined) return { ...node, [key]: now };
    const { [key]: _removed, ...rest } = node;
    return rest;
  }
  if (!Object.hasOwn(node, key)) {
    throw new TypeError(
      `Expected something to change at ${path.slice(0, depth + 1).join('.')}, found nothing`,
    );
  }
  return { ...node, [key]: write(node[key], path, depth + 1, now) };
}

/** The edit that takes another back. */
export function inverse(edit: Edit): Edit {
  return {
    label: edit.label,
    changes: edit.changes.toReversed().map(({ path, was, now }) => ({
      path,
      ...(now !== undefined && { was: now }),
      ...(was !== undefined && { now: was }),
    })),
  };
}

/** What of an edit no longer meets the document it was made for, in words; empty when it can be applied safely. */
export function collisions(job: Job, edit: Edit): string[] {
  const found: string[] = [];
  for (const { path, was, now } of edit.changes) {
    const current = valueAt(job, path);
    // What holds the place may be gone, which is no place for a new value, and none to take one away from either.
    const held = path.length === 1 || isObject(valueAt(job, path.slice(0, -1))) || brings(edit, path);
    if (held && (same(current, was) || same(current, now))) continue;
    found.push(
      current === undefined
        ? deletedWords(job, edit, { path, was })
        : `${describePath(job, path)} has been changed meanwhile`,
    );
  }
  return found;
}

/** One of each collection of the job, for what is gone and cannot say its name any more. */
const ONE_OF: Record<string, string> = {
  rooms: 'room',
  surfaces: 'surface',
  lights: 'light',
  photos: 'photo',
  swatches: 'swatch',
};

/** What has been deleted, by the name that the edit remembers of it, or else by what the edit was to do. */
function deletedWords(job: Job, edit: Edit, { path, was }: Pick<Change, 'path' | 'was'>): string {
  const one = ONE_OF[path[0]];
  // What only lost a part still has its name in the document.
  if (!one || valueAt(job, path.slice(0, 2)) !== undefined)
    return `${describePath(job, path)} has been deleted meanwhile`;
  const named =
    path.length === 2 && isObject(was) ? was.name : path.length === 3 && path[2] === 'name' ? was : null;
  return typeof named === 'string' && named
    ? `the ${one} “${named}” has been deleted meanwhile`
    : `“${edit.label}” is about a ${one} that has been deleted meanwhile`;
}

/** Whether an edit itself adds something that a path leads through. */
function brings(edit: Edit, path: readonly string[]): boolean {
  return edit.changes.some(
    (change) =>
      change.now !== undefined &&
      change.path.length < path.length &&
      change.path.every((key, i) => key === path[i]),
  );
}

/** Why an edit cannot be put on top of a document: its collisions, or that the result would not be a valid document. */
export function misfits(job: Job, edit: Edit): string[] {
  const met = collisions(job, edit);
  if (met.length > 0) return met;
  try {
    parseJob(applyEdit(job, edit));
    return [];
  } catch {
    return [`“${edit.label}” does not fit any more: something it needs has been deleted meanwhile`];
  }
}

/** A path in the user's words: `photos.k3.regions.r1.name` becomes `the name of “counter” in “kitchen by day”`. */
export function describePath(job: Job, path: readonly string[]): string {
  const names: string[] = [];
  for (let depth = 2; depth <= path.length; depth += 1) {
    const value = valueAt(job, path.slice(0, depth));
    if (isObject(value) && typeof value.name === 'string' && value.name) names.unshift(`“${value.name}”`);
  }
  const last = path[path.length - 1] ?? '';
  const thing = valueAt(job, path);
  const whole = isObject(thing) && typeof thing.name === 'string';
  if (names.length === 0) return path.length === 1 ? `the job's ${last}` : `something in ${path[0]}`;
  return whole ? names.join(' in ') : `the ${last} of ${names.join(' in ')}`;
}

/**
 * An edit read from outside.
 * @throws TypeError naming the path in the message.
 */
export function parseEdit(value: unknown): Edit {
  if (!isObject(value) || typeof value.label !== 'string' || !Array.isArray(value.changes)) {
    throw new TypeError('edit: expected {label, changes}');
  }
  if (value.label.length > MAX_LABEL)
    throw new TypeError(`edit.label: expected at most ${MAX_LABEL} characters`);
  if (value.changes.length > MAX_CHANGES)
    throw new TypeError(`edit.changes: expected at most ${MAX_CHANGES}`);
  const changes = value.changes.map((change, i): Change => {
    if (!isObject(change) || !Array.isArray(change.path))
      throw new TypeError(`edit.changes[${i}]: expected {path, was, now}`);
    const path = change.path;
    if (path.length < 1 || path.length > MAX_DEPTH)
      throw new TypeError(`edit.changes[${i}].path: expected 1-${MAX_DEPTH} steps`);
    for (const key of path) {
      if (typeof key !== 'string' || FORBIDDEN_KEYS.has(key))
        throw new TypeError(`edit.changes[${i}].path: expected plain keys`);
    }
    return {
      path: path as string[],
      ...(change.was !== undefined && { was: change.was }),
      ...(change.now !== undefined && { now: change.now }),
    };
  });
  return { label: value.label, changes };
}

/** Removes a swatch and every mention of it: candidates, finishes that are fixed, chosen or there, targets, known references. */
export function removingSwatch(job: Job, swatchId: Id): Edit {
  const changes: [string[], unknown][] = [];
  for (const surface of Object.values(job.surfaces)) {
    const at = ['surfaces', surface.id];
    if (surface.candidateIds[swatchId]) changes.push([[...at, 'candidateIds', swatchId], undefined]);
    if (surface.swatchId === swatchId) {
      changes.push([[...at, 'swatchId'], null]);
      if (surface.state === 'chosen') changes.push([[...at, 'state'], 'open']);
    }
    if (surface.thereId === swatchId) changes.push([[...at, 'thereId'], undefined]);
    if (surface.target?.kind === 'finish' && surface.target.swatchId === swatchId)
      changes.push([[...at, 'target'], null]);
  }
  for (const photo of Object.values(job.photos)) {
    for (const reference of Object.values(photo.references)) {
      if (reference.swatchId === swatchId)
        changes.push([['photos', photo.id, 'references', reference.id], undefined]);
    }
  }
  changes.push([['swatches', swatchId], undefined]);
  return setting(job, `delete swatch ${nameOf(job.swatches[swatchId])}`, changes);
}

/** Removes a photo. Samples measured in it keep their colour and lose the link; targets taken from it stay as colours. */
export function removingPhoto(job: Job, photoId: Id): Edit {
  const changes: [string[], unknown][] = [];
  for (const swatch of Object.values(job.swatches)) {
    for (const sample of Object.values(swatch.samples)) {
      if (sample.from?.photoId === photoId)
        changes.push([['swatches', swatch.id, 'samples', sample.id, 'from'], null]);
    }
  }
  for (const surface of Object.values(job.surfaces)) {
    const { target } = surface;
    if (target?.kind === 'photo' && target.photoId === photoId) {
      const kept = { kind: 'colour', estimate: target.estimate, words: target.words };
      changes.push([['surfaces', surface.id, 'target'], kept]);
    }
  }
  changes.push([['photos', photoId], undefined]);
  return setting(job, `delete photo ${nameOf(job.photos[photoId])}`, changes);
}

/** Removes a surface and the masks that show it in photos. */
export function removingSurface(job: Job, surfaceId: Id): Edit {
  return setting(job, `delete surface ${nameOf(job.surfaces[surfaceId])}`, surfaceRemoved(job, surfaceId));
}

function surfaceRemoved(job: Job, surfaceId: Id): [string[], unknown][] {
  const masked = inOrder(job.photos).filter((photo) => photo.masks?.[surfaceId]);
  return [
    ...masked.map(({ id }): [string[], unknown] => [['photos', id, 'masks', surfaceId], undefined]),
    [['surfaces', surfaceId], undefined],
  ];
}

/** Removes a room with its surfaces and lights; its photos stay in the job. */
export function removingRoom(job: Job, roomId: Id): Edit {
  const changes: [string[], unknown][] = [];
  for (const surface of inOrder(job.surfaces)) {
    if (surface.roomId === roomId) changes.push(...surfaceRemoved(job, surface.id));
  }
  for (const light of inOrder(job.lights))
    if (light.roomId === roomId) changes.push([['lights', light.id], undefined]);
  for (const photo of inOrder(job.photos))
    if (photo.roomId === roomId) changes.push([['photos', photo.id, 'roomId'], null]);
  changes.push([['rooms', roomId], undefined]);
  return setting(job, `delete room ${nameOf(job.rooms[roomId])}`, changes);
}

function nameOf(thing: { name: string } | undefined): string {
  return thing?.name ? `“${thing.name}”` : '';
}
