import { labsToDevice, linearNodes, throughTable } from './colour-table.ts';
import { correctMany } from './corrected-colour.ts';
import type { Correction } from './correction.ts';
import type { Image8 } from './image.ts';

/**
 * The picture as its correction sees it, for a screen: each colour's CIELAB shown under D65. Colours the screen's
 * space cannot show are drawn towards grey of the same luminance until it can; brighter than white becomes white.
 * A table of 33x33x33 colours, read with linear interpolation, stands for the correction. Opacity is carried along.
 */
export function correctImage(
  image: Image8,
  correction: Correction,
  to: { readonly space: 'srgb' | 'display-p3' },
): Image8 {
  const nodes = linearNodes(image.space);
  correctMany(correction, nodes, nodes);
  return throughTable(image, { from: image.space, to: to.space, nodes: labsToDevice(nodes, to.space) });
}
