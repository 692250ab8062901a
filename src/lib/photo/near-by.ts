/**
 * What lies near each of many things and how much it counts, as far as it was asked. The entries of all stand in two long
 * arrays: tens of thousands of short ones would have the garbage collector go through them in the middle of a stroke.
 */
export interface NearBy {
  /** Entries of thing i are `from[i] .. to[i] - 1`; `from` is -1 where it was not asked. */
  readonly from: Int32Array;
  readonly to: Int32Array;
  other: Int32Array;
  share: Float32Array;
  /** Entries written. */
  used: number;
}

const ROOM = 1 << 15;
const GROWTH = 1.5;

/** Room for what lies near so many things, none of them asked yet. */
export function nearBy(count: number): NearBy {
  return {
    from: new Int32Array(count).fill(-1),
    to: new Int32Array(count),
    other: new Int32Array(ROOM),
    share: new Float32Array(ROOM),
    used: 0,
  };
}

/** Makes room for so many entries more; arrays that were read before may be old ones afterwards. */
export function makeRoom(store: NearBy, entries: number): void {
  const needed = store.used + entries;
  if (needed <= store.other.length) return;
  const room = Math.max(needed, Math.ceil(GROWTH * store.other.length));
  const { other, share } = store;
  store.other = new Int32Array(room);
  store.share = new Float32Array(room);
  store.other.set(other);
  store.share.set(share);
}
