/** How often something may be tried: allowances that fill up again with time, kept in memory and bounded. */
import { Refusal } from './refusal.ts';

/** A refusal for now: the same may be tried again after `seconds`. */
export class Wait extends Refusal {
  readonly seconds: number;

  constructor(seconds: number, sentence: string) {
    super(429, sentence);
    this.seconds = Math.max(1, Math.ceil(seconds));
  }
}

/** `most` tries at once for each key, one more every `every` ms; at most `keys` keys, the longest unused is let go. */
export class Allowance {
  readonly #left = new Map<string, { tries: number; at: number }>();
  readonly #most: number;
  readonly #every: number;
  readonly #keys: number;

  constructor({ most, every, keys = 10_000 }: { most: number; every: number; keys?: number }) {
    this.#most = most;
    this.#every = every;
    this.#keys = keys;
  }

  /** How many keys are remembered. */
  get size(): number {
    return this.#left.size;
  }

  /** Takes one try of a key at a time (epoch ms). Gives 0, or the ms until there is one to take. */
  take(key: string, now: number): number {
    const known = this.#left.get(key) ?? { tries: this.#most, at: now };
    // A clock that was set back gives nothing and takes nothing.
    const passed = Math.max(0, now - known.at);
    const tries = Math.min(this.#most, known.tries + passed / this.#every);
    const granted = tries >= 1;
    this.#left.delete(key);
    this.#left.set(key, { tries: granted ? tries - 1 : tries, at: now });
    if (this.#left.size > this.#keys) this.#left.delete(this.#left.keys().next().value!);
    return granted ? 0 : (1 - tries) * this.#every;
  }
}

/** What counts as one address: an IPv4 address, or the 64-bit network of an IPv6 one, which a single caller has whole. */
export function addressKey(address: string): string {
  const plain = address.toLowerCase().replace(/^::ffff:(?=\d+\.)/, '');
  if (!plain.includes(':')) return plain;
  const [head, tail] = plain.split('::');
  const groups = head ? head.split(':') : [];
  const missing = 8 - groups.length - (tail ? tail.split(':').length : 0);
  const whole = tail === undefined ? groups : [...groups, ...Array(Math.max(0, missing)).fill('0')];
  if (tail) whole.push(...tail.split(':'));
  return whole.slice(0, 4).join(':');
}
