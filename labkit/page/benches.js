// Benches of which another page may know more: what was done there is asked for and shown here too.

export class Benches {
  /**
   * @param {Map<string, import("./exercise_model.js").ExerciseModel>} models
   * @param {(exercise: string) => Promise<any>} shownOf
   */
  constructor(models, shownOf) {
    this.models = models;
    this.shownOf = shownOf;
    /** @type {Map<string, number>} */
    this.told = new Map(); // so many steps there are
    /** @type {Map<string, number>} */
    this.seen = new Map(); // so many of them stand on this page, once the bench does
    /** @type {Set<string>} */
    this.asking = new Set();
  }

  /** @param {string} exercise */
  known(exercise) {
    return this.told.get(exercise) ?? 0;
  }

  /** @param {string} exercise @param {number} steps */
  isShown(exercise, steps) {
    this.seen.set(exercise, steps);
    this.hears(exercise, steps, false);
  }

  /** @param {string} exercise @param {number} steps @param {boolean} own - a step of this page's own */
  hears(exercise, steps, own) {
    this.told.set(exercise, Math.max(steps, this.known(exercise)));
    const seen = this.seen.get(exercise);
    if (seen === undefined) return;
    if (own && steps === seen + 1) this.seen.set(exercise, steps);
    if (this.known(exercise) > (this.seen.get(exercise) ?? 0)) this.catchUp(exercise);
  }

  // One question at a time; while steps go on, what comes back may be behind already.
  /** @param {string} exercise */
  async catchUp(exercise) {
    if (this.asking.has(exercise)) return;
    this.asking.add(exercise);
    try {
      let shown = await this.shownOf(exercise);
      while (shown.steps < this.known(exercise)) shown = await this.shownOf(exercise);
      this.seen.set(exercise, shown.steps);
      this.models.get(exercise)?.tell("msg:custom", { stands: { ...shown.view, hands: shown.hands } });
    } catch {
      // The host is away: when it is back it tells how many there are.
    } finally {
      this.asking.delete(exercise);
    }
  }
}
