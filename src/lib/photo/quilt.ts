/** A larger piece of a material made of one photographed sample: which texel of the sample stands at each place. */
export interface Quilt {
  readonly width: number;
  readonly height: number;
  /** Row-major, the sample's texel as y times its width plus x. It runs on at the opposite edge without a seam. */
  readonly from: Int32Array;
  /** Over how many texels to either side of a cut slow changes run into each other: none in even grain. */
  readonly soft: number;
}

/** A picture of a material, row-major, stride 3. */
export interface Texels {
  readonly width: number;
  readonly height: number;
  readonly data: Float32Array;
}

/** Texels of a quilt at most. */
export const MOST_TEXELS = 4e6;

/** Side of a block in parts of the sample's, of even grain and of veins or planks as large as the sample. */
const BLOCK = { grain: 0.36, veins: 0.5 };
/** Standard deviation of coarse cells in parts of the texels' at which it is all grain, and at which it is all veins. */
const COARSE = { grain: 0.3, veins: 0.55 };
/** Part of a block that lies over its neighbour. Source: Efros and Freeman 2001, section 2.2, take a sixth; a quarter cuts finer. */
const OVERLAP = 0.25;
/** Part of a block over which slow changes run into each other to either side of a cut, where it is all veins. */
const SOFTENED = 0.1;
const LEAST_BLOCK = 4; // texels
/** Blocks in a quilt at most: of a sample of few texels it is smaller than MOST_TEXELS. */
const MOST_BLOCKS = 600;
/** Places in the sample that are tried for a block, and texels by which each is judged. */
const PLACES = 160;
const JUDGED = 500;
/** What a place that was shown twice as often as usual counts, in the sample's variance: keeps mean and spread of the whole. */
const EVENNESS = 0.25;
/** The same of a place that a neighbouring block shows too: what stands there twice is seen. */
const TWICE = 0.6;
/** Cells along each side by which it is counted how often the parts of the sample are shown. */
const CELLS = 12;

interface Box {
  readonly width: number;
  readonly height: number;
}

/** Positions and lengths of the blocks along one side. */
interface Rhythm {
  readonly block: number;
  readonly overlap: number;
  readonly step: number;
  readonly count: number;
}

/**
 * A quilt of blocks of the sample, in its size and turned in no way, at least `width` x `height` texels where that is no
 * more than MOST_TEXELS and MOST_BLOCKS, else as much of it (two blocks along a side at least). Each block is the one of many
 * places tried that fits best to what lies there; two blocks meet on the line along which they differ least. `sample` in
 * steps of about the same size to the eye. The same seed makes the same quilt. Null for a sample of fewer than twice
 * LEAST_BLOCK texels along a side; RangeError for a size that is not positive.
 * Source: Efros and Freeman 2001, Image quilting for texture synthesis and transfer, section 2. Of our own: it closes to a
 * torus, and parts of the sample that were shown less, or not beside the block, are preferred.
 */
export function quilt(sample: Texels, { width, height }: Box, seed: number): Quilt | null {
  if (!(width > 0 && height > 0))
    throw new RangeError(`Expected a quilt of positive size, got ${width} x ${height}`);
  if (Math.min(sample.width, sample.height) < 2 * LEAST_BLOCK) return null;
  const { all: variance, coarse } = spread(sample);
  const share = variance > 1e-9 ? Math.sqrt(coarse / variance) : 0;
  const veined = Math.max(0, Math.min(1, (share - COARSE.grain) / (COARSE.veins - COARSE.grain)));
  const part = BLOCK.grain + veined * (BLOCK.veins - BLOCK.grain);
  const { across, down } = rhythms(sample, { width, height }, part);
  const size = { width: across.step * across.count, height: down.step * down.count };
  const from = new Int32Array(size.width * size.height).fill(-1);
  const next = random(seed);
  const shown = new Float64Array(CELLS * CELLS);
  const places = new Int32Array(across.count * down.count).fill(-1);
  for (let j = 0; j < down.count; j++)
    for (let i = 0; i < across.count; i++) {
      const under = whatLies({ from, ...size }, { x: i * across.step, y: j * down.step }, { across, down });
      const near = [
        [i - 1, j],
        [i - 1, j - 1],
        [i, j - 1],
        [i + 1, j - 1],
      ].map(([a, b]) => places[Math.max(0, b) * across.count + ((a + across.count) % across.count)]);
      const place = bestPlace(sample, under, { across, down, next, shown, variance, near });
      places[j * across.count + i] = place;
      countShown(shown, place, { sample, across, down });
      const edges = cuts(sample, under, { place, across, down, sides: sidesOf(i, j, { across, down }) });
      for (let y = 0, k = 0; y < down.block; y++)
        for (let x = 0; x < across.block; x++, k++) {
          if (under[k] >= 0 && !edges(x, y)) continue;
          const column = (i * across.step + x) % size.width;
          const row = (j * down.step + y) % size.height;
          from[row * size.width + column] = place + y * sample.width + x;
        }
    }
  return { ...size, from, soft: Math.round(SOFTENED * veined * Math.min(across.block, down.block)) };
}

function rhythms(sample: Box, wanted: Box, part: number): { across: Rhythm; down: Rhythm } {
  const along = (length: number, all: number) => {
    const block = Math.max(LEAST_BLOCK, Math.round(part * length));
    const overlap = Math.max(1, Math.round(OVERLAP * block));
    const step = block - overlap;
    return { block, overlap, step, count: Math.max(2, Math.ceil(Math.min(all, MOST_TEXELS) / step)) };
  };
  let across: Rhythm = along(sample.width, wanted.width);
  let down: Rhythm = along(sample.height, wanted.height);
  while (
    across.count + down.count > 4 &&
    (across.count * across.step * down.count * down.step > MOST_TEXELS ||
      across.count * down.count > MOST_BLOCKS)
  )
    if (down.count <= 2 || (across.count > 2 && across.count * across.step > down.count * down.step))
      across = { ...across, count: across.count - 1 };
    else down = { ...down, count: down.count - 1 };
  return { across, down };
}

/** Variance of a sample, summed over channels: all of it, and that between the means of CELLS x CELLS cells. */
function spread({ width, height, data }: Texels): { all: number; coarse: number } {
  const sums = new Float64Array(3 * CELLS * CELLS);
  const counts = new Float64Array(CELLS * CELLS);
  const means = new Float64Array(3);
  let [all, coarse] = [0, 0];
  for (let y = 0, o = 0; y < height; y++) {
    const row = CELLS * Math.floor((y * CELLS) / height);
    for (let x = 0; x < width; x++, o += 3) {
      const cell = row + Math.floor((x * CELLS) / width);
      counts[cell]++;
      for (let c = 0; c < 3; c++) {
        sums[3 * cell + c] += data[o + c];
        means[c] += data[o + c];
        all += data[o + c] ** 2;
      }
    }
  }
  const texels = width * height;
  for (let c = 0; c < 3; c++) {
    all -= means[c] ** 2 / texels;
    coarse -= means[c] ** 2 / texels;
  }
  for (let k = 0; k < sums.length; k++) {
    const texelsIn = counts[Math.floor(k / 3)];
    if (texelsIn > 0) coarse += sums[k] ** 2 / texelsIn;
  }
  return { all: Math.max(0, all / texels), coarse: Math.max(0, coarse / texels) };
}

/** The texels that lie where a block comes, -1 where none does yet. */
function whatLies(
  { from, width, height }: Omit<Quilt, 'soft'>,
  { x, y }: { x: number; y: number },
  { across, down }: { across: Rhythm; down: Rhythm },
): Int32Array {
  const under = new Int32Array(across.block * down.block);
  for (let row = 0, k = 0; row < down.block; row++) {
    const start = ((y + row) % height) * width;
    for (let column = 0; column < across.block; column++, k++)
      under[k] = from[start + ((x + column) % width)];
  }
  return under;
}

/** Sum of squared differences of two texels. */
function apart(data: Float32Array, a: number, b: number): number {
  const red = data[3 * a] - data[3 * b];
  const green = data[3 * a + 1] - data[3 * b + 1];
  const blue = data[3 * a + 2] - data[3 * b + 2];
  return red * red + green * green + blue * blue;
}

/** The texel of the sample at which the block begins. */
function bestPlace(
  sample: Texels,
  under: Int32Array,
  {
    across,
    down,
    next,
    shown,
    variance,
    near,
  }: {
    across: Rhythm;
    down: Rhythm;
    next: () => number;
    shown: Float64Array;
    /** Of the sample, summed over its channels. */
    variance: number;
    /** Where in the sample the blocks beside and above begin; -1 for none. */
    near: readonly number[];
  },
): number {
  const lying: number[] = [];
  for (let k = 0; k < under.length; k++) if (under[k] >= 0) lying.push(k);
  const step = Math.max(1, lying.length / JUDGED);
  const judged = new Int32Array(Math.floor(lying.length / step));
  const aims = new Int32Array(judged.length);
  for (let s = 0; s < judged.length; s++) {
    // Not at even distances: those would miss lines that lie between them.
    const k = lying[Math.min(lying.length - 1, Math.floor((s + next()) * step))];
    judged[s] = Math.floor(k / across.block) * sample.width + (k % across.block);
    aims[s] = under[k];
  }
  const { data, width } = sample;
  const freeX = width - across.block;
  const freeY = sample.height - down.block;
  const usual = mean(shown);
  const evenness = EVENNESS * variance * Math.max(1, judged.length);
  const twice = TWICE * variance * Math.max(1, judged.length);
  let best = 0;
  let least = Infinity;
  const tryAt = (x: number, y: number) => {
    const place = y * width + x;
    let sum = usual > 0 ? (evenness * shownAt(shown, place, { sample, across, down })) / usual : 0;
    for (const other of near) {
      if (other < 0) continue;
      const dx = Math.abs(x - (other % width)) / across.block;
      const dy = Math.abs(y - Math.floor(other / width)) / down.block;
      // The part of the block that both show.
      sum += twice * Math.max(0, 1 - dx) * Math.max(0, 1 - dy);
    }
    for (let s = 0; s < judged.length && sum < least; s++) sum += apart(data, place + judged[s], aims[s]);
    if (sum >= least) return;
    least = sum;
    best = place;
  };
  for (let p = 0; p < PLACES; p++) tryAt(Math.floor(next() * (freeX + 1)), Math.floor(next() * (freeY + 1)));
  if (judged.length === 0) return best;
  // A joint or a grain that is a texel off is seen: the best one is moved to where it fits.
  for (let reach = 4; reach >= 1; reach /= 2) {
    const [x, y] = [best % width, Math.floor(best / width)];
    for (let dy = -reach; dy <= reach; dy += reach)
      for (let dx = -reach; dx <= reach; dx += reach)
        if (x + dx >= 0 && x + dx <= freeX && y + dy >= 0 && y + dy <= freeY && (dx !== 0 || dy !== 0))
          tryAt(x + dx, y + dy);
  }
  return best;
}

interface Placing {
  readonly sample: Box;
  readonly across: Rhythm;
  readonly down: Rhythm;
}

/** Calls `visit` with the cells of the sample that a block from that place shows. */
function cellsOf(place: number, { sample, across, down }: Placing, visit: (cell: number) => void): void {
  const x = place % sample.width;
  const y = Math.floor(place / sample.width);
  const cell = (at: number, length: number) => Math.min(CELLS - 1, Math.floor((at / length) * CELLS));
  for (let row = cell(y, sample.height); row <= cell(y + down.block - 1, sample.height); row++)
    for (let column = cell(x, sample.width); column <= cell(x + across.block - 1, sample.width); column++)
      visit(row * CELLS + column);
}

function countShown(shown: Float64Array, place: number, placing: Placing): void {
  cellsOf(place, placing, (cell) => shown[cell]++);
}

/** How often the cells of a block have been shown, in the mean. */
function shownAt(shown: Float64Array, place: number, placing: Placing): number {
  let [sum, cells] = [0, 0];
  cellsOf(place, placing, (cell) => {
    sum += shown[cell];
    cells++;
  });
  return sum / cells;
}

function mean(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

interface Sides {
  readonly left: boolean;
  readonly right: boolean;
  readonly top: boolean;
  readonly bottom: boolean;
}

/** On which sides a block meets others: those before it, and at the end of a row or column the first ones. */
function sidesOf(i: number, j: number, { across, down }: { across: Rhythm; down: Rhythm }): Sides {
  return { left: i > 0, right: i === across.count - 1, top: j > 0, bottom: j === down.count - 1 };
}

/** Whether a texel of the block is on the block's own side of the cuts where it lies over others. */
function cuts(
  { data, width }: Texels,
  under: Int32Array,
  { place, across, down, sides }: { place: number; across: Rhythm; down: Rhythm; sides: Sides },
): (x: number, y: number) => boolean {
  const cost = (x: number, y: number) => {
    const lies = under[y * across.block + x];
    return lies < 0 ? 0 : apart(data, lies, place + y * width + x);
  };
  const farX = across.block - across.overlap;
  const farY = down.block - down.overlap;
  const left = sides.left ? cheapestPath(down.block, across.overlap, (t, s) => cost(s, t)) : null;
  const right = sides.right ? cheapestPath(down.block, across.overlap, (t, s) => cost(farX + s, t)) : null;
  const top = sides.top ? cheapestPath(across.block, down.overlap, (t, s) => cost(t, s)) : null;
  const bottom = sides.bottom ? cheapestPath(across.block, down.overlap, (t, s) => cost(t, farY + s)) : null;
  return (x, y) =>
    (!left || x >= left[y]) &&
    (!right || x < farX + right[y]) &&
    (!top || y >= top[x]) &&
    (!bottom || y < farY + bottom[x]);
}

/** For each step along a strip the place across it of the connected path of least cost. */
function cheapestPath(
  length: number,
  across: number,
  cost: (along: number, across: number) => number,
): Int32Array {
  const sums = new Float64Array(length * across);
  for (let t = 0; t < length; t++)
    for (let s = 0; s < across; s++) {
      let before = 0;
      if (t > 0) {
        const o = (t - 1) * across + s;
        before = sums[o];
        if (s > 0 && sums[o - 1] < before) before = sums[o - 1];
        if (s + 1 < across && sums[o + 1] < before) before = sums[o + 1];
      }
      sums[t * across + s] = before + cost(t, s);
    }
  const path = new Int32Array(length);
  let at = 0;
  for (let s = 1; s < across; s++)
    if (sums[(length - 1) * across + s] < sums[(length - 1) * across + at]) at = s;
  path[length - 1] = at;
  for (let t = length - 2; t >= 0; t--) {
    let best = at;
    for (const s of [at - 1, at + 1])
      if (s >= 0 && s < across && sums[t * across + s] < sums[t * across + best]) best = s;
    at = best;
    path[t] = at;
  }
  return path;
}

/**
 * Colours of a quilt in linear light, stride 3. Across a cut slow changes run into each other over `soft` texels, so that a
 * vein's soft shade has no edge there; fine ones stay as sharp as they are. Away from cuts they are the sample's, times one
 * factor a channel that gives the whole its mean colour.
 * Source: two bands joined over different widths, Burt and Adelson 1983, A multiresolution spline, ACM ToG 2(4), 217-236.
 */
export function quiltedColours(sample: Texels, { from, width, height, soft }: Quilt): Float32Array {
  const out = new Float32Array(3 * from.length);
  for (let i = 0, o = 0; i < from.length; i++, o += 3)
    for (let c = 0; c < 3; c++) out[o + c] = sample.data[3 * from[i] + c];
  if (soft > 0) {
    const slow = boxMeans({ width, height, data: out }, soft, true);
    const fine = boxMeans(sample, soft, false);
    for (let k = 0; k < fine.length; k++) fine[k] = sample.data[k] - fine[k];
    for (let i = 0, o = 0; i < from.length; i++, o += 3)
      for (let c = 0; c < 3; c++) out[o + c] = Math.max(0, slow[o + c] + fine[3 * from[i] + c]);
  }
  const [shown, own] = [channelMeans(out), channelMeans(sample.data)];
  const factors = own.map((value, c) => (shown[c] > 0 ? value / shown[c] : 1));
  for (let o = 0; o < out.length; o += 3) for (let c = 0; c < 3; c++) out[o + c] *= factors[c];
  return out;
}

function channelMeans(data: Float32Array): number[] {
  const sums = [0, 0, 0];
  for (let o = 0; o < data.length; o += 3) for (let c = 0; c < 3; c++) sums[c] += data[o + c];
  return sums.map((sum) => (3 * sum) / data.length);
}

/** Means over squares of 2 `reach` + 1 texels; beyond an edge lies the opposite one, or the edge's own texel again. */
function boxMeans({ width, height, data }: Texels, reach: number, wrap: boolean): Float32Array {
  const half = new Float32Array(data.length);
  const out = new Float32Array(data.length);
  const at = (index: number, size: number) =>
    wrap ? ((index % size) + size) % size : Math.max(0, Math.min(size - 1, index));
  const share = 1 / (2 * reach + 1);
  const sums = new Float64Array(3 * width);
  for (let y = 0; y < height; y++) {
    const row = y * width;
    for (let c = 0; c < 3; c++) {
      let sum = 0;
      for (let d = -reach - 1; d < reach; d++) sum += data[3 * (row + at(d, width)) + c];
      for (let x = 0; x < width; x++) {
        sum += data[3 * (row + at(x + reach, width)) + c] - data[3 * (row + at(x - reach - 1, width)) + c];
        half[3 * (row + x) + c] = sum * share;
      }
    }
  }
  for (let d = -reach - 1; d < reach; d++) {
    const row = 3 * width * at(d, height);
    for (let k = 0; k < sums.length; k++) sums[k] += half[row + k];
  }
  for (let y = 0; y < height; y++) {
    const entering = 3 * width * at(y + reach, height);
    const leaving = 3 * width * at(y - reach - 1, height);
    for (let k = 0, o = 3 * width * y; k < sums.length; k++, o++) {
      sums[k] += half[entering + k] - half[leaving + k];
      out[o] = sums[k] * share;
    }
  }
  return out;
}

/** Numbers from 0 up to 1, the same for the same seed. Source: Marsaglia 2003, Xorshift RNGs, section 4 (13, 17, 5). */
function random(seed: number): () => number {
  let state = (Math.imul(seed, 0x9e3779b1) ^ 0x2545f491) | 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 2 ** 32;
  };
}
