/** A seeded stream of random numbers, so that everything simulated from it can be made again. */
export class Random {
  #state: number;
  #spare: number | null = null;

  constructor(seed: number) {
    this.#state = (seed ^ 0x9e3779b9) >>> 0;
    for (let i = 0; i < 8; i++) this.uniform();
  }

  /** Uniform in [0, 1). Source: mulberry32, T. Ettinger, public domain, from memory. */
  uniform(): number {
    this.#state = (this.#state + 0x6d2b79f5) >>> 0;
    let t = this.#state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }

  /** Uniform in [low, high). */
  between(low: number, high: number): number {
    return low + (high - low) * this.uniform();
  }

  /** Whole number in [0, count). */
  below(count: number): number {
    return Math.min(Math.floor(this.uniform() * count), count - 1);
  }

  /** Normal, mean 0. Source: Marsaglia's polar method. */
  normal(deviation = 1): number {
    if (this.#spare !== null) {
      const value = this.#spare * deviation;
      this.#spare = null;
      return value;
    }
    for (;;) {
      const x = this.between(-1, 1);
      const y = this.between(-1, 1);
      const s = x * x + y * y;
      if (s > 0 && s < 1) {
        const scale = Math.sqrt((-2 * Math.log(s)) / s);
        this.#spare = y * scale;
        return x * scale * deviation;
      }
    }
  }

  /** One of the list. */
  pick<T>(list: readonly T[]): T {
    return list[this.below(list.length)];
  }

  /** Index drawn with the given chances, which add up to 1. */
  choose(chances: readonly number[]): number {
    let rest = this.uniform();
    for (let i = 0; i < chances.length - 1; i++) {
      rest -= chances[i];
      if (rest < 0) return i;
    }
    return chances.length - 1;
  }
}
