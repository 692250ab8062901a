import {
  PAIRING_CURVE,
  figureWords,
  type FinishSteadiness,
  type LightMovement,
  type LightReport,
  type PairChange,
  type PairReport,
} from '#lib/finish/index.ts';

/** One of the questions that a report on a room's lights answers first. */
export interface LightAnswer {
  question: string;
  sentences: string[];
}

/** Sentences to an answer, at most. */
const MOST_SAID = 3;

/** A paler colour than this, C* by day, has too little colour to speak of losing it. Common practice, no published source. */
const HUELESS_CHROMA = 6;

/** Part of its chroma that a colour keeps, above which it is not said to lose any. Common practice, no published source. */
const KEPT = 0.97;

/**
 * What people ask of a room's lights, answered from a report: what turns grey, which pair stops matching, what else turns.
 * `greying` says what greys in the room as it is lit, before the eye has settled; the report judges once it has.
 */
export function lightAnswers({ finishes, pairs }: LightReport, greying: readonly string[]): LightAnswer[] {
  const grey = finishes.filter(({ turns }) => turns.some(({ kind }) => kind === 'turns grey'));
  const others = finishes.filter(
    (finish) =>
      !grey.includes(finish) &&
      (finish.turns.length > 0 || finish.verdict === 'turns' || finish.verdict === 'may turn'),
  );
  return [
    {
      question: 'Does a finish turn grey?',
      sentences: grey.length > 0 ? [...told(grey), ...greying] : [...greying, greyestWords(finishes)],
    },
    { question: 'Does a pair stop matching?', sentences: partingWords(pairs) },
    {
      question: 'What else turns?',
      sentences: others.length > 0 ? told(others) : [`Nothing. ${steadiest(finishes, grey)}`],
    },
  ];
}

function told(entries: readonly { sentence: string }[]): string[] {
  const said = entries.slice(0, MOST_SAID).map(({ sentence }) => sentence);
  const left = entries.length - said.length;
  return left > 0 ? [...said, `And ${left} more, below.`] : said;
}

/** What moves most of that which does not turn. */
function steadiest(finishes: readonly FinishSteadiness[], grey: readonly FinishSteadiness[]): string {
  return finishes.find((finish) => !grey.includes(finish))?.sentence ?? '';
}

/** Which colour comes nearest to turning grey between daylight and a lamp, though none may. */
function greyestWords(finishes: readonly FinishSteadiness[]): string {
  let most: { name: string; moved: LightMovement; kept: number } | null = null;
  for (const { name, movements } of finishes) {
    for (const moved of movements) {
      const { from, to } = moved.chroma;
      // Movements between two lights of the room have no daylight to compare with; greys have nothing to lose.
      if (moved.from.id !== movements[0].from.id || from < HUELESS_CHROMA) continue;
      const kept = to.value / from;
      if (kept < (most?.kept ?? KEPT)) most = { name, moved, kept };
    }
  }
  if (!most) return 'Once the eye has settled on a light, none loses colour to speak of.';
  const { from, to } = most.moved.chroma;
  const doubtful = from - to.value < to.giveOrTake ? ', which is within the doubt' : '';
  return (
    `Once the eye has settled on a light, none is likely to be grey. ${most.name} will then lose most colour, ` +
    `under “${most.moved.to.name}”: chroma ${from.toFixed(1)} by day, ${figureWords(to)} there${doubtful}.`
  );
}

/** Whether a pair that matches by day stops doing so, or may. */
export function parts({ verdict }: PairReport): boolean {
  return verdict === 'parts' || verdict === 'may part';
}

function partingWords(pairs: readonly PairReport[]): string[] {
  const parting = pairs.filter(parts);
  if (parting.length > 0) return told(parting);
  if (pairs.length === 0) return ['No two finishes meet in this room yet.'];
  const matching = pairs.filter(({ day }) => day.difference.value < PAIRING_CURVE.matchNone);
  if (matching.length > 0) return [`None does. ${matching[0].sentence}`, ...told(matching.slice(1))];
  const nearest = pairs.reduce((a, b) => (b.day.difference.value < a.day.difference.value ? b : a));
  return [`No two finishes match by day, so that none can stop. Nearest: ${nearest.sentence}`];
}

/** What a light does to a pair, in a few words for a table. */
export const PAIR_CHANGE_WORDS: Record<PairChange, string> = {
  parts: 'stops matching',
  meets: 'comes to match',
  nears: 'comes so near that it looks like a mistake',
  clears: 'becomes a clear step',
  holds: 'holds',
};

/** A chance as people count: `in 92 of 100 tries`. In: 0-1. */
export function chanceWords(chance: number): string {
  if (chance < 0.005) return 'never';
  if (chance > 0.995) return 'always';
  return `in ${Math.round(100 * chance)} of 100`;
}

const signed = (value: number) => {
  const text = Math.abs(value).toFixed(1);
  return text === '0.0' ? text : `${value < 0 ? '−' : '+'}${text}`;
};

/** Parts of a difference in their order, signed: `+0.8, −1.2, 0.0`. */
export function partsWords({ dL, dC, dH }: LightMovement['parts']): string {
  return [dL, dC, dH].map(signed).join(', ');
}

/** What is said of a finish after its name: `will turn grey under “Evening pendants” (…)`. */
export function saidOf({ name, sentence }: FinishSteadiness): string {
  return sentence.startsWith(name) ? sentence.slice(name.length).trim() : sentence;
}
