import type { Stroke } from '#lib/photo/index.ts';

/**
 * How the surfaces of the rendered kitchen are marked in the checks: what a hand draws on each picture, at most three
 * strokes a surface, one surface after the other.
 */

const add = (radius: number, ...points: [number, number][]): Stroke => ({ mode: 'add', points, radius });
const remove = (radius: number, ...points: [number, number][]): Stroke => ({
  mode: 'remove',
  points,
  radius,
});

export interface Marking {
  readonly surface: string;
  readonly strokes: readonly Stroke[];
  readonly elsewhere: boolean;
}

const DAY: readonly Marking[] = [
  {
    surface: 'ceiling',
    elsewhere: false,
    // along the middle, along the strip that lamps on the cabinets light; over the hood
    strokes: [
      add(8, [200, 20], [700, 70], [1050, 40], [1350, 30]),
      add(8, [290, 86], [620, 102], [740, 104], [850, 118], [1060, 140]),
      remove(8, [714, 155], [738, 286]),
    ],
  },
  {
    surface: 'floor',
    elsewhere: true,
    strokes: [
      add(8, [500, 890], [700, 930], [900, 980]),
      add(8, [1080, 820], [1180, 800], [1330, 910], [1400, 1010]),
      add(8, [71, 976], [238, 785]),
    ],
  },
  {
    surface: 'cabinets',
    elsewhere: true,
    strokes: [
      add(8, [350, 620], [950, 610]),
      add(8, [600, 250], [290, 290], [330, 488], [560, 490]),
      add(8, [900, 485], [1060, 500], [1130, 540], [1300, 600]),
    ],
  },
  {
    surface: 'counter',
    elsewhere: false,
    // the island round its top and along its front edge, over the drawers, which are marked, to the run behind, back and forth; the run under the window back along the wall and forth along the front edge; wiped over what does not belong: tiles, hob, stand, jar, boards, tiles
    strokes: [
      add(
        4,
        [985, 543],
        [640, 560],
        [310, 576],
        [345, 545],
        [420, 537],
        [545, 541],
        [565, 530],
        [590, 516],
        [650, 519],
        [720, 528],
        [840, 521],
        [885, 512],
        [960, 514],
        [885, 512],
        [840, 521],
        [720, 526],
        [650, 517],
        [590, 514],
        [565, 530],
        [545, 541],
        [400, 537],
        [385, 478],
        [420, 470],
        [590, 468],
        [605, 469],
        [640, 463],
        [652, 462],
        [660, 470],
        [725, 471],
        [640, 474],
        [420, 481],
        [375, 483],
      ),
      add(
        4,
        [890, 457],
        [1040, 450],
        [1140, 454],
        [1250, 468],
        [1380, 485],
        [1405, 499],
        [1435, 496],
        [1462, 500],
        [1480, 511],
        [1580, 524],
        [1580, 546],
        [1420, 518],
        [1250, 490],
        [1090, 466],
        [1130, 463],
        [1180, 473],
      ),
      remove(
        5,
        [400, 451],
        [640, 448],
        [700, 461],
        [760, 470],
        [800, 488],
        [869, 488],
        [861, 502],
        [869, 488],
        [800, 480],
        [775, 425],
        [820, 400],
        [850, 430],
        [895, 435],
        [940, 425],
        [1080, 432],
        [1180, 440],
        [1290, 460],
        [1350, 472],
        [1500, 478],
        [1580, 480],
      ),
    ],
  },
  {
    surface: 'walls',
    elsewhere: false,
    strokes: [
      add(
        3,
        [60, 780],
        [60, 420],
        [100, 180],
        [215, 122],
        [300, 134],
        [620, 156],
        [648, 180],
        [640, 280],
        [700, 220],
        [820, 165],
        [850, 170],
        [1080, 188],
        [1110, 183],
        [1150, 230],
        [1210, 165],
        [1420, 110],
        [1530, 80],
        [1570, 200],
      ),
      remove(
        4,
        [129, 18],
        [229, 93],
        [262, 117],
        [620, 140],
        [665, 118],
        [790, 118],
        [850, 152],
        [1090, 168],
      ),
      remove(4, [20, 890], [180, 712]),
    ],
  },
];

/** In the evening the wall has other bright and dark places, and what parts it from crown and window shows less. */
const WALLS_BY_LAMP: readonly Stroke[] = [
  add(
    3,
    [185, 690],
    [60, 800],
    [60, 420],
    [100, 180],
    [200, 130],
    [225, 125],
    [300, 134],
    [620, 156],
    [648, 180],
    [640, 280],
    [700, 220],
    [820, 165],
    [850, 170],
    [1080, 188],
    [1115, 185],
    [1140, 200],
    [1150, 350],
    [1170, 350],
    [1180, 215],
    [1210, 165],
    [1420, 110],
    [1530, 80],
    [1570, 200],
    [1560, 350],
  ),
  remove(
    4,
    [129, 18],
    [229, 93],
    [262, 117],
    [620, 140],
    [665, 118],
    [790, 118],
    [850, 152],
    [1090, 168],
    [1110, 168],
    [1340, 90],
    [1590, 12],
  ),
  remove(4, [1228, 400], [1228, 178], [1490, 118], [1490, 420]),
];

/** Where lamps and window mix every run of fronts has a colour of its own. */
const CABINETS_AT_DUSK: readonly Stroke[] = [
  add(
    8,
    [330, 640],
    [640, 600],
    [960, 610],
    [1005, 600],
    [1040, 500],
    [900, 488],
    [1040, 500],
    [1100, 560],
    [1300, 600],
    [1540, 720],
  ),
  add(
    8,
    [220, 160],
    [340, 170],
    [345, 400],
    [230, 640],
    [230, 400],
    [350, 300],
    [400, 200],
    [610, 200],
    [610, 340],
    [400, 340],
    [348, 400],
    [348, 490],
    [560, 497],
  ),
  add(8, [850, 350], [850, 230], [1080, 240], [1080, 350]),
];

const instead = (strokes: Readonly<Record<string, readonly Stroke[]>>): readonly Marking[] =>
  DAY.map((marking) => ({ ...marking, strokes: strokes[marking.surface] ?? marking.strokes }));

/** By picture. */
export const SESSIONS: Readonly<Record<string, readonly Marking[]>> = {
  'kitchen-day': DAY,
  'kitchen-lamp': instead({ walls: WALLS_BY_LAMP }),
  'kitchen-mixed': instead({ walls: WALLS_BY_LAMP, cabinets: CABINETS_AT_DUSK }),
};
