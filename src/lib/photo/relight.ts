import { appearancesInRoom, type RgbSpace, type RoomView } from '#lib/colour/index.ts';
import { labsToDevice, linearNodes, throughTable, type ColourTable } from './colour-table.ts';
import { linearToLab, type Image8 } from './image.ts';

/** What a room's light makes of every colour of a corrected picture. */
export type RelightTable = ColourTable;

/**
 * The table that shows a corrected picture (`correctImage`: CIELAB D65 shown as device values) in a room's light: each
 * colour's most plausible reflectance, its appearance in the room (`appearancesInRoom`) and that within the screen's
 * gamut. White comes out as the light's own white, as far as the eye has not adapted to it; black stays black.
 * Every colour is taken for a surface: a lamp or a window in the picture is treated like white paper. The light's level
 * and colour change, not where it falls: shadows stay where the photograph has them.
 */
export function relightTable(from: RgbSpace, to: 'srgb' | 'display-p3', view: RoomView): RelightTable {
  const labs = linearToLab(linearNodes(from));
  return { from, to, nodes: labsToDevice(appearancesInRoom(labs, view), to) };
}

/** A corrected picture through a table of `relightTable`. Throws RangeError for a picture of another space. */
export function relight(image: Image8, table: RelightTable): Image8 {
  return throughTable(image, table);
}
