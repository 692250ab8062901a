import {
  pairingKind,
  passesForMatch,
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

/**
 * What people ask of a room's lights, answered from a report: what turns grey, which pair stops matching, what else turns.
 * `greying` says which candidate of each open surface keeps least colour.
 */
export function lightAnswers({ finishes, pairs }: LightReport, greying: readonly string[]): LightAnswer[] {
  const grey = finishes
    .filter(({ turns }) => turns.some(({ kind }) => kind === 'turns grey'))
    .toSorted((one, other) => keptAtWorst(one) - keptAtWorst(other));
  const others = finishes.filter(
    (finish) =>
      !grey.includes(finish) &&
      (finish.turns.length > 0 || finish.verdict === 'turns' || finish.verdict === 'may turn'),
  );
  const unknown = finishes.filter(({ verdict }) => verdict === 'too little known');
  return [
    {
      question: 'Does a finish turn grey?',
      sentences: [...(grey.length > 0 ? told(grey) : ['None is likely to.']), ...greying],
    },
    { question: 'Does a pair stop matching?', sentences: partingWords(pairs) },
    {
      question: 'What else turns?',
      sentences: [
        ...(others.length > 0 ? told(others) : [`Nothing. ${steadiest(finishes, grey)}`.trim()]),
        ...told(unknown),
      ],
    },
  ];
}

/** Least share of its colour that a finish keeps from daylight to a light; 1 without lights. */
function keptAtWorst({ movements }: FinishSteadiness): number {
  const byDay = movements.filter(({ from }) => from.id === movements[0].from.id);
  return Math.min(1, ...byDay.map(({ chroma }) => chroma.to.value / Math.max(chroma.from, 1e-6)));
}

function told(entries: readonly { sentence: string }[]): string[] {
  const said = entries.slice(0, MOST_SAID).map(({ sentence }) => sentence);
  const left = entries.length - said.length;
  return left > 0 ? [...said, `And ${left} more, below.`] : said;
}

/** What moves most of that which does not turn. */
function steadiest(finishes: readonly FinishSteadiness[], grey: readonly FinishSteadiness[]): string {
  return (
    finishes.find((finish) => !grey.includes(finish) && finish.verdict !== 'too little known')?.sentence ?? ''
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
  const matching = pairs.filter(({ day, whites }) => day.difference.value < passesForMatch(whites));
  if (matching.length > 0) return [`None does. ${matching[0].sentence}`, ...told(matching.slice(1))];
  const nearest = pairs.reduce((a, b) => (b.day.difference.value < a.day.difference.value ? b : a));
  return [`No two finishes match by day, so that none can stop. Nearest: ${nearest.sentence}`];
}

/**
 * How two finishes sit together, by their CIEDE2000, in the words of the pair's sentence; `whites` 0-1 says how far the two
 * are plain whites.
 */
export function togetherWords(deltaE: number, whites = 0): string {
  switch (pairingKind(deltaE, whites)) {
    case 'match':
      return 'match';
    case 'near miss':
      return deltaE < passesForMatch(whites) ? 'nearly match' : 'near miss';
    case 'related':
      return 'clear step';
    case 'separate':
      return 'far apart';
  }
}

/** What a light does to a pair beside daylight, in a few words for a table. */
export const PAIR_CHANGE_WORDS: Record<PairChange, string> = {
  parts: 'stops matching',
  meets: 'comes to match',
  nears: 'comes near enough to look like a mistake',
  clears: 'becomes a clear step',
  holds: 'about as by day',
};

/** A chance as people count: `in 92 of 100`. In: 0-1. */
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
  return sentence.startsWith(name) ? sentence.slice(name.length).replace(/^:?\s+/, '') : sentence;
}
