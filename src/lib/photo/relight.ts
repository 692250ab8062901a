import {
  plausibleSurfaces,
  surfaceAppearances,
  type PlausibleSurfaces,
  type RgbSpace,
  type RoomView,
} from '#lib/colour/index.ts';
import { intoSrgb, labsToDevice, linearNodes, throughTable, type ColourTable } from './colour-table.ts';
import { linearToLab, type Image8 } from './image.ts';

/** What a room's light makes of every colour of a corrected picture. */
export type RelightTable = ColourTable;

/** Surfaces of the nodes of each space that was asked for: most of the work, and the same for every light. */
const surfacesBySpace = new Map<RgbSpace, PlausibleSurfaces>();

function surfacesOf(space: RgbSpace): PlausibleSurfaces {
  let surfaces = surfacesBySpace.get(space);
  if (!surfaces) {
    const nodes = linearNodes(space);
    const labs = linearToLab(nodes);
    // Every colour of sRGB is one a surface can have. Of a wider space many are not, and finding their nearest takes a
    // minute: they move with the sRGB colour on their way to grey.
    const held = linearToLab(intoSrgb(nodes));
    const { reflectances, beyond } = plausibleSurfaces(held);
    surfaces = { reflectances, beyond: beyond.map((rest, i) => rest + labs[i] - held[i]) };
    surfacesBySpace.set(space, surfaces);
  }
  return surfaces;
}

/**
 * The table that shows a corrected picture (`correctImage`: CIELAB D65 shown as device values) in a room's light: each
 * colour's most plausible reflectance, its appearance in the room (`surfaceAppearances`) and that within the screen's
 * gamut. White comes out as the light's own white, as far as the eye has not adapted to it; black stays black.
 * Every colour is taken for a surface: a lamp or a window in the picture is treated like white paper. The light's level
 * and colour change, not where it falls: shadows stay where the photograph has them.
 * The first table of a space takes longer than the next: what its nodes reflect is kept (12 MB).
 */
export function relightTable(from: RgbSpace, to: 'srgb' | 'display-p3', view: RoomView): RelightTable {
  return { from, to, nodes: labsToDevice(surfaceAppearances(surfacesOf(from), view), to) };
}

/** A corrected picture through a table of `relightTable`. Throws RangeError for a picture of another space. */
export function relight(image: Image8, table: RelightTable): Image8 {
  return throughTable(image, table);
}
