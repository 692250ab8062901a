import type { Rectangles, TileLayout } from './parts.ts';

/**
 * Share of tiles added for cuts and breakage. Common practice, no published standard; 10 % for a straight layout and 15 %
 * for a diagonal one are what tilers' guides agree on, half-bond lies between.
 */
export const TILE_WASTE: Readonly<Record<TileLayout, number>> = {
  straight: 0.1,
  'half-bond': 0.12,
  diagonal: 0.15,
};

export interface TileCount {
  /** Whole tiles to buy: the larger of the next two. */
  readonly tiles: number;
  /** By area with the share for cuts. */
  readonly byArea: number;
  /** Laid out row by row, a cut-off used again where it is large enough; null on the diagonal, where rows say nothing. */
  readonly laid: number | null;
}

/**
 * Tiles for rectangles of wall or floor, mm. One tile takes its own size and a joint. Rows show what an area hides: on a
 * narrow strip every second row may be cut from a whole tile of its own. `net` is the area to cover less its holes, mm²;
 * rows are laid through holes only as far as these leave area, since a hole seldom spares a tile.
 */
export function tileCount(
  areas: readonly Rectangles[],
  {
    tile,
    joint,
    layout,
    waste,
    net,
  }: {
    readonly tile: { readonly width: number; readonly height: number };
    readonly joint: number;
    readonly layout: TileLayout;
    readonly waste: number;
    readonly net: number;
  },
): TileCount {
  const module = (tile.width + joint) * (tile.height + joint);
  const byArea = up((net / module) * (1 + waste));
  if (layout === 'diagonal') return { tiles: byArea, byArea, laid: null };
  const gross = areas.reduce((sum, { width, height, count }) => sum + width * height * count, 0);
  const whole = areas.reduce((sum, { width, height, count }) => {
    // In half-bond the rest of one row begins the next, so that along the row nothing but the joint counts.
    const along =
      layout === 'straight' ? tilesAlong(width, tile.width, joint) : (width + joint) / (tile.width + joint);
    return sum + along * tilesAlong(height, tile.height, joint) * count;
  }, 0);
  const laid = up(whole * (net / gross));
  return { tiles: Math.max(byArea, laid), byArea, laid };
}

/** Whole tiles across a length, and the last one as the part of a tile it costs: a half where one tile gives two. */
function tilesAlong(length: number, side: number, joint: number): number {
  const whole = Math.floor((length + joint) / (side + joint) + 1e-9);
  const rest = length - whole * (side + joint);
  return rest > 1e-6 ? whole + 1 / Math.max(1, Math.floor((side + 1e-6) / rest)) : whole;
}

function up(value: number): number {
  return Math.ceil(value - 1e-9);
}
