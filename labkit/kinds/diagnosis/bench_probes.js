// The meter's two probes: where they are, and which one is put next.

export const PROBES = { red: "+", black: "−" };
export const COLOURS = Object.keys(PROBES);

export function probePair() {
  const at = { red: null, black: null };
  const moved = new Set(); // since the last reading
  let next = "red";
  let alone = false; // chosen by hand: the other one stays where it is

  return {
    at,
    next: () => next,
    missing: () => COLOURS.find((colour) => !at[colour]),
    choose(colour) {
      next = colour;
      alone = true;
    },
    /** Whether the meter reads then: both were put anew, or the one that was chosen by hand. */
    put(terminal) {
      at[next] = terminal;
      moved.add(next);
      const reads = alone || moved.size === COLOURS.length;
      next = next === "red" ? "black" : "red";
      alone = false;
      return reads;
    },
    isRead: () => moved.clear(),
  };
}
